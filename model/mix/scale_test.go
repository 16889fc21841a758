package mix

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestScaleErrorsWorkedByHand(t *testing.T) {
	for _, row := range table(t, "testdata/scales.csv") {
		t.Run(row["case"], func(t *testing.T) {
			r, w := recipe(t, row), weighing(t, row["weighing"])
			s := Scale{StepGrams: number(t, row["step_g"]), RepeatabilityGrams: number(t, row["repeat_g"])}
			b, err := r.Batch(number(t, row["total_g"]))
			require.NoError(t, err)
			e, err := s.RatioError(b, w)
			require.NoError(t, err)
			require.InEpsilon(t, number(t, row["std_rel"]), e.StdRel, 1e-9)
			least, err := s.Smallest(r, w)
			require.NoError(t, err)
			require.InEpsilon(t, number(t, row["smallest_g"]), least, 1e-9)
		})
	}
}

// JCGM 100:2008, 4.3.7, example 1: copper's expansion known to within 0.40e-6 has u² = 53.3e-15 and
// u = 0.23e-6; F.2.2.1: a display with a step has u = 0.29 of it. Both from memory.
func TestRectangularAsTheGuideHasIt(t *testing.T) {
	u := rectangular(0.40e-6)
	require.InDelta(t, 53.3e-15, u*u, 0.05e-15)
	require.InDelta(t, 0.23e-6, u, 0.005e-6)
	require.InDelta(t, 0.29, rectangular(0.5), 0.005)
}

// Propagation of distributions, JCGM 101:2008: scales that round every reading, loads at random, and the
// spread of the ratios that result.
func TestScaleErrorMeetsManyWeighings(t *testing.T) {
	const trials = 200_000
	for _, w := range []Weighing{Tared, Running} {
		t.Run(w.String(), func(t *testing.T) {
			s := Scale{StepGrams: 1, RepeatabilityGrams: 0.4}
			b, err := twoParts(4).Batch(150)
			require.NoError(t, err)
			e, err := s.RatioError(b, w)
			require.NoError(t, err)
			random := rand.New(rand.NewPCG(1, 2))
			squares := 0.0
			for range trials {
				off := s.weighOnce(random, b, w)
				squares += off * off
			}
			require.InEpsilon(t, e.StdRel, math.Sqrt(squares/trials), 0.02)
		})
	}
}

// weighOnce pours both parts until the display shows what it should, each reading with an error of its
// own, and gives the relative error of the ratio poured.
func (s Scale) weighOnce(random *rand.Rand, b Batch, w Weighing) float64 {
	misread := func() float64 {
		return (random.Float64()-0.5)*s.StepGrams + random.NormFloat64()*s.RepeatabilityGrams
	}
	zero, first := misread(), misread()
	a := b.Parts[0].Grams + first - zero
	zero = first
	if w == Tared {
		zero = misread()
	}
	c := b.Parts[1].Grams + misread() - zero
	return c/a*b.Parts[0].Grams/b.Parts[1].Grams - 1
}

func drawScale(t *rapid.T) Scale {
	return Scale{
		StepGrams:          rapid.SampledFrom([]float64{0.001, 0.01, 0.1, 0.2, 0.5, 1, 2, 5}).Draw(t, "step"),
		RepeatabilityGrams: rapid.SampledFrom([]float64{0, 0.01, 0.3}).Draw(t, "repeatability"),
	}
}

func drawWeighing(t *rapid.T) Weighing {
	return Weighing(rapid.IntRange(0, int(weighings)-1).Draw(t, "weighing"))
}

func TestScaleErrorProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, s, w := drawRecipe(t), drawScale(t), drawWeighing(t)
		b, err := r.Batch(rapid.Float64Range(1, 1e4).Draw(t, "total"))
		require.NoError(t, err)
		e, err := s.RatioError(b, w)
		require.NoError(t, err)

		fine := s
		fine.StepGrams *= rapid.Float64Range(0.01, 1).Draw(t, "finer")
		better, err := fine.RatioError(b, w)
		require.NoError(t, err)
		require.LessOrEqual(t, better.StdRel, e.StdRel)

		shared, err := s.RatioError(b, Running)
		require.NoError(t, err)
		alone, err := s.RatioError(b, Apart)
		require.NoError(t, err)
		if len(r.Parts) == 2 { // neighbors share a reading; parts farther from each other do not
			require.Greater(t, shared.StdRel, alone.StdRel)
		}
		require.GreaterOrEqual(t, shared.StdRel, alone.StdRel*(1-1e-12))
	})
}

