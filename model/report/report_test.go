package report_test

import (
	"context"
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/model/loop"
	"pourward/model/report"
	"pourward/sensors"
)

func morning() time.Time { return time.Date(2026, 1, 14, 8, 0, 0, 0, time.UTC) }

// Worked by hand: the mean of a straight line is that of its ends, and stretches count by their length.
func TestWarmth(t *testing.T) {
	f, err := os.Open("testdata/warmth.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	number := func(s string) float64 {
		if s == "none" {
			return math.NaN()
		}
		x, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return x
	}
	for _, row := range rows[1:] {
		t.Run(row[0], func(t *testing.T) {
			var felt []model.Stretch
			at := morning()
			for i := 1; i <= 9; i += 4 {
				if row[i] == "" {
					continue
				}
				next := at.Add(time.Duration(number(row[i])) * time.Minute)
				felt = append(felt, model.Stretch{From: at, To: next, FromC: number(row[i+1]), ToC: number(row[i+2]), NotMeasured: row[i+3] == "no"})
				at = next
			}
			got := report.WarmthOf(felt)
			same := func(want, got float64) {
				if math.IsNaN(want) {
					require.True(t, math.IsNaN(got))
					return
				}
				require.InDelta(t, want, got, 1e-9)
			}
			same(number(row[13]), got.MinC)
			same(number(row[14]), got.MeanC)
			same(number(row[15]), got.MaxC)
			require.InDelta(t, number(row[16]), got.Measured.Minutes(), 1e-9)
			require.InDelta(t, number(row[17]), got.Missing.Minutes(), 1e-9)
		})
	}
}

// The mean lies between the ends, and a stretch cut in two is the same.
func TestWarmthProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var whole, cut []model.Stretch
		at := morning()
		for range rapid.IntRange(1, 8).Draw(t, "stretches") {
			span := time.Duration(rapid.IntRange(1, 7200).Draw(t, "seconds")) * time.Second
			s := model.Stretch{From: at, To: at.Add(span), FromC: rapid.Float64Range(-20, 40).Draw(t, "from"), ToC: rapid.Float64Range(-20, 40).Draw(t, "to"), NotMeasured: rapid.Bool().Draw(t, "gap")}
			share := rapid.Float64Range(0.1, 0.9).Draw(t, "share")
			mid := at.Add(time.Duration(share * float64(span)))
			share = float64(mid.Sub(at)) / float64(span)
			a, b := s, s
			a.To, b.From = mid, mid
			a.ToC = s.FromC + share*(s.ToC-s.FromC)
			b.FromC = a.ToC
			whole, cut, at = append(whole, s), append(cut, a, b), s.To
		}
		w, c := report.WarmthOf(whole), report.WarmthOf(cut)
		require.Equal(t, w.Measured, c.Measured)
		require.Equal(t, w.Missing, c.Missing)
		if w.Measured == 0 {
			return
		}
		require.InDelta(t, w.MeanC, c.MeanC, 1e-6)
		require.LessOrEqual(t, w.MinC, w.MeanC+1e-9)
		require.LessOrEqual(t, w.MeanC, w.MaxC+1e-9)
	})
}

// book is a record in memory.
type book struct {
	marks    []model.Mark
	readings []sensors.Reading
}

func (b *book) Marks(context.Context) ([]model.Mark, error) {
	return append([]model.Mark(nil), b.marks...), nil
}

func (b *book) Readings(_ context.Context, from, to time.Time, yield func(sensors.Reading) error) error {
	for _, r := range b.readings {
		if !r.At.Before(from) && r.At.Before(to) {
			if err := yield(r); err != nil {
				return err
			}
		}
	}
	return nil
}

func (b *book) Span(context.Context) (first, last time.Time, err error) {
	return b.readings[0].At, b.readings[len(b.readings)-1].At, nil
}

// cold is a shop at room temperature until the rubber is poured, at noon, and at 10 °C from then on.
func cold() *book {
	b := &book{}
	for at := morning().Add(-48 * time.Hour); at.Before(morning().Add(48 * time.Hour)); at = at.Add(10 * time.Minute) {
		tempC := 22.5
		if at.After(morning().Add(4 * time.Hour)) {
			tempC = 10
		}
		b.readings = append(b.readings, sensors.Reading{Probe: "air", At: at, Temp: sensors.GoodMeasure(tempC)})
	}
	h := func(hours, minutes int) time.Time {
		return morning().Add(time.Duration(hours)*time.Hour + time.Duration(minutes)*time.Minute)
	}
	b.marks = []model.Mark{
		{ID: 1, Kind: model.Begun, Mold: "frieze", At: h(0, 0), Entered: h(0, 0), Place: "bench", Material: "platinum-slow"},
		{ID: 2, Kind: model.CoatOn, Mold: "frieze", At: h(0, 10), Entered: h(1, 0), Material: "lacquer"},
		{ID: 3, Kind: model.CoatOn, Mold: "frieze", At: h(0, 20), Entered: h(1, 10), Material: "lacquer", Corrects: 2},
		{ID: 4, Kind: model.Begun, Mold: "other", At: h(1, 20), Entered: h(1, 20), Place: "bench", Material: "platinum-fast"},
		{ID: 5, Kind: model.CoatOn, Mold: "frieze", At: h(1, 30), Entered: h(1, 30), Material: "lacquer"},
		{ID: 6, Kind: model.Withdrawn, Mold: "frieze", At: h(1, 31), Entered: h(1, 31), Corrects: 5},
		{ID: 7, Kind: model.Mixed, Mold: "frieze", At: h(3, 50), Entered: h(3, 50), Batch: model.Batch{Lot: "K-17"}},
		{ID: 8, Kind: model.Poured, Mold: "frieze", At: h(4, 0), Entered: h(4, 0)},
		{ID: 9, Kind: model.CoatOn, Mold: "frieze", At: h(0, 5), Entered: h(5, 0), Material: "sold out"},
		{ID: 10, Kind: model.Demolded, Mold: "frieze", At: h(30, 0), Entered: h(30, 0)},
	}
	return b
}

