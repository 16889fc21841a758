package model

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/cure"
	"pourward/model/material"
	"pourward/model/mix"
	"pourward/sensors"
)

// annex is a shop with a bench, a shelf and a warm box, whose products are invented ones.
func annex(t require.TestingT) *Shop {
	s, err := NewShop(Setup{
		Places: []string{"bench", "shelf", "warm box"}, Shelf: material.Generic().With(tenToOne(), putty()), Scale: mix.Scale{StepGrams: 1},
		Probes: []Probe{{Name: "air", Place: "bench", Every: time.Minute}, {Name: "cold", Place: "shelf", Every: time.Minute}, {Name: "warm", Place: "warm box", Every: time.Minute}},
	})
	require.NoError(t, err)
	return s
}

// annexAir are readings of a steady annex, one a minute.
func annexAir(from time.Time, span time.Duration, benchC, shelfC, warmC float64) []sensors.Reading {
	var out []sensors.Reading
	for at := from; !at.After(from.Add(span)); at = at.Add(time.Minute) {
		out = append(out, airReading("air", at, benchC, 0.5), airReading("cold", at, shelfC, math.NaN()), airReading("warm", at, warmC, math.NaN()))
	}
	return out
}

// batchMarks are a mold mixed at begin and poured a while later, with what was weighed.
func batchMarks(b Batch, d Design, build Build) []Mark {
	return []Mark{
		{ID: 1, Kind: Begun, Mold: "frieze", At: begin().Add(-time.Hour), Place: "bench", Material: "ten-to-one", Design: d, Build: build},
		{ID: 2, Kind: Mixed, Mold: "frieze", At: begin(), Batch: b},
		{ID: 3, Kind: Poured, Mold: "frieze", At: begin().Add(10 * time.Minute)},
	}
}

func weighed(grams ...float64) Batch {
	return Batch{Parts: []Portion{{Name: "A", Grams: grams[0]}, {Name: "B", Grams: grams[1]}}}
}

func annexMold(t require.TestingT, shelfC, warmC float64, until time.Duration, marks []Mark) (MoldOutlook, *Outlook) {
	s := annex(t)
	for _, r := range annexAir(begin().Add(-3*24*time.Hour), 3*24*time.Hour+until, 22.5, shelfC, warmC) {
		s.Reading(r)
	}
	for _, m := range marks {
		require.NoError(t, s.Mark(m))
	}
	o := s.Outlook(begin().Add(until))
	return o.Molds[0], o
}

// A retarder whose maker says half as long again makes working life and demold time half as long again at
// the reference temperature: 30 min and 4 h become 45 min and 6 h.
func TestAdditiveScalesTheTimes(t *testing.T) {
	b := weighed(1000, 100)
	b.Additives = []Portion{{Name: "retarder", Grams: 5, Factor: 1.5}, {Name: "pigment", Grams: 10}}
	m, _ := annexMold(t, 22.5, 22.5, 9*time.Hour, batchMarks(b, Design{}, Build{}))
	work, _ := m.Step("batch-1")
	demold, _ := m.Step("cure")
	require.Equal(t, 45*time.Minute, work.RoomTime)
	require.Equal(t, 6*time.Hour, demold.RoomTime)
	require.InDelta(t, 6*time.Hour, demold.Band.Likely.Sub(demold.Begun), float64(5*time.Second))
	require.Contains(t, demold.Sources, "additive: times 1.5-fold, as its maker gives it")

	b.Additives[1].Factor = 0.8
	m, _ = annexMold(t, 22.5, 22.5, time.Hour, batchMarks(b, Design{}, Build{}))
	demold, _ = m.Step("cure")
	require.Contains(t, demold.Sources, "additives: times 1.2-fold together; each as its maker gives it, that they multiply is an assumption")
}

