package page

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
)

// minutes makes points a minute apart; NaN stands for a value not had.
func minutes(values ...float64) []Point {
	out := make([]Point, 0, len(values))
	for i, v := range values {
		out = append(out, Point{At: thursday().Add(time.Duration(i) * time.Minute), TempC: v, Humidity: math.NaN()})
	}
	return out
}

func TestAMissingValueEndsALine(t *testing.T) {
	got := runs(minutes(1, 2, math.NaN(), 4, math.Inf(1), 5, 6), ofTemp, time.Hour)
	require.Len(t, got, 3)
	require.Len(t, got[0], 2)
	require.Len(t, got[1], 1)
	require.Len(t, got[2], 2)
	require.Empty(t, runs(minutes(1, 2), ofHumidity, time.Hour))
}

func TestAGapInTimeEndsALine(t *testing.T) {
	points := minutes(1, 2, 3)
	points = append(points, Point{At: thursday().Add(20 * time.Minute), TempC: 4})
	require.Equal(t, 3*time.Minute, gapLimit(points, 30*time.Second))
	require.Len(t, runs(points, ofTemp, gapLimit(points, 30*time.Second)), 2)
	require.Len(t, runs(points, ofTemp, gapLimit(points, 10*time.Minute)), 1, "a slow probe has no gap there")
}

func TestTracePathLiftsThePen(t *testing.T) {
	ts := timeScale{from: thursday(), to: thursday().Add(10 * time.Minute), x0: 0, x1: 100}
	path := tracePath(runs(minutes(1, 2, math.NaN(), 4, 5, math.NaN(), 7), ofTemp, time.Hour), ts, func(v float64) float64 { return 10 * v })
	require.Equal(t, "M0 10L10 20M30 40L40 50M60 70h0", path)
}

// A humidity that was not had is never drawn, least of all as nothing.
func TestMissingHumidityIsNotZero(t *testing.T) {
	ts := timeScale{from: thursday(), to: thursday().Add(10 * time.Minute), x0: 38, x1: 359}
	v := cannedVoice()
	p := v.humidityPanel(newTrack("here", "here", minutes(14, 14, 14), 0), ts, 0)
	require.Empty(t, p.Lines)
	require.Equal(t, "no humidity was recorded in this time", p.Empty)

	points := minutes(14, 14, 14, 14)
	points[0].Humidity, points[1].Humidity, points[3].Humidity = 0.5, 0.5, 0.5
	p = v.humidityPanel(newTrack("here", "here", points, 0), ts, 0)
	bottom := p.Frame.Y + p.Frame.H
	require.Equal(t, 2, strings.Count(p.Lines[0].D, "M"))
	for _, y := range ysOf(t, p.Lines[0].D) {
		require.Less(t, y, bottom-1)
	}
	require.Equal(t, "no reading", v.row(points[2:3], thursday(), thursday().Add(time.Hour)).Humidity)
}

var coordinates = regexp.MustCompile(`[ML](-?[\d.]+) (-?[\d.]+)`)

func ysOf(t *testing.T, path string) []float64 {
	t.Helper()
	var out []float64
	for _, m := range coordinates.FindAllStringSubmatch(path, -1) {
		y, err := strconv.ParseFloat(m[2], 64)
		require.NoError(t, err)
		out = append(out, y)
	}
	return out
}

// Thinning keeps every extreme, the ends and the order, and at most four samples for each unit of width.
func TestThinKeepsExtremes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-20, 60), 1, 2000).Draw(t, "values")
		run := make([]sample, len(values))
		for i, v := range values {
			run[i] = sample{thursday().Add(time.Duration(i) * time.Second), v}
		}
		ts := timeScale{from: thursday(), to: run[len(run)-1].at.Add(time.Second), x0: 0, x1: 40}
		got := thin(run, ts.x)
		lo, hi, _ := extent([][]sample{run})
		gotLo, gotHi, _ := extent([][]sample{got})
		require.Equal(t, []float64{lo, hi}, []float64{gotLo, gotHi})
		require.Equal(t, run[0], got[0])
		require.Equal(t, run[len(run)-1], got[len(got)-1])
		require.LessOrEqual(t, len(got), 4*40)
		for i := 1; i < len(got); i++ {
			require.True(t, got[i].at.After(got[i-1].at))
		}
	})
}