func past(b *book) loop.Past {
	return loop.Past{Record: b, Setup: model.Setup{Places: []string{"bench"}, Probes: []model.Probe{{Name: "air", Place: "bench", Every: 10 * time.Minute}}}}
}

func TestReportOfAColdCure(t *testing.T) {
	r, err := report.Read(t.Context(), past(cold()), "frieze", morning().Add(47*time.Hour))
	require.NoError(t, err)

	require.Equal(t, morning().Add(31*time.Hour), r.At, "an hour after it was off")
	require.Len(t, r.Steps, 3)
	coat, cure := r.Steps[0], r.Steps[2]
	require.Equal(t, report.Warmth{MinC: 22.5, MeanC: 22.5, MaxC: 22.5, Measured: 210 * time.Minute}, coat.Warmth)
	require.InDelta(t, 10, cure.Warmth.MeanC, 0.1)
	require.Equal(t, 26*time.Hour, cure.Warmth.Measured)

	states := map[int64]report.State{}
	for _, e := range r.Marks {
		states[e.ID] = e.State
	}
	require.Equal(t, map[int64]report.State{
		1: report.InEffect, 2: report.Corrected, 3: report.InEffect, 5: report.Withdrawn, 6: report.InEffect,
		7: report.InEffect, 8: report.InEffect, 9: report.LeftOut, 10: report.InEffect,
	}, states)
	require.EqualValues(t, 3, r.Marks[1].By)
	require.Equal(t, 50*time.Minute, r.Marks[1].Late)
	require.Zero(t, r.Marks[0].Late)

	told := map[int64][]report.Told{}
	for _, x := range r.Told {
		told[x.Mark.ID] = append(told[x.Mark.ID], x)
	}
	require.Equal(t, morning().Add(10*time.Minute), told[2][0].Step.Begun, "as the mark stood then")
	require.Equal(t, morning().Add(20*time.Minute), told[2][0].Came.Begun, "as it was corrected since")
	require.Nil(t, told[5][0].Came, "it never went on")
	require.Len(t, told[8], 1)
	poured := told[8][0]
	require.Equal(t, cure.Step, *poured.Came)
	require.Less(t, poured.Step.Band.Likely.Sub(poured.Step.Begun), 6*time.Hour, "nobody knew that it would turn cold")
	require.Greater(t, cure.Band.Likely.Sub(cure.Begun), 8*time.Hour, "rates about double for 10 °C (common practice), and it was 12.5 K too cold")

	require.Equal(t, []string{"lacquer", "platinum-slow"}, []string{r.Materials[0].Name, r.Materials[1].Name})
	require.Equal(t, []model.Batch{{Lot: "K-17"}}, r.Materials[1].Batches)
	require.NotEmpty(t, r.Materials[1].Sources)
	require.Equal(t, morning().Add(30*time.Hour), r.Felt[len(r.Felt)-1].To)
}

func TestReportOfAnOpenMold(t *testing.T) {
	b := cold()
	b.marks = b.marks[:8]
	now := morning().Add(6 * time.Hour)
	r, err := report.Read(t.Context(), past(b), "frieze", now)
	require.NoError(t, err)
	require.Equal(t, now, r.At)
	require.True(t, r.Mold.Open())
	require.Equal(t, now, r.Felt[len(r.Felt)-1].To, "no further than asked, though the record goes on")
}

func TestReportOfNothing(t *testing.T) {
	_, err := report.Read(t.Context(), past(cold()), "gable", morning())
	require.ErrorIs(t, err, report.ErrNoMold)
	b := cold()
	b.marks = append(b.marks[3:4], model.Mark{ID: 5, Kind: model.Withdrawn, Mold: "other", At: morning().Add(2 * time.Hour), Entered: morning().Add(2 * time.Hour), Corrects: 4})
	_, err = report.Read(t.Context(), past(b), "other", morning().Add(3*time.Hour))
	require.ErrorContains(t, err, `report of "other": it was never begun, or that was withdrawn`)
}
