package metrics_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/model"
)

// An alert has a condition in Go and an expression in PromQL. Here both run over the same drawn days, one
// snapshot a minute: what the daemon's evaluator says must be what Prometheus says, minute by minute,
// down to the words. The judge is Prometheus itself, through promtool's rule tests.

const (
	drawnDays   = 16
	dayMinutes  = 80
	rulesToTest = "../../alerts/pourward.rules.yml"
)

func TestDaemonAndPrometheusAgree(t *testing.T) {
	rules, err := filepath.Abs(rulesToTest)
	require.NoError(t, err)
	file := ruleTests{RuleFiles: []string{rules}, Every: "1m"}
	fired := map[string]int{}
	for seed := range uint64(drawnDays) {
		file.Tests = append(file.Tests, testOf(t, drawDay(seed), fired))
	}
	for _, d := range alerts.Table() {
		if !d.RuleOnly() {
			require.GreaterOrEqual(t, fired[d.Name], drawnDays/2, "the drawn days must make %s fire, else they prove little of it", d.Name)
		}
	}
	text, err := json.Marshal(file) // JSON is YAML
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "days.test.yml")
	require.NoError(t, os.WriteFile(path, text, 0o600))
	promtool(t, nil, "test", "rules", path)
}

// The forms of promtool's rule tests.
type (
	ruleTests struct {
		RuleFiles []string   `json:"rule_files"`
		Every     string     `json:"evaluation_interval"`
		Tests     []ruleTest `json:"tests"`
	}
	ruleTest struct {
		Every  string        `json:"interval"`
		Series []inputSeries `json:"input_series"`
		Alerts []alertTest   `json:"alert_rule_test"`
	}
	inputSeries struct {
		Series string `json:"series"`
		Values string `json:"values"`
	}
	alertTest struct {
		At   string     `json:"eval_time"`
		Name string     `json:"alertname"`
		Want []expAlert `json:"exp_alerts"`
	}
	expAlert struct {
		Labels      map[string]string `json:"exp_labels"`
		Annotations map[string]string `json:"exp_annotations"`
	}
)

// testOf turns a day into what Prometheus scrapes and what the daemon says of it.
func testOf(t *testing.T, day []*model.Snapshot, fired map[string]int) ruleTest {
	e, err := alerts.NewEvaluator(alerts.Table(), time.UTC)
	require.NoError(t, err)
	out := ruleTest{Every: "1m"}
	seen := scrapes{}
	for minute, s := range day {
		seen.add(t, minute, s)
		for _, c := range e.Step(s) {
			if !c.Ended {
				fired[c.Alert.Name]++
			}
		}
		out.Alerts = append(out.Alerts, expected(minute, e.Active())...)
	}
	out.Series = seen.series(len(day))
	return out
}

// expected says for every alert, those that do not fire too, what the daemon says at a minute.
func expected(minute int, active []alerts.Alert) []alertTest {
	var out []alertTest
	for _, d := range alerts.Table() {
		want := alertTest{At: fmt.Sprintf("%dm", minute), Name: d.Name, Want: []expAlert{}}
		for _, a := range active {
			if a.Name == d.Name {
				want.Want = append(want.Want, expAlert{
					Labels:      labelled(a),
					Annotations: map[string]string{"summary": a.Summary, "description": a.Description, "what_to_do": a.WhatToDo},
				})
			}
		}
		out = append(out, want)
	}
	return out
}

func labelled(a alerts.Alert) map[string]string {
	out := map[string]string{"instance": "annex", "job": alerts.JobName, "severity": string(a.Severity)}
	maps.Copy(out, a.Labels)
	return out
}

// scrapes collects what a scrape a minute would bring: by series, the value at each minute.
type scrapes map[string]map[int]string

func (s scrapes) add(t *testing.T, minute int, snap *model.Snapshot) {
	t.Helper()
	s.put(`up{instance="annex",job="pourward"}`, minute, 1)
	for _, f := range families(t, snap) {
		for _, m := range f.GetMetric() {
			labels := []string{`instance="annex"`, `job="pourward"`}
			for _, l := range m.GetLabel() {
				labels = append(labels, fmt.Sprintf("%s=%q", l.GetName(), l.GetValue()))
			}
			value := m.GetGauge().GetValue() + m.GetCounter().GetValue()
			s.put(f.GetName()+"{"+strings.Join(labels, ",")+"}", minute, value)
		}
	}
}

func (s scrapes) put(series string, minute int, value float64) {
	if s[series] == nil {
		s[series] = map[int]string{}
	}
	s[series][minute] = strconv.FormatFloat(value, 'f', -1, 64)
}

// series writes all in promtool's notation: where a series goes missing, Prometheus marks it stale.
func (s scrapes) series(minutes int) []inputSeries {
	var out []inputSeries
	for _, name := range slices.Sorted(maps.Keys(s)) {
		values := make([]string, minutes)
		for i := range values {
			switch value, ok := s[name][i]; {
			case ok:
				values[i] = value
			case i > 0 && s[name][i-1] != "":
				values[i] = "stale"
			default:
				values[i] = "_"
			}
		}
		out = append(out, inputSeries{name, strings.Join(values, " ")})
	}
	return out
}