func TestGapsAreNamed(t *testing.T) {
	points := minutes(1, 2, 3)
	cut := runs(points, ofTemp, 5*time.Minute)
	from, to := thursday().Add(-time.Hour), thursday().Add(time.Hour)
	require.Equal(t, []gap{{from, points[0].At}, {points[2].At, to}}, gapsIn(cut, from, to, 5*time.Minute))
	words := plain(cannedVoice().gapWords([]gap{{hm(0, 9, 0), hm(0, 11, 0)}, {hm(0, 23, 0), hm(1, 1, 0)}}))
	require.Equal(t, " No readings Thu 09:00 to 11:00, Thu 23:00 to Fri 01:00.", words)
}

func TestTicksAreRoundLocalTimes(t *testing.T) {
	kathmandu, err := time.LoadLocation("Asia/Kathmandu") // UTC+5:45, tz database
	require.NoError(t, err)
	v := voice{now: thursday(), zone: kathmandu}
	ts := timeScale{from: thursday(), to: thursday().Add(24 * time.Hour), x0: 0, x1: 360}
	var labels []string
	for _, tick := range ts.ticks(v, 5) {
		labels = append(labels, tick.Label)
	}
	require.Equal(t, []string{"06:00", "12:00", "18:00"}, labels[:3])
}

// Where clocks are changed, each reading is labeled once, where clocks show it; a day is named where it begins.
func TestTicksWhereClocksAreChanged(t *testing.T) {
	for _, c := range []struct {
		zone, from string // on the wall, before the change
		hours      int
		want       string // minutes from the start, and label; changes as in the tz database
	}{
		{"Europe/Berlin", "2026-03-29 01:00", 3, "0 01:00, 60 03:00, 120 04:00, 180 05:00"},                      // 02:00 becomes 03:00
		{"Europe/Berlin", "2025-10-26 01:00", 4, "0 01:00, 60 02:00, 180 03:00, 240 04:00"},                      // 03:00 becomes 02:00
		{"Europe/Berlin", "2025-10-25 18:00", 20, "0 18:00, 360 Sun, 780 06:00, 1140 12:00"},                     // six hours with seven
		{"Australia/Lord_Howe", "2025-10-05 01:00", 2, "0 01:00, 30 01:30, 60 02:30, 90 03:00, 120 03:30"},       // 02:00 becomes 02:30
		{"Australia/Lord_Howe", "2026-04-05 00:30", 2, "0 00:30, 30 01:00, 60 01:30, 120 02:00"},                 // 02:00 becomes 01:30
		{"Africa/Cairo", "2026-04-23 22:00", 4, "0 22:00, 60 23:00, 120 Fri, 180 02:00, 240 03:00"},              // 00:00 becomes 01:00
		{"Africa/Cairo", "2025-10-30 22:00", 4, "0 22:00, 60 23:00, 180 Fri, 240 01:00"},                         // 24:00 becomes 23:00
		{"Africa/Cairo", "2026-04-22 12:00", 96, "720 Thu, 2160 Fri, 3540 Sat, 4980 Sun"},                        // days
		{"America/Havana", "2025-11-01 22:00", 5, "0 22:00, 60 23:00, 120 Sun, 240 01:00, 300 02:00"},            // 01:00 becomes 00:00
		{"America/St_Johns", "2010-11-06 22:30", 4, "30 23:00, 90 Sun, 210 01:00"},                               // 00:01 becomes 23:01
		{"Pacific/Apia", "2011-12-29 12:00", 60, "0 12:00, 720 Sat, 1440 12:00, 2160 Sun, 2880 12:00, 3600 Mon"}, // no 30 December
		{"Antarctica/Troll", "2026-03-29 00:00", 4, "0 Sun, 60 03:00, 120 04:00, 180 05:00, 240 06:00"},          // 01:00 becomes 03:00
		{"America/New_York", "2026-03-07 12:00", 36, "0 12:00, 720 Sun, 1380 12:00, 2100 Mon"},                   // twelve hours with eleven
		{"UTC", "2026-03-29 00:00", 4, "0 Sun, 60 01:00, 120 02:00, 180 03:00, 240 04:00"},                       // never
	} {
		zone, err := time.LoadLocation(c.zone)
		require.NoError(t, err)
		from, err := time.ParseInLocation("2006-01-02 15:04", c.from, zone)
		require.NoError(t, err)
		ts := timeScale{from: from, to: from.Add(time.Duration(c.hours) * time.Hour), x0: 0, x1: float64(60 * c.hours)}
		var got []string
		for _, tick := range ts.ticks(voice{now: from, zone: zone}, 5) {
			got = append(got, short(tick.X)+" "+tick.Label)
			require.Equal(t, !strings.Contains(tick.Label, ":"), tick.Strong)
		}
		require.Equal(t, c.want, strings.Join(got, ", "), "%s from %s", c.zone, c.from)
	}
}

