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
	"pourward/dashboards/metrics"
	"pourward/model"
)

// An alert has a condition in Go and an expression in PromQL. Here both run over the same drawn days, one
// snapshot a step: what the daemon's evaluator says must be what Prometheus says, step by step, down to the
// words. The judge is Prometheus itself, through promtool's rule tests.

const rulesToTest = "../../alerts/pourward.rules.yml"

// Days by the minute meet every wait. What a condition remembers reaches back for hours: days of longer steps
// see it forget. Their step is short enough for Prometheus to find its own alerts of the step before, within
// five minutes, and no part of any span: whether both ends of one belong to it differs between versions.
func TestDaemonAndPrometheusAgree(t *testing.T) {
	rules, err := filepath.Abs(rulesToTest)
	require.NoError(t, err)
	fired, days := map[string]int{}, 0
	for _, kind := range []struct {
		every        time.Duration
		steps, drawn int
	}{{time.Minute, 80, 16}, {250 * time.Second, 170, 4}} {
		every := kind.every.String()
		file := ruleTests{RuleFiles: []string{rules}, Every: every}
		for range kind.drawn {
			file.Tests = append(file.Tests, testOf(t, drawDay(uint64(days), kind.every, kind.steps), kind.every, fired))
			days++
		}
		text, err := json.Marshal(file) // JSON is YAML
		require.NoError(t, err)
		path := filepath.Join(t.TempDir(), "days.test.yml")
		require.NoError(t, os.WriteFile(path, text, 0o600))
		promtool(t, nil, "test", "rules", path)
	}
	for _, d := range alerts.Table() {
		if !d.RuleOnly() {
			require.GreaterOrEqual(t, fired[d.Name], days/2, "the drawn days must make %s fire, else they prove little of it", d.Name)
		}
	}
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
func testOf(t *testing.T, day []*model.Snapshot, every time.Duration, fired map[string]int) ruleTest {
	e, err := alerts.NewEvaluator(alerts.Table(), time.UTC)
	require.NoError(t, err)
	out := ruleTest{Every: every.String()}
	seen, wanted := scrapes{}, asked()
	for step, s := range day {
		seen.add(t, step, s, wanted)
		for _, c := range e.Step(s) {
			if !c.Ended {
				fired[c.Alert.Name]++
			}
		}
		out.Alerts = append(out.Alerts, expected(time.Duration(step)*every, e.Active())...)
	}
	out.Series = seen.series(len(day))
	return out
}

// expected says for every alert, those that do not fire too, what the daemon says at a time.
func expected(at time.Duration, active []alerts.Alert) []alertTest {
	var out []alertTest
	for _, d := range alerts.Table() {
		want := alertTest{At: at.String(), Name: d.Name, Want: []expAlert{}}
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

// scrapes collects what a scrape a step would bring of the metrics wanted: by series, the value at each step.
type scrapes map[string]map[int]string

func (s scrapes) add(t *testing.T, step int, snap *model.Snapshot, wanted map[string]bool) {
	t.Helper()
	s.put(`up{instance="annex",job="pourward"}`, step, 1)
	s.put(metrics.ShopClock+`{instance="annex",job="pourward"}`, step, float64(snap.Outlook.At.UnixMilli())/1000)
	told, err := metrics.Gather(snap) // as scrapes bring them, which other tests hold; there are thousands here
	require.NoError(t, err)
	for _, f := range told {
		if !wanted[f.GetName()] {
			continue
		}
		for _, m := range f.GetMetric() {
			labels := []string{`instance="annex"`, `job="pourward"`}
			for _, l := range m.GetLabel() {
				labels = append(labels, fmt.Sprintf("%s=%q", l.GetName(), l.GetValue()))
			}
			value := m.GetGauge().GetValue() + m.GetCounter().GetValue()
			s.put(f.GetName()+"{"+strings.Join(labels, ",")+"}", step, value)
		}
	}
}

// asked are the metrics that the alerts ask for.
func asked() map[string]bool {
	names := map[string]bool{}
	for _, d := range alerts.Table() {
		for _, name := range metricName.FindAllString(d.Expr, -1) {
			names[name] = true
		}
	}
	return names
}

func (s scrapes) put(series string, step int, value float64) {
	if s[series] == nil {
		s[series] = map[int]string{}
	}
	s[series][step] = strconv.FormatFloat(value, 'f', -1, 64)
}

// series writes all in promtool's notation: where a series goes missing, Prometheus marks it stale.
func (s scrapes) series(steps int) []inputSeries {
	var out []inputSeries
	for _, name := range slices.Sorted(maps.Keys(s)) {
		values := make([]string, steps)
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
