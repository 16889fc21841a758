package metrics

import (
	"fmt"
	"io"
	"strings"
	"text/template"
)

const referenceText = `# Metrics

Written from the table in the Go package "dashboards/metrics"; a test fails when this page and the table differ.

What is not known is absent. Instants are Unix seconds by the shop clock: compare them with
` + "`" + ShopClock + "`" + `, not with time(). A metric with a label of its own name has one series for
each state, and the one that holds is 1. Counters begin at 0 when the daemon starts. Only open molds are
exported, and the patches and trials that the shop still tells of. Beside these there are pourward_build_info
and the usual metrics of the Go runtime (go_...), of the process (process_...) and of the scrapes (promhttp_...).

| name | type | labels | unit | what it tells |
|---|---|---|---|---|
{{ range . }}| ` + "`{{ .Name }}`" + ` | {{ .Type }} | {{ labels .Labels }} | {{ .Unit }} | {{ .Help }} |
{{ end }}`

// WriteReference writes METRICS.md: every metric of [Table], for people.
func WriteReference(w io.Writer) error {
	t, err := template.New("reference").Funcs(template.FuncMap{
		"labels": func(names []string) string { return strings.Join(names, ", ") },
	}).Parse(referenceText)
	if err != nil {
		return fmt.Errorf("reading the form of the metrics reference: %w", err)
	}
	if err := t.Execute(w, Table()); err != nil {
		return fmt.Errorf("writing the metrics reference: %w", err)
	}
	return nil
}