// In any zone and year labels go on in time, none stands twice within a day, and each is what clocks show there.
func TestTicksInAnyZone(t *testing.T) {
	zones := []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Africa/Cairo", "America/Havana", "America/St_Johns",
		"America/Sao_Paulo", "Asia/Beirut", "Asia/Kathmandu", "Antarctica/Troll", "Pacific/Apia", "Africa/Casablanca"}
	rapid.Check(t, func(t *rapid.T) {
		zone, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		require.NoError(t, err)
		from := time.Unix(rapid.Int64Range(946_684_800, 2_000_000_000).Draw(t, "from"), 0)
		if change, _ := from.In(zone).ZoneBounds(); !change.IsZero() && rapid.Bool().Draw(t, "near a change") {
			from = change.Add(-time.Duration(rapid.IntRange(-7200, 36*3600).Draw(t, "seconds before")) * time.Second)
		}
		span := time.Duration(rapid.Int64Range(60, 22*3600).Draw(t, "span")) * time.Second
		ts := timeScale{from: from, to: from.Add(span), x0: 0, x1: span.Seconds()}
		seen, last := map[string]bool{}, -1.0
		for _, tick := range ts.ticks(voice{now: from, zone: zone}, 5) {
			require.Greater(t, tick.X, last)
			require.False(t, seen[tick.Label], tick.Label)
			last, seen[tick.Label] = tick.X, true
			there := from.Add(time.Duration(math.Round(tick.X)) * time.Second).In(zone)
			if tick.Strong {
				require.Equal(t, there.Format("Mon"), tick.Label)
				continue
			}
			require.Equal(t, there.Format("15:04:05"), tick.Label+":00")
		}
	})
}

func TestTicksEndForAnySpan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		span := time.Duration(rapid.Int64Range(1, 400*24*3600).Draw(t, "seconds")) * time.Second
		ts := timeScale{from: thursday(), to: thursday().Add(span), x0: 0, x1: 360}
		ticks := ts.ticks(cannedVoice(), 5)
		require.LessOrEqual(t, len(ticks), 10)
		for _, tick := range ticks {
			require.True(t, tick.X >= 0 && tick.X <= 360)
		}
	})
}

func TestValueScaleIsRoundAndWide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(-40, 60).Draw(t, "lo")
		hi := lo + rapid.Float64Range(0, 40).Draw(t, "above")
		s := newValueScale(lo, hi, 5, 10, 110)
		require.LessOrEqual(t, s.lo, lo)
		require.GreaterOrEqual(t, s.hi, hi)
		require.GreaterOrEqual(t, s.hi-s.lo, 5-1e-9, "noise is not blown up")
		require.InDelta(t, math.Round(s.lo/s.step), s.lo/s.step, 1e-9)
		require.LessOrEqual(t, len(s.ticks()), 7)
		require.InDelta(t, 110, s.y(s.lo), 1e-9)
		require.InDelta(t, 10, s.y(s.hi), 1e-9)
	})
}

// Labels of time lie inside the drawing and apart from each other, even where letters are largest.
func TestTimeLabelsKeepApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := thursday().Add(-time.Duration(rapid.Int64Range(0, 100*24*3600).Draw(t, "ago")) * time.Second)
		ts := timeScale{from: from, x0: rapid.SampledFrom([]float64{1, panelLeft}).Draw(t, "left"), x1: drawingWidth - 1}
		ts.to = from.Add(time.Duration(rapid.Int64Range(60, 100*24*3600).Draw(t, "seconds")) * time.Second)
		var d drawing
		d.finish(ts, 100, cannedVoice())
		end := 0.0
		for _, tick := range d.Grid {
			require.GreaterOrEqual(t, tick.X-tick.half(), end, "%v", d.Grid)
			end = tick.X + tick.half()
		}
		require.LessOrEqual(t, end, drawingWidth)
	})
}