// More retarder never shortens anything.
func TestMoreRetarderNeverShortens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tempC := rapid.Float64Range(16, 30).Draw(t, "temp")
		less := rapid.Float64Range(0.5, 4).Draw(t, "less")
		more := rapid.Float64Range(less, 4).Draw(t, "more")
		bands := func(factor float64) (work, demold Band) {
			b := weighed(1000, 100)
			b.Additives = []Portion{{Name: "retarder", Grams: 5, Factor: factor}}
			b.From = "shelf"
			marks := batchMarks(b, Design{}, Build{})
			s := annex(t)
			for _, r := range annexAir(begin().Add(-time.Hour), 61*time.Minute, tempC, tempC-5, tempC) {
				s.Reading(r)
			}
			require.NoError(t, s.Mark(marks[0]))
			require.NoError(t, s.Mark(marks[1]))
			w, _ := s.Outlook(begin().Add(time.Minute)).Molds[0].Step("batch-1")
			marks[2].At = begin().Add(time.Minute)
			require.NoError(t, s.Mark(marks[2]))
			d, _ := s.Outlook(begin().Add(time.Minute)).Molds[0].Step("cure")
			return w.Band, d.Band
		}
		w1, d1 := bands(less)
		w2, d2 := bands(more)
		for _, p := range [][2]Band{{w1, w2}, {d1, d2}} {
			require.False(t, p[1].Earliest.Before(p[0].Earliest))
			require.False(t, p[1].Likely.Before(p[0].Likely))
			require.False(t, p[1].Latest.Before(p[0].Latest))
		}
	})
}

// What a batch with a retarder teaches is what a plain one that took as much less time teaches.
func TestFindingsOfARetardedBatchTeachThePlainMaterial(t *testing.T) {
	taught := func(factor float64, firm time.Duration) time.Duration {
		b := weighed(1000, 100)
		b.Additives = []Portion{{Name: "retarder", Grams: 5, Factor: factor}}
		marks := append(batchMarks(b, Design{}, Build{}),
			Mark{ID: 4, Kind: Checked, Mold: "frieze", Of: Cup, Found: Tacky, At: begin().Add(10*time.Minute + firm*9/10)},
			Mark{ID: 5, Kind: Checked, Mold: "frieze", Of: Cup, Found: Firm, At: begin().Add(10*time.Minute + firm)},
			Mark{ID: 6, Kind: Demolded, Mold: "frieze", At: begin().Add(11*time.Minute + firm)},
			Mark{ID: 7, Kind: Begun, Mold: "next", At: begin().Add(12*time.Minute + firm), Place: "bench", Material: "ten-to-one"},
			Mark{ID: 8, Kind: Mixed, Mold: "next", At: begin().Add(13*time.Minute + firm)},
			Mark{ID: 9, Kind: Poured, Mold: "next", At: begin().Add(14*time.Minute + firm)})
		_, o := annexMold(t, 22.5, 22.5, firm+time.Hour, marks)
		next, ok := o.Mold("next")
		require.True(t, ok)
		st, _ := next.Step("cure")
		return st.RoomTime
	}
	plain := taught(1, 5*time.Hour)
	require.Greater(t, plain, 4*time.Hour+10*time.Minute, "it took longer than the sheet says, and that was learned")
	require.InDelta(t, plain, taught(2, 10*time.Hour), float64(time.Second))
}

// A cup relaxes as one lump: dT/dt = (air - T)/tau, solved by hand in steady and in steadily warming air.
func TestCupRelaxes(t *testing.T) {
	c := &cup{tau: 3000}
	require.InDelta(t, 20+10/math.E, c.relaxed(30, 20, 20, 3000), 1e-12)
	// Long after, it lags behind air that warms by 1 K in 1000 s by the 3 K that tau makes of it.
	require.InDelta(t, 20+60-3, c.relaxed(20, 20, 80, 60000), 1e-6)
	// 1 kg: 833 cm³, r = (833/2pi)^(1/3) = 5.10 cm, tau = 1200 x 1300 x 0.0510/(3 x 8) = 3315 s.
	require.InDelta(t, 3315, newCup(&parts{batch: weighed(1000*10/11., 1000/11.)}).tau, 5)
}

