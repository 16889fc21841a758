package alerts_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/alerts"
	"pourward/model"
)

// hold is one row of testdata/holds.csv: minute by minute, whether a condition shows and an alert fires.
type hold struct {
	name         string
	forMin, keep int
	shown, fires string
}

func holds(t *testing.T) []hold {
	t.Helper()
	f, err := os.Open("testdata/holds.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []hold
	for _, r := range rows[1:] {
		forMin, err := strconv.Atoi(r[1])
		require.NoError(t, err)
		keep, err := strconv.Atoi(r[2])
		require.NoError(t, err)
		require.Len(t, r[4], len(r[3]), r[0])
		out = append(out, hold{r[0], forMin, keep, r[3], r[4]})
	}
	return out
}

// evaluator follows one alert whose condition is that the shop has an open mold.
func evaluator(forMin, keep int) (*alerts.Evaluator, error) {
	return alerts.NewEvaluator([]alerts.Definition{{
		Name:       "Shown",
		For:        time.Duration(forMin) * time.Minute,
		KeepFiring: time.Duration(keep) * time.Minute,
		Condition: func(s *model.Snapshot) []alerts.Instance {
			return make([]alerts.Instance, len(s.Outlook.Molds))
		},
	}}, time.UTC)
}

// follow returns, minute by minute, whether the alert fires.
func follow(e *alerts.Evaluator, shown string) string {
	var fires strings.Builder
	for i, c := range shown {
		s := quietShop(after(time.Duration(i) * time.Minute))
		if c == '0' {
			s.Outlook.Molds = nil
		}
		e.Step(s)
		fmt.Fprint(&fires, len(e.Active()))
	}
	return fires.String()
}

func TestEvaluatorHoldsAndLingers(t *testing.T) {
	for _, row := range holds(t) {
		t.Run(row.name, func(t *testing.T) {
			e, err := evaluator(row.forMin, row.keep)
			require.NoError(t, err)
			require.Equal(t, row.fires, follow(e, row.shown))
		})
	}
}

// The same rows, run by Prometheus itself: the table is not the daemon's opinion of itself.
func TestPrometheusHoldsAndLingersAlike(t *testing.T) {
	dir := t.TempDir()
	var rules, tests []any
	for i, row := range holds(t) {
		name, series := fmt.Sprintf("Row%d", i), fmt.Sprintf("shown%d", i)
		rules = append(rules, map[string]any{
			"alert": name, "expr": series + " == 1",
			"for": fmt.Sprintf("%dm", row.forMin), "keep_firing_for": fmt.Sprintf("%dm", row.keep),
		})
		var expected []any
		for minute, c := range row.fires {
			want := []any{}
			if c == '1' {
				want = append(want, map[string]any{"exp_labels": map[string]string{}})
			}
			expected = append(expected, map[string]any{"eval_time": fmt.Sprintf("%dm", minute), "alertname": name, "exp_alerts": want})
		}
		values := strings.Join(strings.Split(row.shown, ""), " ")
		tests = append(tests, map[string]any{
			"interval": "1m", "input_series": []any{map[string]string{"series": series, "values": values}}, "alert_rule_test": expected,
		})
	}
	writeJSON(t, filepath.Join(dir, "rules.yml"), map[string]any{"groups": []any{map[string]any{"name": "rows", "rules": rules}}})
	writeJSON(t, filepath.Join(dir, "test.yml"), map[string]any{"rule_files": []string{"rules.yml"}, "evaluation_interval": "1m", "tests": tests})
	promtool(t, "test", "rules", filepath.Join(dir, "test.yml"))
}

// writeJSON writes v where YAML is read, which JSON is.
func writeJSON(t *testing.T, path string, v any) {
	t.Helper()
	text, err := json.Marshal(v)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, text, 0o600))
}

func TestChangesTellWhatActiveHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e, err := evaluator(rapid.IntRange(0, 4).Draw(t, "for"), rapid.IntRange(0, 4).Draw(t, "keep"))
		require.NoError(t, err)
		firing := false
		for i, shown := range rapid.SliceOfN(rapid.Bool(), 1, 40).Draw(t, "shown") {
			s := quietShop(after(time.Duration(i) * time.Minute))
			if !shown {
				s.Outlook.Molds = nil
			}
			for _, c := range e.Step(s) {
				require.Equal(t, firing, c.Ended, "an alert ends after it began, and begins after it ended")
				require.Equal(t, s.Outlook.At, c.At)
				firing = !firing
			}
			require.Equal(t, firing, len(e.Active()) == 1)
		}
	})
}

func TestSnapshotWithoutOutlookEndsNothing(t *testing.T) {
	e, err := alerts.NewEvaluator(alerts.Table(), time.UTC)
	require.NoError(t, err)
	require.Len(t, e.Step(with(quietShop(begin), model.CoatDry, model.Ready)), 1)
	require.Empty(t, e.Step(nil))
	require.Empty(t, e.Step(&model.Snapshot{}))
	require.Len(t, e.Active(), 1)
}

func TestDescriptionThatCannotBeReadIsRefused(t *testing.T) {
	_, err := alerts.NewEvaluator([]alerts.Definition{{Name: "Bad", Description: "{{ nonsense", Condition: noInstances}}, time.UTC)
	require.ErrorContains(t, err, "reading the description of alert Bad")
}

func noInstances(*model.Snapshot) []alerts.Instance { return nil }

// A curing mold, told anew every ten seconds: what is remembered reaches back over thousands of snapshots.
func BenchmarkStep(b *testing.B) {
	e, err := alerts.NewEvaluator(alerts.Table(), time.UTC)
	require.NoError(b, err)
	s := with(with(quietShop(begin), model.CoatDry, model.Ready), model.DemoldTime, model.Running)
	b.ReportAllocs()
	for b.Loop() {
		s.Outlook.At = s.Outlook.At.Add(10 * time.Second)
		e.Step(s)
	}
}

// A daemon that starts again goes on with what fired: it waits no second time, keeps the time since when it
// stands, and what is gone ends at once, or lingers as ever.
func TestAlertsOfTheFormerRunGoOn(t *testing.T) {
	clockOff := func(s *model.Snapshot) { s.Health.ClockTrusted = false }
	before := follower(t)
	fires := minutes(before, 0, 15, clockOff)
	require.Equal(t, []string{"PourwardClockUntrusted"}, names(fires))

	again := follower(t)
	again.Resume(append(fires, alerts.Alert{Name: "PourwardOfAFormerVersion"}))
	require.Equal(t, fires, again.Active(), "before anything is known")
	require.Equal(t, fires, minutes(again, 20, 21, clockOff), "without another wait")
	require.Empty(t, minutes(again, 21, 22, func(*model.Snapshot) {}))

	again = follower(t)
	again.Resume(fires)
	s := quietShop(after(time.Hour))
	changes := again.Step(s)
	require.Equal(t, []alerts.Change{{Alert: fires[0], Ended: true, At: after(time.Hour)}}, changes)
}

func TestEndsThatAreNoNews(t *testing.T) {
	for _, d := range alerts.Table() {
		require.Equal(t, d.Name == "PourwardDemoldSlipping", d.Passing, d.Name)
	}
	e := follower(t)
	e.Step(with(with(quietShop(begin), model.DemoldTime, model.Ready), model.WorkingLife, model.Ending))
	passing := map[string]bool{}
	for _, a := range e.Active() {
		passing[a.Name] = a.Passing
	}
	require.Equal(t, map[string]bool{"PourwardDemoldReady": true, "PourwardWorkingLifeEnding": false}, passing)
}
