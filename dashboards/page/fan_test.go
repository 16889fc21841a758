package page

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
)

// hours are reaches an hour apart: low, likely, high.
func hours(values ...[3]float64) foretold {
	var out foretold
	for i, v := range values {
		out = append(out, model.Reach{At: thursday().Add(time.Duration(i) * time.Hour), LowC: v[0], LikelyC: v[1], HighC: v[2]})
	}
	return out
}

func TestForetoldBetweenHours(t *testing.T) {
	f := hours([3]float64{10, 10, 10}, [3]float64{8, 9, 12})
	r, ok := f.at(thursday().Add(15 * time.Minute))
	require.True(t, ok)
	require.Equal(t, model.Reach{At: thursday().Add(15 * time.Minute), LowC: 9.5, LikelyC: 9.75, HighC: 10.5}, r)
	_, ok = f.at(thursday().Add(-time.Second))
	require.False(t, ok, "nothing is foretold of the past")
	_, ok = f.at(thursday().Add(61 * time.Minute))
	require.False(t, ok, "nor beyond the last hour")
}

func TestForetoldWithin(t *testing.T) {
	f := hours([3]float64{10, 10, 10}, [3]float64{8, 9, 12}, [3]float64{6, 8, 13}, [3]float64{math.NaN(), 8, 13}, [3]float64{6, 8, 13})
	got := f.within(thursday().Add(-time.Hour), thursday().Add(90*time.Minute))
	require.Len(t, got, 3)
	require.Equal(t, thursday(), got[0].At)
	require.Equal(t, thursday().Add(90*time.Minute), got[2].At)
	require.InDelta(t, 7.0, got[2].LowC, 1e-12)
	require.Len(t, f.within(thursday(), thursday().Add(9*time.Hour)), 3, "it ends where a number is missing")
	require.Nil(t, f.within(thursday().Add(-9*time.Hour), thursday()), "a closed mold ends before it begins")
	require.Nil(t, foretold(nil).within(thursday(), thursday().Add(time.Hour)))
}

// Cutting never adds, loses order or leaves the stretch asked for.
func TestForetoldWithinHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var f foretold
		for range rapid.IntRange(0, 80).Draw(t, "hours") {
			c := rapid.Float64Range(-20, 40).Draw(t, "likely")
			f = append(f, model.Reach{At: thursday().Add(time.Duration(len(f)) * time.Hour), LowC: c - 1, LikelyC: c, HighC: c + 1})
		}
		from := thursday().Add(time.Duration(rapid.IntRange(-9000, 9000).Draw(t, "from")) * time.Minute)
		to := from.Add(time.Duration(rapid.IntRange(0, 9000).Draw(t, "for")) * time.Minute)
		for i, r := range f.within(from, to) {
			require.False(t, r.At.Before(from) || r.At.After(to))
			require.True(t, r.LowC <= r.LikelyC && r.LikelyC <= r.HighC)
			require.True(t, i == 0 || r.At.After(f.within(from, to)[i-1].At))
		}
	})
}

// The strip goes out along the highest and back along the lowest; the beads run between them.
func TestFan(t *testing.T) {
	ts := timeScale{from: thursday().Add(-2 * time.Hour), to: thursday().Add(2 * time.Hour), x0: 0, x1: 80}
	f := fanOf(hours([3]float64{10, 10, 10}, [3]float64{8, 9, 12}), ts, func(c float64) float64 { return 100 - c })
	require.Equal(t, fan{Strip: "M40 90L60 88L60 92L40 90Z", Edges: "M40 90L60 88M60 92L40 90", Beads: "M40 90L60 91"}, f)
}

// What is foretold stands to the right of now, in the same scale as what was measured.
func TestFanHangsOnTheMeasured(t *testing.T) {
	page := get(t, New(cannedOptions(annex())), "/molds/rosette").Body.String()
	require.Equal(t, 1, strings.Count(page, `class="beads"`), "one forecast: that of the pattern, by which it is reckoned")
	require.Contains(t, plain(page), "Forecast to Fri 01:09: likely ")
	require.Contains(t, page, "Forecast at the pattern: eight in ten lie between low and high")

	v := cannedVoice()
	ts := timeScale{from: hm(0, 12, 0), to: hm(0, 23, 0), x0: panelLeft, x1: drawingWidth - 1}
	tr := newTrack("pattern", "here", minutes(13.4, 13.4), 0)
	tr.ahead = foretold(cannedAhead(13.4)).within(ts.from, ts.to)
	p := v.tempPanel([]track{tr}, nil, ts, 0)
	now := ts.x(v.now)
	for _, m := range coordinates.FindAllStringSubmatch(p.Fans[0].Strip, -1) {
		require.Regexp(t, `^\d`, m[1])
		require.GreaterOrEqual(t, number(t, m[1]), tenth(now)-0.2)
		require.True(t, number(t, m[2]) >= p.Frame.Y-0.1 && number(t, m[2]) <= p.Frame.Y+p.Frame.H+0.1, "inside the frame")
	}
	tr.points = nil
	require.Len(t, v.tempPanel([]track{tr}, nil, ts, 0).Fans, 1, "a forecast is shown though nothing was recorded in this time")
}

func TestNoForecastIsNotDrawn(t *testing.T) {
	h := New(cannedOptions(annex()))
	for _, path := range []string{"/places/shelf", "/molds/finial"} {
		page := get(t, h, path).Body.String()
		require.NotContains(t, page, `class="beads"`, path)
		require.NotContains(t, page, "orecast", path)
		require.NotContains(t, page, "eight in ten", path)
	}
}

func TestForecastInWords(t *testing.T) {
	f := hours([3]float64{13, 13, 13}, [3]float64{10, 11, 12}, [3]float64{9, 12, 14})
	require.Equal(t, " Forecast to Thu 21:32: likely 11.0 °C at the coldest, about Thu 20:30, and 13.0 °C at the warmest, about Thu 19:30; eight in ten lie between 9.0 °C and 14.0 °C.",
		plain(cannedVoice().aheadWords(f)))
	require.Empty(t, cannedVoice().aheadWords(nil))
}

// The table tells round hours of the shop's clock and the end, and says the same as the drawing.
func TestForecastAsATable(t *testing.T) {
	v := cannedVoice()
	rows := v.aheadRows(hours([3]float64{13, 13, 13}, [3]float64{10, 11, 12}, [3]float64{9, 12, 14}))
	require.Len(t, rows, 3)
	require.Equal(t, "Thu 20:00", plain(rows[0].When))
	require.Equal(t, "12.1 °C", plain(rows[0].Likely)) // 13 − 2 · 27:50/60:00
	require.Equal(t, "Thu 21:32", plain(rows[2].When))
	require.Equal(t, aheadRow{"Thu 21:32", "12.0 °C", "9.0 °C", "14.0 °C"}, aheadRow{plain(rows[2].When), plain(rows[2].Likely), plain(rows[2].Low), plain(rows[2].High)})
	require.LessOrEqual(t, len(v.aheadRows(cannedAhead(13))), 14)
	require.Empty(t, v.aheadRows(nil))
}