// The working life of parts that stood warm is shorter, and its age is the law's along the relaxing cup,
// here summed second by second.
func TestWarmPartsShortenTheWorkingLife(t *testing.T) {
	at := func(shelfC float64) (MoldOutlook, Step) {
		b := weighed(1000, 100)
		b.From = "shelf"
		m, _ := annexMold(t, shelfC, 30, 5*time.Minute, batchMarks(b, Design{}, Build{})[:2])
		st, _ := m.Step("batch-1")
		return m, st
	}
	_, even := at(22.5)
	_, warm := at(32.5)
	_, cold := at(8.5)
	require.InDelta(t, 30*time.Minute, even.Band.Likely.Sub(even.Begun), float64(time.Minute))

	c := newCup(&parts{batch: weighed(1000, 100)})
	law, age, seconds := cure.Arrhenius{EaJ: tenToOne().WorkingLife.EaJ, RefC: material.Room, FloorC: 0}, 0.0, 0.0
	for ; age < 1800; seconds++ {
		age += law.Rate(22.5 + 10*math.Exp(-seconds/c.tau))
	}
	require.InDelta(t, seconds, warm.Band.Likely.Sub(warm.Begun).Seconds(), 45)
	require.Contains(t, warm.Why, "the parts were warmer than the air: that shortens the working life")

	require.True(t, cold.Band.Likely.After(even.Band.Likely))
	require.False(t, cold.Band.Earliest.After(even.Band.Earliest), "cold parts are not counted on")
	require.Contains(t, cold.Cautions[0], "The parts stand too cold at shelf to pour")
}

// Rubber whose parts stood cold begins to cure cold in a mold whose build is told.
func TestColdPartsDelayAThickMold(t *testing.T) {
	at := func(shelfC float64) time.Duration {
		b := weighed(1000, 100)
		b.From = "shelf"
		m, _ := annexMold(t, shelfC, 30, time.Hour, batchMarks(b, Design{}, Build{Pattern: "plaster", PatternMM: 60, RubberMM: 40}))
		st, _ := m.Step("cure")
		return st.Band.Likely.Sub(st.Begun)
	}
	require.Greater(t, at(8), at(22.5)+2*time.Minute)
	require.Less(t, at(32), at(22.5)-2*time.Minute)
}

func TestReasonsAgainstABatch(t *testing.T) {
	codes := func(m MoldOutlook) (out []ReasonCode) {
		for _, r := range m.Pour.Reasons {
			switch r.Code {
			case ReasonPartsCold, ReasonCoarse, ReasonRatio, ReasonLotOld:
				require.True(t, r.Caution)
				out = append(out, r.Code)
			}
		}
		return out
	}
	small := Design{LengthMM: 100, WidthMM: 50, DepthMM: 20} // 100 mL, some 112 g: B is 10 g on a scale of 1 g
	large := Design{LengthMM: 200, WidthMM: 100, DepthMM: 60}
	planned := func(d Design) MoldOutlook {
		m, _ := annexMold(t, 20, 20, time.Minute, batchMarks(Batch{}, d, Build{})[:1])
		return m
	}
	require.Equal(t, []ReasonCode{ReasonCoarse}, codes(planned(small)))
	require.Empty(t, codes(planned(large)))

	mixed := func(b Batch, shelfC float64) MoldOutlook {
		m, _ := annexMold(t, shelfC, 20, time.Minute, batchMarks(b, Design{}, Build{})[:2])
		return m
	}
	require.Empty(t, codes(mixed(weighed(1000, 100), 20)))
	require.Equal(t, []ReasonCode{ReasonRatio}, codes(mixed(weighed(1000, 90), 20)))
	require.Equal(t, []ReasonCode{ReasonCoarse}, codes(mixed(weighed(100, 10), 20)))
	b := weighed(1000, 100)
	b.From, b.Lot = "shelf", "old"
	require.Equal(t, []ReasonCode{ReasonPartsCold, ReasonLotOld}, codes(mixed(b, 9)))
	b.Lot = "elsewhere"
	m := mixed(b, 20)
	require.Empty(t, codes(m))
	st, _ := m.Step("batch-1")
	require.Contains(t, st.Why, "lot elsewhere is not in the file of materials, so its age is not known")
}

