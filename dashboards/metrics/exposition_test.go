package metrics_test

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	names "github.com/prometheus/common/model"
	"github.com/stretchr/testify/require"

	"pourward/dashboards/metrics"
	"pourward/model"
)

var update = flag.Bool("update", false, "write the generated files instead of comparing with them")

// scraped is what a scrape of s brings of the shop when the outlook is some time old, as the shop's own registry
// would have it: it refuses what a Prometheus would.
func scraped(t *testing.T, s *model.Snapshot, age time.Duration) prometheus.Gatherer {
	t.Helper()
	h, err := metrics.Handler(func() *model.Snapshot { return s }, func() time.Time { return s.Outlook.At.Add(age) }, silent)
	require.NoError(t, err)
	parser := expfmt.NewTextParser(names.UTF8Validation)
	byName, err := parser.TextToMetricFamilies(scrape(t, h, "text/plain").Body)
	require.NoError(t, err)
	maps.DeleteFunc(byName, func(name string, _ *dto.MetricFamily) bool {
		return !strings.HasPrefix(name, "pourward_") || name == "pourward_build_info"
	})
	return prometheus.Gatherers{prometheus.GathererFunc(func() ([]*dto.MetricFamily, error) {
		return slices.Collect(maps.Values(byName)), nil
	})}
}

// families is what a scrape of s brings at the instant of its outlook.
func families(t *testing.T, s *model.Snapshot) []*dto.MetricFamily {
	t.Helper()
	got, err := scraped(t, s, 0).Gather()
	require.NoError(t, err)
	return got
}

func series(fams []*dto.MetricFamily) int {
	n := 0
	for _, f := range fams {
		n += len(f.GetMetric())
	}
	return n
}

// The file was compared by eye with the snapshot, line by line.
func TestExpositionOfTheAnnex(t *testing.T) {
	const file = "testdata/metrics.prom"
	got := exposition(t, annex())
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), got, "if it is meant to change: go test ./dashboards/metrics -update, and read the difference")
}

func TestReferenceFollowsTheTable(t *testing.T) {
	const file = "METRICS.md"
	var want bytes.Buffer
	require.NoError(t, metrics.WriteReference(&want))
	if *update {
		require.NoError(t, os.WriteFile(file, want.Bytes(), 0o644))
	}
	got, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, want.String(), string(got), "run: go test ./dashboards/metrics -run Reference -update")
}

func TestDemoldedMoldVanishes(t *testing.T) {
	s := annex()
	require.Contains(t, exposition(t, s), `mold="cornice"`)
	require.NotContains(t, exposition(t, s), `mold="egg-dart"`)
	s.Outlook.Molds[1].Demolded = s.Outlook.At
	require.NotContains(t, exposition(t, s), `mold="cornice"`)
}

// A dead probe shows no last value, but goes on showing that it is dead.
func TestUnknownPlaceShowsNoTemperature(t *testing.T) {
	got := exposition(t, annex())
	require.NotContains(t, got, `pourward_place_temperature_celsius{place="shelf"}`)
	require.NotContains(t, got, `pourward_probe_temperature_celsius{probe="shelf-air"}`)
	require.Contains(t, got, `pourward_place_known{place="shelf"} 0`)
	require.Contains(t, got, `pourward_probe_last_success_timestamp_seconds{probe="spare"} 0`)
}

func TestShopClockGoesOnWhileTheOutlookAges(t *testing.T) {
	want := strings.NewReader(`
# HELP pourward_outlook_timestamp_seconds Instant, by the shop clock, of which everything here tells. Its distance from the shop clock is the age of the outlook.
# TYPE pourward_outlook_timestamp_seconds gauge
pourward_outlook_timestamp_seconds 1768491000
# HELP pourward_shop_clock_timestamp_seconds Time of the shop clock, with which every instant here is to be compared: it runs fast in the demo, and a board's own clock may be wrong.
# TYPE pourward_shop_clock_timestamp_seconds gauge
pourward_shop_clock_timestamp_seconds 1768491090.5
`)
	require.NoError(t, testutil.GatherAndCompare(scraped(t, annex(), 90*time.Second+500*time.Millisecond), want, metrics.Outlook, metrics.ShopClock))
}

