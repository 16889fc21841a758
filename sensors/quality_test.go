package sensors

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// table reads a file of testdata as one map per row.
func table(t testing.TB, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// number reads a cell, NaN for an empty one.
func number(t testing.TB, text string) float64 {
	t.Helper()
	if text == "" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// series returns the values and flags of one published test vector.
func series(t *testing.T, name string) (values []float64, flags []int) {
	t.Helper()
	for _, row := range table(t, "testdata/series.csv") {
		if row["test"] == name {
			values = append(values, number(t, row["value"]))
			flags = append(flags, int(number(t, row["flag"])))
		}
	}
	require.NotEmpty(t, values, name)
	return values, flags
}

var noon = time.Date(2026, 1, 14, 12, 0, 0, 0, time.UTC)

func TestValuesByThemselves(t *testing.T) {
	for _, row := range table(t, "testdata/values.csv") {
		s := Sample{TempC: number(t, row["temp_c"]), Humidity: number(t, row["humidity"])}
		temp, humidity := NewJudge(Limits{}).Judge(noon, s)
		require.Equal(t, row["temp_quality"], temp.Quality.String(), row)
		require.Equal(t, row["temp_fault"], temp.Fault.String(), row)
		require.Equal(t, row["humidity_quality"], humidity.Quality.String(), row)
		require.Equal(t, row["humidity_fault"], humidity.Fault.String(), row)
		require.InDelta(t, number(t, row["humidity_value"]), humidity.Value, 1e-12, row)
	}
}

func TestFloatingBusOfAnUncheckedChip(t *testing.T) {
	s := Sample{TempC: -0.0625, Humidity: math.NaN()} // MCP9808 and TMP102 data sheets: 0xFFFF
	checked, _ := NewJudge(Limits{}).Judge(noon, s)
	require.Equal(t, Good, checked.Quality)
	unchecked, _ := NewJudge(Limits{Unchecked: true}).Judge(noon, s)
	require.Equal(t, Measure{Value: -0.0625, Quality: Bad, Fault: PowerOn}, unchecked)
}

func TestGrossRangeVector(t *testing.T) {
	values, flags := series(t, "gross-range") // fail outside 10..50, suspect outside 20..40
	for i, v := range values {
		flag := 1
		if !within(v, 20, 40) {
			flag = 3
		}
		if !within(v, 10, 50) {
			flag = 4
		}
		require.Equal(t, flags[i], flag, v)
	}
}

func TestRateVector(t *testing.T) {
	values, flags := series(t, "rate") // more than 5 per 15 min, a value each 15 min
	s := step{perMinute: 5.0 / 15, most: math.Inf(1)}
	for i := 1; i < len(values); i++ {
		beyond := math.Abs(values[i]-values[i-1]) > s.allowed(15*time.Minute)
		require.Equal(t, flags[i] == 3, beyond, "value %d, %g", i, values[i])
	}
}

func TestFlatLineVectors(t *testing.T) {
	// The published test counts whole samples: it rounds its 3000 s and 4800 s down to three and five
	// steps of 15 min. The limits here are given in those steps.
	for name, c := range map[string]struct {
		step   time.Duration
		within float64
	}{
		"flat-15min": {15 * time.Minute, 0.01},
		"flat-1s":    {time.Second, 0.1},
	} {
		values, flags := series(t, name)
		f := flat{within: c.within}
		for i, v := range values {
			lasting := f.add(noon.Add(time.Duration(i)*c.step), v)
			flag := 1
			if lasting >= 3*c.step {
				flag = 3
			}
			if lasting >= 5*c.step {
				flag = 4
			}
			require.Equal(t, flags[i], flag, "%s, value %d", name, i)
		}
	}
}

// The step test needs no look ahead, so it cannot be the spike test of the published vectors; but what
// that calls a failure, it must doubt, and it must not blame the neighbors.
func TestSpikeVectorsAreDoubted(t *testing.T) {
	for name, c := range map[string]struct {
		step   float64
		always []int // indexes that must be doubted
	}{
		"spike-average":      {25, []int{2}},    // 999.99; the average test fails its neighbors as well
		"spike-differential": {1, []int{4, 13}}, // 8 and 9
	} {
		values, flags := series(t, name)
		k := track{step: step{perMinute: c.step, most: c.step}}
		for i, v := range values {
			f := k.accept(point{at: noon.Add(time.Duration(i) * time.Minute), v: v, set: true}, false)
			for _, n := range c.always {
				require.Equal(t, 4, flags[n])
				if i == n {
					require.Equal(t, Jumped, f, "%s, value %d", name, i)
				}
				if i == n+1 && name == "spike-average" {
					require.Equal(t, NoFault, f, "%s, value %d", name, i)
				}
			}
		}
	}
}

// judgeTemps returns the faults of temperatures that follow each other after a time.
func judgeTemps(j *Judge, every time.Duration, temps ...float64) []Fault {
	var out []Fault
	for i, v := range temps {
		m, _ := j.Judge(noon.Add(time.Duration(i)*every), Sample{TempC: v, Humidity: math.NaN()})
		out = append(out, m.Fault)
	}
	return out
}

func TestJudgeOverTime(t *testing.T) {
	for name, c := range map[string]struct {
		every time.Duration
		temps []float64
		want  []Fault
	}{
		"a lone excursion is never good":           {time.Minute, []float64{20, 35, 20}, []Fault{NoFault, Jumped, NoFault}},
		"a draught is believed one sample late":    {time.Minute, []float64{20, 14, 13.5, 13}, []Fault{NoFault, Jumped, NoFault, NoFault}},
		"3 °C in a minute may be":                  {time.Minute, []float64{20, 17, 14}, []Fault{NoFault, NoFault, NoFault}},
		"6 °C in two minutes may be":               {2 * time.Minute, []float64{20, 14}, []Fault{NoFault, NoFault}},
		"11 °C in an hour need another":            {time.Hour, []float64{20, 9, 9}, []Fault{NoFault, Jumped, NoFault}},
		"the power-on value does not vouch itself": {time.Minute, []float64{20, 85, 85, 85, 20}, []Fault{NoFault, PowerOn, PowerOn, PowerOn, NoFault}},
		"85 °C on the way up is a measurement":     {time.Minute, []float64{81, 83.1, 85, 84.5}, []Fault{NoFault, NoFault, NoFault, NoFault}},
		"sign flip of a cheap probe":               {5 * time.Minute, []float64{16, -17, 16}, []Fault{NoFault, Jumped, NoFault}},
	} {
		require.Equal(t, c.want, judgeTemps(NewJudge(Limits{}), c.every, c.temps...), name)
	}
}

func TestJudgeAfterReopening(t *testing.T) {
	j := NewJudge(Limits{})
	j.Reopened()
	require.Equal(t, []Fault{Unsure, NoFault, NoFault}, judgeTemps(j, time.Second, 20, 20.1, 20))
	j.Reopened()
	require.Equal(t, []Fault{NoFault}, judgeTemps(j, time.Second, 20.5), "agrees with the last good one")
	j.Reopened()
	require.Equal(t, []Fault{Unsure, Unsure, NoFault}, judgeTemps(j, time.Second, 30, 40, 40.5), "needs another")
}

func TestStuckProbe(t *testing.T) {
	j := NewJudge(Limits{StuckAfter: 2 * time.Hour})
	s := Sample{TempC: 21.37, Humidity: 0.4411}
	for i := range 120 {
		temp, humidity := j.Judge(noon.Add(time.Duration(i)*time.Minute), s)
		require.True(t, temp.OK() && humidity.OK(), i)
	}
	temp, humidity := j.Judge(noon.Add(2*time.Hour), s)
	require.Equal(t, Measure{21.37, Suspect, Stuck}, temp)
	require.Equal(t, Measure{0.4411, Suspect, Stuck}, humidity)
	s.TempC = 21.38
	temp, humidity = j.Judge(noon.Add(2*time.Hour+time.Minute), s)
	require.True(t, temp.OK() && humidity.OK(), "saturated air keeps its humidity while its temperature moves")
}

// Whatever arrives, a good value is inside the limits, the record can hold it, and it is never further
// from both its neighbors than air can move.
func TestJudgeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := NewJudge(Limits{})
		at := noon
		for range rapid.IntRange(1, 40).Draw(t, "n") {
			at = at.Add(time.Duration(rapid.IntRange(-5, 3600).Draw(t, "dt")) * time.Second)
			if rapid.IntRange(0, 9).Draw(t, "reopen") == 0 {
				j.Reopened()
			}
			s := Sample{TempC: rapid.OneOf(rapid.Float64Range(15, 25), rapid.Float64()).Draw(t, "temp"),
				Humidity: rapid.OneOf(rapid.Float64Range(0, 1.2), rapid.Float64()).Draw(t, "rh")}
			temp, humidity := j.Judge(at, s)
			require.Equal(t, temp.OK(), temp.Quality == Good && temp.Fault == NoFault)
			if temp.OK() {
				require.True(t, temp.Value >= -40 && temp.Value <= 85)
			}
			if humidity.OK() {
				require.True(t, humidity.Value > 0 && humidity.Value <= 1)
			}
			require.LessOrEqual(t, math.Abs(temp.Value), nonsense)
			require.LessOrEqual(t, math.Abs(humidity.Value), nonsense)
		}
	})
}

func TestALoneExcursionIsNeverGood(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := NewJudge(Limits{})
		judgeTemps(j, time.Minute, 20, 20)
		v := rapid.OneOf(rapid.Float64Range(-1000, 9.9), rapid.Float64Range(30.1, 1000)).Draw(t, "v")
		m, _ := j.Judge(noon.Add(time.Hour), Sample{TempC: v, Humidity: math.NaN()})
		require.False(t, m.OK(), v)
		m, _ = j.Judge(noon.Add(time.Hour+time.Minute), Sample{TempC: 20, Humidity: math.NaN()})
		require.True(t, m.OK())
	})
}

func BenchmarkJudge(b *testing.B) {
	j := NewJudge(Limits{})
	at := noon
	b.ReportAllocs()
	for i := range b.N {
		at = at.Add(time.Minute)
		j.Judge(at, Sample{TempC: 20 + float64(i%7)*0.01, Humidity: 0.5})
	}
}
