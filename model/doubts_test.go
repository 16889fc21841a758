package model

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// touched pours in steady air and touches things at given times after the pour.
func touched(t *testing.T, tempC float64, at time.Duration, found map[Subject]Finding) (MoldOutlook, Step) {
	s := bench(t)
	steady(s, begin().Add(-26*time.Hour), 26*time.Hour, tempC)
	marks := stepMarks("cure")
	marks = append(marks[:1:1], append([]Mark{{Kind: CoatOn, Material: "lacquer", At: begin().Add(-20 * time.Hour)}}, marks[1:]...)...)
	marks[0].At = begin().Add(-24 * time.Hour)
	markWork(t, s, begin(), marks...)
	last := steady(s, begin(), at+5*time.Minute, tempC)
	id := int64(20)
	for of, f := range found {
		id++
		require.NoError(t, s.Mark(Mark{ID: id, Mold: "frieze", Kind: Checked, Of: of, Found: f, At: begin().Add(at)}))
	}
	o := s.Outlook(last)
	return o.Molds[0], lastStep(o)
}

// The judgement itself is tested where it is made; here, that marks and warmth reach it as they were.
func TestLateOrInhibited(t *testing.T) {
	for _, c := range []struct {
		name     string
		tempC    float64
		at       time.Duration
		found    map[Subject]Finding
		verdict  string
		standing Standing
	}{
		{"cup firm, patch tacky at twice its time: the surface", 22.5, 8*time.Hour + 20*time.Minute,
			map[Subject]Finding{Cup: Firm, Patch: Tacky}, "surface inhibits", Doubtful},
		{"both tacky before the earliest time: wait", 22.5, 2 * time.Hour,
			map[Subject]Finding{Cup: Tacky, Patch: Tacky}, "wait", Running},
		{"everything tacky far past its time: the batch", 22.5, 16 * time.Hour,
			map[Subject]Finding{Cup: Tacky, Patch: Tacky, Mold: Tacky}, "batch bad", Doubtful},
		{"past the data sheet's time, but it was cold: wait", 13, 5 * time.Hour,
			map[Subject]Finding{Cup: Tacky, Patch: Tacky}, "wait", Running},
		{"the cup firm, nothing else touched: its mold goes by its time", 22.5, 6 * time.Hour,
			map[Subject]Finding{Cup: Firm}, "cannot say yet", Ready},
		{"all firm: fine", 22.5, 7 * time.Hour,
			map[Subject]Finding{Cup: Firm, Patch: Firm, Mold: Firm}, "fine", Ready},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, cure := touched(t, c.tempC, c.at, c.found)
			require.NotNil(t, m.Doubt)
			require.Equal(t, c.verdict, m.Doubt.Verdict, "%+v", m.Doubt)
			require.Equal(t, c.standing, cure.Standing, cure.Why)
			sum := m.Doubt.NothingWrong + m.Doubt.SurfaceInhibits + m.Doubt.BatchBad + m.Doubt.BothWrong + m.Doubt.OnlyCup
			require.InDelta(t, 1, sum, 1e-12)
			if c.verdict == "surface inhibits" {
				require.Len(t, m.Doubt.Routes, 3)
			}
		})
	}
}

func TestNextTouchIsToldInTime(t *testing.T) {
	m, _ := touched(t, 13, 5*time.Hour, map[Subject]Finding{Cup: Tacky, Patch: Tacky})
	require.Contains(t, m.Doubt.Next, "Touch the")
	require.True(t, m.Doubt.NextAt.After(begin().Add(5*time.Hour)), "%v %s", m.Doubt.NextAt, m.Doubt.Next)
	require.True(t, m.Doubt.NextAt.Before(begin().Add(40*time.Hour)), "%v %s", m.Doubt.NextAt, m.Doubt.Next)
}

func TestNothingTouchedNothingDoubted(t *testing.T) {
	m, _ := touched(t, 22.5, 2*time.Hour, nil)
	require.Nil(t, m.Doubt)
}