// Names that come from a file or a form must not break the scrape.
func TestBrokenTextIsExportedMended(t *testing.T) {
	s := annex()
	s.Outlook.Molds[1].Title = "Corn\xffice\n"
	require.Contains(t, exposition(t, s), `title="Corn�ice\n"`)
}

func TestValuesThatAreNoNumbersAreAbsent(t *testing.T) {
	s := annex()
	s.Outlook.Places[0].DewPointC = math.Inf(-1)
	require.NotContains(t, exposition(t, s), `pourward_place_dew_point_celsius{place="bench"}`)
}

// exposition is what a scrape of s brings, in the text format.
func exposition(t *testing.T, s *model.Snapshot) string {
	t.Helper()
	var b strings.Builder
	e := expfmt.NewEncoder(&b, expfmt.NewFormat(expfmt.TypeTextPlain))
	for _, f := range families(t, s) {
		require.NoError(t, e.Encode(f))
	}
	return b.String()
}

// The bound that the package's words give: 20 + 26 P + 18 S + 16 M + (9 + R) U + 20 N + 6 T + 9 Q.
func TestSeriesStayWithinTheBound(t *testing.T) {
	bound := func(s *model.Snapshot) int {
		n := 11 + len(model.RecordStates()) + 26*len(s.Outlook.Places) + 18*len(s.Outlook.Probes) + len(s.Health.Refused) + 6*len(s.Health.Delivery)
		for _, m := range s.Outlook.Molds {
			switch {
			case m.Open() && m.Poured:
				n += 16 + 20*len(m.Steps)
			case m.Open():
				n += 9 + len(model.ReasonCodes()) + 20*len(m.Steps)
			}
		}
		shown := map[string]bool{}
		for _, p := range s.Outlook.Patches {
			if p.Open() {
				shown[p.Name] = true
			}
		}
		for _, trial := range s.Outlook.Trials {
			shown[trial.Patches[0]] = true
		}
		return n + 6*len(s.Outlook.Trials) + 9*len(shown)
	}
	require.Less(t, series(families(t, annex())), bound(annex()))
	for _, poured := range []bool{false, true} {
		full := everything(poured)
		require.Equal(t, bound(full), series(families(t, full)), "a snapshot in which everything is known reaches the bound")
	}
}

// everything is a snapshot in which every metric of molds that are poured, or not, has a value.
func everything(poured bool) *model.Snapshot {
	s := annex()
	for i := range s.Outlook.Places {
		p := &s.Outlook.Places[i]
		p.Known, p.TempC, p.Humidity, p.DewPointC = true, 20, 0.5, 9.3
		p.OffProbe, p.OffK, p.Ahead, p.Skill = "spare", -2, coldNight(), judged()
		if i > 0 { // every place has a second probe
			s.Outlook.Probes = append(s.Outlook.Probes, model.ProbeOutlook{Name: p.Name + "-second", Place: p.Name})
			s.Health.Probes = append(s.Health.Probes, model.ProbeHealth{Name: p.Name + "-second"})
		}
	}
	for i := range s.Outlook.Probes {
		p := &s.Outlook.Probes[i]
		p.Silent, p.TempC, p.Humidity = false, 20, 0.5
	}
	for i := range s.Health.Delivery {
		s.Health.Delivery[i].Oldest = time.Minute
	}
	for i := range s.Outlook.Molds {
		m := &s.Outlook.Molds[i]
		m.Pour.From, m.Pour.Warmer = at(17, 0), &model.Warmer{TempC: 22, From: at(16, 0)}
		m.Poured, m.Doubt, m.Marks = poured, cornice().Doubt, cornice().Marks
		for j := range m.Steps {
			b := model.Band{Earliest: at(16, 0), Likely: at(17, 0), Latest: at(18, 0)}
			m.Steps[j].Projection = model.Projection{Standing: model.Running, Band: b, NotBefore: at(15, 0), ColdFrom: at(16, 30), Share: 0.5, RoomTime: time.Hour}
			m.Steps[j].Closes = b
		}
	}
	for i := range s.Outlook.Patches {
		p := &s.Outlook.Patches[i]
		p.State, p.Cure.Band.Latest = model.PatchDue, at(15, 0)
	}
	for i := range s.Outlook.Trials {
		s.Outlook.Trials[i].Cold = model.Cold{Known: true, LowestC: 12, MeanC: 14}
	}
	return s
}

