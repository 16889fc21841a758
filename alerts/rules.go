package alerts

import (
	"fmt"
	"io"
	"strings"
	"text/template"
	"time"
)

const rulesHeader = `# Pourward's alerts as Prometheus rules (2.42 or later). Written from the table in the Go package
# "alerts", which holds the reasons; a test fails when this file and the table differ. ALERTS.md tells
# what each alert means and what to do.
#
# The job that scrapes the daemon must be called "` + JobName + `".
#
# Every expression ends with the same lines: while a scrape brings no outlook, because the daemon is down
# or restarts, what was firing keeps firing. Otherwise a daemon that dies would read as "all is well". What
# waits to fire goes on waiting for ten minutes, so that one missed scrape does not start the wait anew.
# Instants are compared with the shop clock that the daemon exports, not with time().
groups:
  - name: pourward
    rules:
`

const ruleText = `      # {{ .Meaning }}
      - alert: {{ .Name }}
        expr: |-
{{ indent 10 .Expr }}
{{- if .For }}
        for: {{ promDuration .For }}
{{- end }}
{{- if .KeepFiring }}
        keep_firing_for: {{ promDuration .KeepFiring }}
{{- end }}
        labels:
          severity: {{ .Severity }}
        annotations:
          summary: |-
{{ indent 12 .Summary }}
          description: |-
{{ indent 12 .Description }}
          what_to_do: |-
{{ indent 12 .WhatToDo }}
`

// WriteRules writes the Prometheus rule file of [Table].
func WriteRules(w io.Writer) error {
	t, err := template.New("rule").Funcs(template.FuncMap{
		"indent":       indent,
		"promDuration": promDuration,
	}).Parse(ruleText)
	if err != nil {
		return fmt.Errorf("reading the form of a rule: %w", err)
	}
	if _, err := io.WriteString(w, rulesHeader); err != nil {
		return fmt.Errorf("writing alert rules: %w", err)
	}
	for _, d := range Table() {
		if err := t.Execute(w, d); err != nil {
			return fmt.Errorf("writing alert rule %s: %w", d.Name, err)
		}
	}
	return nil
}

// promDuration writes d in the form of rule files, in whole seconds.
func promDuration(d time.Duration) string {
	switch {
	case d%time.Hour == 0:
		return fmt.Sprintf("%dh", d/time.Hour)
	case d%time.Minute == 0:
		return fmt.Sprintf("%dm", d/time.Minute)
	}
	return fmt.Sprintf("%ds", d/time.Second)
}

func indent(by int, s string) string {
	pad := strings.Repeat(" ", by)
	return pad + strings.ReplaceAll(s, "\n", "\n"+pad)
}