// The taper is full until the earliest, half at the likely and nothing at the latest time.
func TestTaper(t *testing.T) {
	ts := timeScale{from: hm(0, 12, 0), to: hm(0, 22, 0), x0: 0, x1: 100}
	s := model.Step{Kind: model.CoatDry, Begun: hm(0, 13, 0)}
	s.Band = band(hm(0, 15, 0), hm(0, 16, 0), hm(0, 19, 0))
	require.Equal(t, "M10 20L30 20L40 25L70 30L10 30Z", taperPath(s, ts, 100, 20, 30))
	require.Equal(t, "M10 20L30 20L35 22.5L35 30L10 30Z", taperPath(s, ts, 35, 20, 30), "cut off where the cup was emptied")
	require.Equal(t, "M10 20L20 20L20 30L10 30Z", taperPath(s, ts, 20, 20, 30))
}

// Where nothing can be told, the filled part ends at what is known and the rest is left open.
func TestCannotSayIsDrawnOpen(t *testing.T) {
	m := unsaid()
	d := cannedVoice().section(&m, false)
	cure := d.Layers[1]
	require.NotEmpty(t, cure.Open)
	require.Equal(t, 4, strings.Count(cure.Wet, "L")+strings.Count(cure.Wet, "M"), "a plain block, no taper")

	m.Steps[1].NotBefore = time.Time{}
	d = cannedVoice().section(&m, false)
	require.Contains(t, d.Layers[1].Wet, "L"+short(d.Now.X)+" ", "known up to now only")
}

func TestSectionStacksLayers(t *testing.T) {
	m := curing()
	d := cannedVoice().section(&m, true)
	require.Len(t, d.Layers, 5)
	floor := d.Base.Y
	for _, l := range []layer{d.Layers[0], d.Layers[1], d.Layers[2], d.Layers[4]} {
		require.InDelta(t, floor, l.Body.Y+l.Body.H, 0.11, l.Name)
		floor = l.Body.Y
	}
	require.Less(t, d.Layers[3].Body.Y+d.Layers[3].Body.H, floor, "the cup stands clear of the pattern")
	for _, l := range d.Layers {
		require.True(t, l.Body.X >= 0 && l.Body.X+l.Body.W <= drawingWidth, l.Name)
	}
	require.NotNil(t, d.Now)
}

func TestSectionOfManyCoatsStaysLow(t *testing.T) {
	m := coating()
	for i := range 40 {
		s := m.Steps[0]
		s.Begun = s.Begun.Add(time.Duration(i) * time.Minute)
		m.Steps = append(m.Steps, s)
	}
	require.Less(t, cannedVoice().section(&m, false).H, 200.0)
}

func TestSectionOfAnEmptyMold(t *testing.T) {
	m := model.MoldOutlook{Name: "new-one", Begun: thursday()}
	d := cannedVoice().section(&m, false)
	require.Equal(t, "Nothing is on the pattern yet.", d.Label)
	require.Empty(t, d.Layers)
	require.False(t, math.IsNaN(d.H))
}

// A drop rests on the line unless the place is fit to pour in.
func TestGate(t *testing.T) {
	p := model.PlaceOutlook{Known: true, TempC: 22, PourMinC: 18, PourMaxC: 32, Pour: model.Fitness{Verdict: model.Fit}}
	v := cannedVoice()
	require.True(t, v.gateOf(p).Through)
	p.Pour.Verdict = model.NotFit
	require.False(t, v.gateOf(p).Through)
	require.NotEmpty(t, v.gateOf(p).Drop)
	p.Known = false
	require.Empty(t, v.gateOf(p).Drop, "a temperature that is not known is not shown")
	p.PourMaxC = 0
	require.Nil(t, v.gateOf(p))
	v.unit = Fahrenheit
	p.PourMaxC = 32
	require.Equal(t, "64", v.gateOf(p).MinWord) // 18 °C is 64.4 °F
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}