// Every metric of the table is exported by a snapshot in which everything is known, and no other.
func TestTableIsWhatIsExported(t *testing.T) {
	var want, got []string
	for _, m := range metrics.Table() {
		want = append(want, m.Name)
	}
	for _, poured := range []bool{false, true} {
		for _, f := range families(t, everything(poured)) {
			if !slices.Contains(got, f.GetName()) {
				got = append(got, f.GetName())
			}
		}
	}
	require.ElementsMatch(t, want, got)
}

// In a state set exactly one state holds (OpenMetrics 1.0, section on StateSet: the states of ours exclude
// one another).
func TestOneStateHolds(t *testing.T) {
	held := map[string]float64{}
	for _, f := range families(t, annex()) {
		for _, m := range f.GetMetric() {
			var set strings.Builder
			isSet := false
			for _, l := range m.GetLabel() {
				if l.GetName() == f.GetName() {
					isSet = true
				} else {
					fmt.Fprintf(&set, "%s=%q,", l.GetName(), l.GetValue())
				}
			}
			if isSet {
				held[f.GetName()+set.String()] += m.GetGauge().GetValue()
			}
		}
	}
	require.Len(t, held, 3+1+1+4+2+2+1, "places, molds not yet poured, molds touched, steps of open molds, patches, trials, the journal")
	for set, n := range held {
		require.Equal(t, 1.0, n, set)
	}
}

func TestLint(t *testing.T) {
	for _, poured := range []bool{false, true} {
		problems, err := testutil.GatherAndLint(scraped(t, everything(poured), 0))
		require.NoError(t, err)
		require.Empty(t, problems)

		l := promlint.NewWithMetricFamilies(families(t, everything(poured)))
		l.AddCustomValidations(namedByForm)
		problems, err = l.Lint()
		require.NoError(t, err)
		require.Empty(t, problems)
	}
}

// namedByForm demands what the general lint lets pass: that the name ends in the unit (so no _percent, _c
// or _min), and that what has no unit is named as its form wants.
// Source: Prometheus documentation, "Metric and label naming" and "Instrumentation".
func namedByForm(mf *dto.MetricFamily) []error {
	for _, m := range metrics.Table() {
		if m.Name != mf.GetName() {
			continue
		}
		if end, ok := endings[m.Form]; ok && !strings.HasSuffix(m.Name, end) {
			return []error{fmt.Errorf("a metric of form %q must end in %s", m.Form, end)}
		}
		if m.Form == metrics.Quantity && (!allowedUnits[m.Unit] || !strings.HasSuffix(m.Name, "_"+m.Unit)) {
			return []error{fmt.Errorf("a quantity must end in its unit, one of %v", allowedUnits)}
		}
		if m.Form == metrics.StateSet && m.Labels[len(m.Labels)-1] != m.Name {
			return []error{fmt.Errorf("the last label of a state set must be named as the metric")}
		}
		if m.Help == "" || !strings.HasSuffix(m.Help, ".") {
			return []error{fmt.Errorf("help must be sentences")}
		}
		return nil
	}
	return []error{fmt.Errorf("not in the table")}
}

var (
	endings      = map[metrics.Form]string{metrics.Instant: "_timestamp_seconds", metrics.Facts: "_info", metrics.Count: "_total"}
	allowedUnits = map[string]bool{"celsius": true, "ratio": true, "seconds": true}
)
