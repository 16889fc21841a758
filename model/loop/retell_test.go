package loop_test

import (
	"bytes"
	"context"
	"encoding/gob"
	"fmt"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/loop"
	"pourward/sensors"
)

// bits are an outlook to the last bit, NaN equal to itself.
func bits(t *testing.T, o *model.Outlook) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, gob.NewEncoder(&out).Encode(o))
	return out.Bytes()
}

func annex() model.Setup {
	return model.Setup{
		Places: []string{"bench", "pattern"},
		Probes: []model.Probe{{Name: "air", Place: "bench", Every: 5 * time.Minute}, {Name: "skin", Place: "pattern", Every: 5 * time.Minute}},
	}
}

// something is what a hasty maker may enter: late, out of order, correcting itself. Much of it is refused.
func something(random *rand.Rand, now time.Time, marks int64) model.Mark {
	kinds := model.MarkKinds()
	m := model.Mark{Kind: kinds[random.IntN(len(kinds))], Mold: []string{"frieze", "volute"}[random.IntN(2)], At: now}
	if random.IntN(2) == 0 {
		m.At = now.Add(-time.Duration(random.IntN(120)) * time.Minute)
	}
	switch m.Kind {
	case model.Begun:
		m.Place, m.Surface, m.Material = "bench", []string{"", "pattern"}[random.IntN(2)], "platinum-slow"
	case model.Moved, model.PatchOn:
		m.Place = "bench"
	case model.CoatOn:
		m.Material = "lacquer"
	case model.ReleaseOn:
		m.Material = "wax-naphtha"
	case model.Checked:
		m.Of, m.Found = model.Cup, model.Findings()[random.IntN(3)]
	}
	if marks > 0 && (m.Kind == model.Withdrawn || random.IntN(5) == 0) {
		m.Corrects = 1 + random.Int64N(marks)
	}
	return m
}

// live runs a real loop for a while and returns what it told at each mark.
func live(t *testing.T, s *shelf, seed uint64) (told [][]byte) {
	random := rand.New(rand.NewPCG(seed, 1))
	l, err := loop.New(t.Context(), loop.Options{Setup: annex(), Record: s, Clock: sensors.RealClock{}, Flush: time.Second, Tell: 2 * time.Hour})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	readings, done := make(chan sensors.Reading), make(chan error)
	go func() { done <- l.Run(ctx, readings) }()
	tempC := 18.0
	for range 160 {
		tempC += random.NormFloat64() / 4
		for _, probe := range []string{"air", "skin"} {
			if random.IntN(12) > 0 {
				readings <- sensors.Reading{Probe: probe, At: time.Now(), Temp: sensors.GoodMeasure(tempC), Humidity: sensors.GoodMeasure(0.5)}
			}
		}
		time.Sleep(5 * time.Minute)
		for range random.IntN(3) {
			m, err := l.Mark(ctx, something(random, time.Now(), int64(len(told))))
			if err == nil {
				require.EqualValues(t, len(told)+1, m.ID)
				told = append(told, bits(t, l.Snapshot().Outlook))
			}
			time.Sleep(time.Second)
		}
	}
	cancel()
	require.NoError(t, <-done)
	return told
}

// What was told at each mark is told again to the last bit, from whichever mark on it is asked for: no
// reading that came later, and no correction, has a say in it.
func TestRetellIsWhatWasTold(t *testing.T) {
	for seed := range uint64(4) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := &shelf{}
				told := live(t, s, seed)
				require.Greater(t, len(told), 5)
				for _, first := range []int{1, len(told) / 2, len(told)} {
					n := first
					past := loop.Past{Setup: annex(), Record: s}
					err := past.Retell(t.Context(), int64(first), int64(len(told)), func(m model.Mark, o *model.Outlook) error {
						require.EqualValues(t, n, m.ID)
						require.Equal(t, told[n-1], bits(t, o), "mark %d: %s", m.ID, m)
						n++
						return nil
					})
					require.NoError(t, err)
					require.Equal(t, len(told)+1, n)
				}
			})
		})
	}
}

// What is told of an instant with everything that came later left out is what a daemon told then.
func TestPastOutlook(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		told := live(t, s, 9)
		marks, err := s.Marks(t.Context())
		require.NoError(t, err)
		at := marks[len(marks)-1].Entered
		o, err := loop.Past{Setup: annex(), Record: s}.Outlook(t.Context(), at)
		require.NoError(t, err)
		require.Equal(t, told[len(told)-1], bits(t, o))
	})
}