// A tacky cup of a batch off its ratio counts more against the batch.
func TestOffRatioRaisesTheDoubtOfTheBatch(t *testing.T) {
	bad := func(b Batch) float64 {
		marks := append(batchMarks(b, Design{}, Build{}), Mark{ID: 4, Kind: Checked, Mold: "frieze", Of: Cup, Found: Tacky, At: begin().Add(5 * time.Hour)})
		m, _ := annexMold(t, 22.5, 22.5, 6*time.Hour, marks)
		require.NotNil(t, m.Doubt)
		return m.Doubt.BatchBad
	}
	good := bad(weighed(1000, 100))
	old := weighed(1000, 100)
	old.Lot = "old"
	require.Greater(t, bad(weighed(1000, 80)), 1.5*good)
	require.Greater(t, bad(old), good)
}

// A poured mold says when its cup wants a touch: when nine in ten like it are firm, and no longer once it
// was touched.
func TestCupIsTheControl(t *testing.T) {
	marks := batchMarks(weighed(1000, 100), Design{}, Build{})
	m, _ := annexMold(t, 22.5, 22.5, time.Hour, marks)
	st, _ := m.Step("cure")
	require.Contains(t, m.Cup, "Touch the cup's leftover")
	require.WithinDuration(t, st.Band.Latest, m.CupAt, 30*time.Minute)
	m, _ = annexMold(t, 22.5, 22.5, 9*time.Hour, marks)
	require.WithinDuration(t, begin().Add(9*time.Hour), m.CupAt, 0, "now")
	touched := append(marks, Mark{ID: 4, Kind: Checked, Mold: "frieze", Of: Cup, Found: Firm, At: begin().Add(7 * time.Hour)})
	m, _ = annexMold(t, 22.5, 22.5, 9*time.Hour, touched)
	require.Empty(t, m.Cup)
	m, _ = annexMold(t, 22.5, 22.5, 5*time.Minute, marks[:2])
	require.Empty(t, m.Cup)
}

// Whatever order readings and marks come in, late readings of the shelf and corrected mixings included, the
// same is told to the last bit.
func TestBatchesInAnyOrder(t *testing.T) {
	b := weighed(1000, 100)
	b.Parts[0].From, b.From = "warm box", "shelf"
	b.Additives = []Portion{{Name: "retarder", Grams: 5, Factor: 1.4}}
	marks := batchMarks(weighed(1000, 90), Design{}, Build{Pattern: "plaster", PatternMM: 60, RubberMM: 20})
	marks = append(marks, Mark{ID: 4, Kind: Mixed, Mold: "frieze", At: begin().Add(-2 * time.Minute), Corrects: 2, Batch: b})
	var readings []sensors.Reading
	rng := rand.New(rand.NewPCG(1, 2))
	for _, r := range annexAir(begin().Add(-3*time.Hour), 6*time.Hour, 20, 12, 28) {
		r.Temp.Value += rng.Float64()
		readings = append(readings, r)
	}
	told := func(order []int, markAfter int) *Outlook {
		s := annex(t)
		for i, k := range order {
			if i == markAfter {
				for _, m := range marks {
					require.NoError(t, s.Mark(m))
				}
			}
			s.Reading(readings[k])
		}
		return s.Outlook(begin().Add(3 * time.Hour))
	}
	order := rng.Perm(len(readings))
	straight := make([]int, len(order))
	for i := range straight {
		straight[i] = i
	}
	want := told(straight, len(order)-1).Molds
	require.NotEmpty(t, want[0].Steps)
	for _, at := range []int{0, len(order) / 2, len(order) - 1} {
		require.Equal(t, want, told(order, at).Molds)
		require.Equal(t, want, told(straight, at).Molds)
	}
}
