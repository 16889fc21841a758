package alerts

import (
	"fmt"
	"math"
	"strings"
	"text/template"
	"time"
)

// Descriptions are written once, in the language of Prometheus annotations, and read here by the same
// template package with the few functions they use. Beware of a NaN in it: "gt" and "ge" are true for
// one, "lt" and "le" are not, so descriptions ask "is 0 less than the value".

// instant stands for Prometheus's instant in a template: Local gives the time on the wall.
type instant struct {
	at   time.Time
	zone *time.Location
}

// Local returns the instant in the zone of the shop.
func (i instant) Local() time.Time { return i.at.In(i.zone) }

// describer reads the description of an alert; it fails when the template is not understood.
func describer(d Definition, zone *time.Location) (*template.Template, error) {
	toTime := func(unixSeconds float64) instant {
		return instant{time.UnixMilli(int64(math.Round(unixSeconds * 1000))), zone}
	}
	const names = `{{ $labels := .Labels }}{{ $value := .Value }}`
	t, err := template.New(d.Name).Option("missingkey=zero").
		Funcs(template.FuncMap{"toTime": toTime}).Parse(names + d.Description)
	if err != nil {
		return nil, fmt.Errorf("reading the description of alert %s: %w", d.Name, err)
	}
	return t, nil
}

// describe tells an instance in words. Where the template fails on it, the words say so.
func describe(t *template.Template, in Instance) string {
	var b strings.Builder
	if err := t.Execute(&b, in); err != nil {
		return fmt.Sprintf("%s (no description: %v)", t.Name(), err)
	}
	return b.String()
}