func TestSmallestBatchIsAtTheTolerance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, s, w := drawRecipe(t), drawScale(t), drawWeighing(t)
		least, err := s.Smallest(r, w)
		require.NoError(t, err)
		b, err := r.Batch(least)
		require.NoError(t, err)
		e, err := s.RatioError(b, w)
		require.NoError(t, err)
		require.InEpsilon(t, r.Tolerance, e.Rel(), 1e-9)
	})
}

// Tared shares of 1 % in 200 g on a tenth of a gram: u² of a reading = 0.01/12, of each weight twice that.
func TestAdditiveErrors(t *testing.T) {
	r := twoParts(1)
	r.Additives = []Additive{{Name: "thixo", Share: 0.01}, {Name: "pigment", Share: 0.02, Of: "A"}}
	b, err := r.Batch(204)
	require.NoError(t, err)
	got, err := Scale{StepGrams: 0.1}.AdditiveErrors(b, Tared)
	require.NoError(t, err)
	u2 := 0.01 / 12
	require.Equal(t, "", got[0].To)
	require.InDelta(t, math.Sqrt(2*u2/(2*2)+4*u2/(200*200)), got[0].StdRel, 1e-12) // thixo 2 g; A + B takes four readings
	require.Equal(t, "A", got[1].To)
	require.InDelta(t, math.Sqrt(2*u2/(2*2)+2*u2/(100*100)), got[1].StdRel, 1e-12)

	// As a running sum A + B is x2 - x0 and thixo x3 - x2: they share one reading.
	got, err = Scale{StepGrams: 0.1}.AdditiveErrors(b, Running)
	require.NoError(t, err)
	shared := 1.0/2 + 1.0/200
	require.InDelta(t, math.Sqrt(u2*(1.0/(2*2)+shared*shared+1.0/(200*200))), got[0].StdRel, 1e-12)
}

func TestAimCountsWholeSteps(t *testing.T) {
	b, err := twoParts(10).Batch(250) // 227.27 and 22.73 g
	require.NoError(t, err)
	a, err := Scale{StepGrams: 1}.Aim(b, Running)
	require.NoError(t, err)
	require.Equal(t, []float64{227, 250}, a.Readings)
	require.InDelta(t, 23.0/22.7-1, a.Deviation, 1e-12)
	a, err = Scale{StepGrams: 1}.Aim(b, Tared)
	require.NoError(t, err)
	require.Equal(t, []float64{227, 23}, a.Readings)

	even, err := Scale{StepGrams: 1}.Even(twoParts(10), 250)
	require.NoError(t, err)
	require.InDeltaSlice(t, []float64{230, 23}, grams(even.Parts), 1e-9)
	a, err = Scale{StepGrams: 1}.Aim(even, Tared)
	require.NoError(t, err)
	require.InDelta(t, 0, a.Deviation, 1e-12)
}

// Whatever a refusal advises is accepted.
func TestAdviceOfARefusalHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, s, w := drawRecipe(t), drawScale(t), drawWeighing(t)
		total := rapid.Float64Range(1, 1e4).Draw(t, "total")
		err := s.Hold(r, total, w)
		if err == nil {
			return
		}
		var coarse *TooCoarse
		require.ErrorAs(t, err, &coarse)
		require.Greater(t, coarse.Off(), r.Tolerance)
		if coarse.MixGrams > 0 {
			require.GreaterOrEqual(t, coarse.MixGrams, total)
			require.NoError(t, s.Hold(r, coarse.MixGrams, w))
		}
		if coarse.StepGrams > 0 {
			fine := Scale{StepGrams: coarse.StepGrams, RepeatabilityGrams: s.RepeatabilityGrams * coarse.StepGrams / s.StepGrams}
			require.Less(t, fine.StepGrams, s.StepGrams)
			require.NoError(t, fine.Hold(r, total, w))
		}
		if coarse.Apart {
			require.NoError(t, s.Hold(r, total, Apart))
		}
	})
}

func BenchmarkHold(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if (Scale{StepGrams: 1}).Hold(twoParts(10), 100, Running) == nil {
			b.Fatal("a scale of 1 g cannot hold 10 g to 2 %")
		}
	}
}
