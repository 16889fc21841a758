package cure

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// row is one line of a check table, by column name.
type row map[string]string

// readTable reads a check table and fails the test when it is broken or empty.
func readTable(t *testing.T, path string) []row {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	reader := csv.NewReader(file)
	reader.LazyQuotes = true
	lines, err := reader.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1, "%s holds no checks", path)
	rows := make([]row, 0, len(lines)-1)
	for _, line := range lines[1:] {
		r := row{}
		for i, name := range lines[0] {
			r[name] = line[i]
		}
		require.NotEmpty(t, r["source"], "%s %s names no source", path, r["id"])
		require.NotEmpty(t, r["status"], "%s %s has no status", path, r["id"])
		rows = append(rows, r)
	}
	return rows
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return x
}

// input returns the list that a row's inputs give under a name, nil when they do not.
func (r row) input(t *testing.T, name string) (list []float64) {
	t.Helper()
	for part := range strings.SplitSeq(r["inputs"], ";") {
		if key, values, _ := strings.Cut(part, "="); key == name {
			for _, text := range strings.Fields(values) {
				list = append(list, number(t, text))
			}
		}
	}
	return list
}

// one returns the single input of that name, or otherwise.
func (r row) one(t *testing.T, name string, otherwise float64) float64 {
	t.Helper()
	if list := r.input(t, name); len(list) == 1 {
		return list[0]
	}
	return otherwise
}

// law builds the law that a row names, with the shift in K that puts its own 0 degC at 273.15 K.
func (r row) law(t *testing.T) (law Law, shift float64) {
	t.Helper()
	shift = r.one(t, "zero", kelvin) - kelvin
	ref := r.one(t, "ref", 20) + shift
	switch r["law"] {
	case "eurocode":
		return Eurocode{}, 0
	case "hansen":
		return HansenPedersen{FloorC: -20}, 0
	case "nurse-saul":
		datum := r.one(t, "datum", 0)
		return NurseSaul{DatumC: datum, RefC: datum + 1}, 0
	case "q10":
		return Q10{Factor: r.one(t, "factor", 2), RefC: ref}, 0
	}
	require.Equal(t, "arrhenius", r["law"])
	const boltzmannEV = 8.617e-5 // eV/K, as the handbook rounds it
	ea := 1000 * r.one(t, "ea", 0)
	ea += GasConstant * (r.one(t, "q", 0) + r.one(t, "eV", 0)/boltzmannEV)
	return Arrhenius{EaJ: ea, RefC: ref, FloorC: -20}, shift
}

func TestLawsAgainstPublishedValues(t *testing.T) {
	for _, r := range readTable(t, "testdata/laws.csv") {
		t.Run(r["id"], func(t *testing.T) {
			law, shift := r.law(t)
			temps := r.input(t, "temps")
			var got float64
			if target, ok := strings.CutPrefix(r["result"], "hours to "); ok {
				got = number(t, target) / law.Rate(temps[0]+shift)
			} else {
				for i, seconds := range r.input(t, "times") {
					got += law.Age(temps[i]+shift, temps[i]+shift, seconds)
				}
			}
			require.InDelta(t, number(t, r["expected"]), got, number(t, r["tolerance"]))
		})
	}
}

// value computes a row of values.csv.
func (r row) value(t *testing.T) float64 {
	t.Helper()
	temps, times := r.input(t, "temps"), r.input(t, "times")
	h := 1000 * r.one(t, "h", 0)
	swing := r.one(t, "amplitude", 0)
	switch r["quantity"] {
	case "mean kinetic":
		return MeanKineticC(h, temps)
	case "mean kinetic trapezoid":
		return MeanKineticTrapezoidC(h, times, temps)
	case "mean kinetic step":
		return MeanKineticStepC(h, times, temps)
	case "ea from q10":
		return EaFromQ10(r.one(t, "factor", 0), temps[0], temps[1]) / 1000
	case "gel conversion":
		return GelConversion(int(r.one(t, "f", 0)))
	case "autocatalytic":
		return Autocatalytic(r.one(t, "a", 0), r.one(t, "b", 0), r.one(t, "t", 0))
	case "q10 swing":
		return SwingGain(Q10{Factor: r.one(t, "factor", 0), RefC: 23}, 20, swing)
	case "arrhenius swing":
		law := Arrhenius{EaJ: 1000 * r.one(t, "ea", 0), RefC: 23}
		return SwingGain(law, r.one(t, "mean", 0), swing)
	}
	band, err := EaFromTwo(Timing{temps[0], times[0]}, Timing{temps[1], times[1]}, r.one(t, "error", 0))
	require.NoError(t, err)
	pick := map[string]float64{"ea from two": band.LikelyJ, "ea from two low": band.LowJ, "ea from two high": band.HighJ}
	require.Contains(t, pick, r["quantity"])
	return pick[r["quantity"]] / 1000
}

func TestValuesAgainstPublishedValues(t *testing.T) {
	for _, r := range readTable(t, "testdata/values.csv") {
		t.Run(r["id"], func(t *testing.T) {
			require.InDelta(t, number(t, r["expected"]), r.value(t), number(t, r["tolerance"]))
		})
	}
}

// The vaccine of AccelStab loses antigenicity by a law of order k3 with rate constant exp(k1 - k2/T) a year.
func TestConversionThroughTemperatureHistory(t *testing.T) {
	const k1, k2, k3, start = 42.40476118, 11966.547375, 8.4721813346, 98.0575684768
	law := Arrhenius{EaJ: k2 * GasConstant, RefC: 5, FloorC: math.Inf(-1)}
	rate := math.Exp(k1 - k2/(5+kelvin))
	for _, r := range readTable(t, "testdata/conversion.csv") {
		t.Run(r["id"], func(t *testing.T) {
			var age float64
			for piece := range strings.FieldsSeq(r["pieces"]) {
				temp, years, _ := strings.Cut(piece, "*")
				age += law.Age(number(t, temp), number(t, temp), number(t, years))
			}
			left := start * (1 - OrderN(k3, rate*age))
			require.InDelta(t, number(t, r["expected"]), left, number(t, r["tolerance"]))
			if r["id"] == "4" {
				require.InDelta(t, 7.64587, age, 1e-4, "equivalent years at 5 degC")
			}
		})
	}
}

// Plowman's strength relation closes the two textbook examples: percent of the strength at 19 800 degC h = a + b*log10(M/1000)
// (Shetty, Concrete Technology, from memory).
func TestMayTheFormworkComeOff(t *testing.T) {
	percent := func(a, b, maturity float64) float64 { return a + b*math.Log10(maturity/1000) }
	law := NurseSaul{DatumC: -11, RefC: 20}
	week := 7 * (law.KelvinSeconds(20, 20, 12) + law.KelvinSeconds(10, 10, 12))
	require.InDelta(t, 66.5, percent(32, 54, week), 0.2)
	require.InDelta(t, 26.6, percent(32, 54, week)/100*40, 0.2)

	cold := law.KelvinSeconds(5, 5, 15*24)
	require.InDelta(t, 67.39, percent(21, 61, cold), 0.1)
	require.InDelta(t, 21.9, percent(21, 61, cold)/100*32.5, 0.1)
	require.Less(t, percent(21, 61, cold)/100*32.5, 25.0, "it may not be stripped")
	require.InDelta(t, 21.5, 8256/law.KelvinSeconds(5, 5, 24), 0.1, "days needed")
}
