package mix

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestBatches(t *testing.T) {
	for _, row := range table(t, "testdata/batches.csv") {
		t.Run(row["case"], func(t *testing.T) {
			r := recipe(t, row)
			total := number(t, row["total_g"])
			b, err := r.Batch(total)
			require.NoError(t, err)
			require.InDeltaSlice(t, numbers(t, row["part_g"]), grams(b.Parts), 1e-9)
			require.InDeltaSlice(t, numbers(t, row["additive_g"]), grams(b.Additives), 1e-9)
			require.InDelta(t, total, b.TotalGrams, 1e-9)

			again, err := r.FromPart(b.Parts[0].Name, b.Parts[0].Grams)
			require.NoError(t, err)
			require.InDelta(t, total, again.TotalGrams, 1e-9)
		})
	}
}

func TestVolumes(t *testing.T) {
	for _, row := range table(t, "testdata/volumes.csv") {
		t.Run(row["kind"]+" "+row["values"], func(t *testing.T) {
			require.InDeltaSlice(t, numbers(t, row["result"]), volume(t, row["kind"], numbers(t, row["values"])), 1e-9)
		})
	}
}

func volume(t *testing.T, kind string, v []float64) []float64 {
	t.Helper()
	var one float64
	var err error
	switch kind {
	case "box":
		one, err = Box{v[0], v[1], v[2], v[3]}.MilliLiters()
	case "brushed":
		one, err = Brushed{v[0], v[1], int(v[2])}.MilliLiters()
	case "grams":
		one, err = Grams(v[0], v[1], v[2])
	case "cup":
		f, err := Cup{BrimMilliLiters: v[1], DiameterMM: v[2], Fill: v[3]}.Split(v[0])
		require.NoError(t, err)
		return []float64{float64(f.Cups), f.MilliLitersEach, f.HeightMM}
	}
	require.NoError(t, err)
	return []float64{one}
}

func TestHeatBalances(t *testing.T) {
	for _, row := range table(t, "testdata/warmth.csv") {
		t.Run(row["case"], func(t *testing.T) {
			r := recipe(t, row)
			for i, heat := range numbers(t, row["heats"]) {
				r.Parts[i].JPerGramK = heat
			}
			got, err := r.MixedC(numbers(t, row["temps_c"])...)
			require.NoError(t, err)
			require.InDelta(t, number(t, row["mixed_c"]), got, number(t, row["tolerance_k"]))
		})
	}
}

func TestTimeFactorsMultiply(t *testing.T) {
	r := twoParts(1)
	require.Equal(t, 1.0, r.TimeFactor())
	r.Additives = []Additive{{Name: "retarder", Share: 0.05, TimeFactor: 2}, {Name: "thixo", Share: BrushableShare}, {Name: "pigment", Share: 0.02, TimeFactor: 0.9}}
	b, err := r.Batch(100)
	require.NoError(t, err)
	require.InDelta(t, 1.8, b.TimeFactor, 1e-12)
}

// Densities of volumes that add: a liter of each of two parts holds both their weights in two liters.
func TestDensityOfTheMix(t *testing.T) {
	byVolume := Recipe{Basis: ByVolume, Parts: []Part{{Name: "A", Ratio: 1, GramsPerML: 1.2}, {Name: "B", Ratio: 1, GramsPerML: 1}}}
	got, err := byVolume.GramsPerML()
	require.NoError(t, err)
	require.InDelta(t, 1.1, got, 1e-12)

	byWeight := Recipe{Parts: []Part{{Name: "A", Ratio: 1.2, GramsPerML: 1.2}, {Name: "B", Ratio: 1, GramsPerML: 1}}}
	got, err = byWeight.GramsPerML()
	require.NoError(t, err)
	require.InDelta(t, 1.1, got, 1e-12)
}

func TestDeviationOfWeightsPoured(t *testing.T) {
	r := twoParts(10)
	got, err := r.Deviation(100, 10)
	require.NoError(t, err)
	require.InDelta(t, 0, got, 1e-12)
	got, err = r.Deviation(100, 11) // a tenth too much of B
	require.NoError(t, err)
	require.InDelta(t, 0.1, got, 1e-12)
}

func twoParts(ratio float64) Recipe {
	return Recipe{Parts: []Part{{Name: "A", Ratio: ratio}, {Name: "B", Ratio: 1}}, Tolerance: 0.02}
}

func drawRecipe(t *rapid.T) Recipe {
	r := Recipe{Basis: Basis(rapid.IntRange(0, 1).Draw(t, "basis")), Tolerance: rapid.Float64Range(0.002, 0.2).Draw(t, "tolerance")}
	for i := range rapid.IntRange(2, 4).Draw(t, "parts") {
		r.Parts = append(r.Parts, Part{
			Name:       string(rune('A' + i)),
			Ratio:      rapid.Float64Range(1, 100).Draw(t, "ratio"),
			GramsPerML: rapid.Float64Range(0.7, 3).Draw(t, "density"),
		})
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "additives") {
		r.Additives = append(r.Additives, Additive{
			Name:  string(rune('x' + i)),
			Share: rapid.Float64Range(1e-4, 0.2).Draw(t, "share"),
			Of:    rapid.SampledFrom([]string{"", "A", "B"}).Draw(t, "of"),
		})
	}
	return r
}

func TestWeightsAddUpAndKeepTheRatio(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRecipe(t)
		total := rapid.Float64Range(0.1, 1e5).Draw(t, "total")
		b, err := r.Batch(total)
		require.NoError(t, err)
		sum := 0.0
		for _, w := range b.weights() {
			require.Positive(t, w.Grams)
			sum += w.Grams
		}
		require.InDelta(t, total, sum, 1e-9*max(1, total))
		require.InDelta(t, total, b.TotalGrams, 1e-9*max(1, total))
		off, err := r.Deviation(grams(b.Parts)...)
		require.NoError(t, err)
		require.InDelta(t, 0, off, 1e-12)
		density, err := r.GramsPerML()
		require.NoError(t, err)
		require.True(t, density > 0.69 && density < 3.01)
	})
}

func TestCupsHoldTheBatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Cup{BrimMilliLiters: rapid.Float64Range(10, 5000).Draw(t, "brim"), DiameterMM: rapid.Float64Range(20, 300).Draw(t, "wide")}
		ml := rapid.Float64Range(0.1, 5000).Draw(t, "mL")
		f, err := c.Split(ml)
		require.NoError(t, err)
		most := c.BrimMilliLiters * StirFill * (1 + 1e-9)
		require.LessOrEqual(t, f.MilliLitersEach, most)
		require.InDelta(t, ml, f.MilliLitersEach*float64(f.Cups), 1e-9)
		require.Greater(t, ml/(float64(f.Cups)-1), most*(1-1e-8), "one cup fewer would do")
		require.InDelta(t, f.MilliLitersEach*1000, f.HeightMM*math.Pi*c.DiameterMM*c.DiameterMM/4, 1e-6)
	})
}

// The mix is never colder than its coldest part nor warmer than its warmest.
func TestMixedLiesBetweenTheParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRecipe(t)
		temps := make([]float64, len(r.Parts))
		low, high := math.Inf(1), math.Inf(-1)
		for i := range temps {
			temps[i] = rapid.Float64Range(0, 40).Draw(t, "°C")
			low, high = min(low, temps[i]), max(high, temps[i])
			r.Parts[i].JPerGramK = rapid.Float64Range(0.5, 4.2).Draw(t, "J/(g K)")
		}
		got, err := r.MixedC(temps...)
		require.NoError(t, err)
		require.True(t, got >= low-1e-9 && got <= high+1e-9)
	})
}
