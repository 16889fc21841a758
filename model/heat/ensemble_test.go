package heat

import (
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func ensembleBody(t require.TestingT) *Body {
	b, err := NewBody(Build{
		Layers: []Layer{{Material: Plaster(), Thickness: 0.05}, {Material: MoldRubber(), Thickness: 0.02, Cures: true}},
		RightH: DefaultH,
	})
	require.NoError(t, err)
	return b
}

// An ensemble must tell what running every course through the mold by itself tells: conduction is linear
// (superposition, Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., ch. I; from memory).
func TestEnsembleTellsWhatEachRunTells(t *testing.T) {
	body := ensembleBody(t)
	rates, err := NewRates(arrhenius(50e3), -30, 60)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		const steps, seconds = 96, 1800.0
		courses := make([][]float64, 8)
		for i := range courses {
			c := rapid.Float64Range(5, 25).Draw(t, "air")
			for range steps {
				c += rapid.Float64Range(-1, 1).Draw(t, "change")
				courses[i] = append(courses[i], c)
			}
		}
		mold, err := NewState(body, []float64{rapid.Float64Range(5, 25).Draw(t, "pattern"), 21}, rates)
		require.NoError(t, err)
		airC := rapid.Float64Range(5, 25).Draw(t, "now")
		require.NoError(t, mold.Step(airC, 3600))
		e, err := NewEnsemble(body, airC, courses, seconds)
		require.NoError(t, err)
		need := func(i int) float64 { return 4*3600 + 1800*float64(i) }
		got, err := e.Finish(mold, 0, need)
		require.NoError(t, err)
		scratch, err := NewState(body, []float64{0, 0}, rates)
		require.NoError(t, err)
		for i, course := range courses {
			require.NoError(t, scratch.Copy(mold))
			want, ok := scratch.Finish(0, need(i), course, seconds)
			if !ok {
				want = math.Inf(1)
			}
			require.InDelta(t, want, got[i], 0.01, "course %d", i)
		}
	})
}

// What comes out must not depend on how many processors the board has.
func TestSharedCoursesTellTheSame(t *testing.T) {
	body := ensembleBody(t)
	rates, err := NewRates(arrhenius(50e3), -30, 60)
	require.NoError(t, err)
	mold, err := NewState(body, []float64{12, 21}, rates)
	require.NoError(t, err)
	courses := make([][]float64, 23)
	for i := range courses {
		for k := range 96 {
			courses[i] = append(courses[i], 15+5*math.Sin(float64(i+k)))
		}
	}
	e, err := NewEnsemble(body, 15, courses, 1800)
	require.NoError(t, err)
	told := func(processors int) []float64 {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
		out, err := e.Finish(mold, 0, func(i int) float64 { return 3600 * float64(2+i) })
		require.NoError(t, err)
		return out
	}
	one := told(1)
	for _, processors := range []int{2, 3, 4, 64} {
		require.Equal(t, one, told(processors), "%d processors", processors)
	}
}

func TestEnsembleRefuses(t *testing.T) {
	body := ensembleBody(t)
	_, err := NewEnsemble(body, 20, nil, 1800)
	require.ErrorContains(t, err, "want courses")
	_, err = NewEnsemble(body, 20, [][]float64{{1, 2}, {1}}, 1800)
	require.ErrorContains(t, err, "course 1 has 1 steps")
	other, err := NewState(ensembleBody(t), []float64{20, 20})
	require.NoError(t, err)
	e, err := NewEnsemble(body, 20, [][]float64{{20}}, 1800)
	require.NoError(t, err)
	_, err = e.Finish(other, 0, func(int) float64 { return 1 })
	require.ErrorContains(t, err, "another body")
}

func BenchmarkEnsemble(b *testing.B) {
	body := ensembleBody(b)
	rates, err := NewRates(arrhenius(50e3), -30, 60)
	require.NoError(b, err)
	courses := make([][]float64, 200)
	for i := range courses {
		courses[i] = make([]float64, 144)
		for k := range courses[i] {
			courses[i][k] = 15 + 5*math.Sin(float64(i+k)/7)
		}
	}
	mold, err := NewState(body, []float64{15, 20}, rates)
	require.NoError(b, err)
	require.NoError(b, mold.Step(15, 600))
	age := func(int) float64 { return 16 * 3600 }
	e, err := NewEnsemble(body, 15, courses, 1800)
	require.NoError(b, err)
	b.Run("shared", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := NewEnsemble(body, 15, courses, 1800); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("mold", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := e.Finish(mold, 0, age); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("alone", func(b *testing.B) {
		scratch, err := NewState(body, []float64{0, 0}, rates)
		require.NoError(b, err)
		b.ReportAllocs()
		for b.Loop() {
			for _, c := range courses {
				if err := scratch.Copy(mold); err != nil {
					b.Fatal(err)
				}
				scratch.Finish(0, 16*3600, c, 1800)
			}
		}
	})
}
