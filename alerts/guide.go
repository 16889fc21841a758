package alerts

import (
	"fmt"
	"io"
	"strings"
	"text/template"
	"time"
)

const guideText = `# Alerts

Written from the table in the Go package "alerts"; a test fails when this page and the table differ.
The rule file is pourward.rules.yml; prometheus.example.yml and alertmanager.example.yml show how to use it.

The daemon itself tells what fires to the Alertmanagers, people and webhooks that its file names
(pourward check-config -example). Each hears of an alert once when it begins and once when it ends; of one of
severity info, and of [PourwardDemoldSlipping](#pourwarddemoldslipping), only when it begins: that it ends is no
news. An Alertmanager is told again every minute, and keeps an alert for half an hour when it hears no more, since
a daemon that dies is no good news. In quiet hours only critical alerts are told by mail and webhook; what was held
back comes as one message when they end, without what has ended by then. What cannot be told is kept and tried
again at least every minute, see [PourwardUnheard](#pourwardunheard). Tell an Alertmanager either by the daemon or by
Prometheus, not by both: their labels differ. Alerts that only Prometheus can see need Prometheus.

**critical**: material or the record is being lost, come now. **warning**: will do harm if left, look today.
**info**: the next step may begin.

An alert fires when its condition has held for the time given as *hold*, by the shop clock in the daemon
and by Prometheus's clock in Prometheus. It ends when the condition is gone, and where *lingers* gives a
time, when it has been gone for so long. While the daemon is not heard, alerts that fire keep firing.

| alert | severity | what it tells |
|---|---|---|
{{ range . }}| [{{ .Name }}](#{{ .Anchor }}) | {{ .Severity }} | {{ .Meaning }} |
{{ end }}
{{- range . }}
## {{ .Name }}

{{ .Meaning }}

- Severity: {{ .Severity }}
- Condition: {{ .When }}
- Hold: {{ or (duration .For) "none, fires at once" }}
{{- if .KeepFiring }}
- Lingers: {{ duration .KeepFiring }}
{{- end }}
- Labels: {{ labels .Labels }}

**What to do.** {{ .WhatToDo }}
{{ end }}`

// WriteGuide writes ALERTS.md: what each alert of [Table] means and what to do, for people.
func WriteGuide(w io.Writer) error {
	t, err := template.New("guide").Funcs(template.FuncMap{
		"labels": func(names []string) string {
			if len(names) == 0 {
				return "none of its own"
			}
			return "`" + strings.Join(names, "`, `") + "`"
		},
		"duration": wordsFor,
	}).Parse(guideText)
	if err != nil {
		return fmt.Errorf("reading the form of the alert guide: %w", err)
	}
	if err := t.Execute(w, Table()); err != nil {
		return fmt.Errorf("writing the alert guide: %w", err)
	}
	return nil
}

// wordsFor tells a duration of whole minutes; nothing for zero.
func wordsFor(d time.Duration) string {
	switch {
	case d == 0:
		return ""
	case d == time.Hour:
		return "1 hour"
	}
	return fmt.Sprintf("%d minutes", d/time.Minute)
}
