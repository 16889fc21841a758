package sensors

import (
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

// Saturated salts at 25 °C: magnesium chloride 32.8 %, sodium chloride 75.3 % (Greenspan, J. Res. NBS 81A
// (1977) 89-96; from memory).
func TestTwoSaltsPutTheHumidityRight(t *testing.T) {
	c := Correction{OffsetK: -0.3, Humidity: [2]HumidityPoint{{Reads: 0.36, Is: 0.328}, {Reads: 0.72, Is: 0.753}}}
	require.NoError(t, c.Check())
	for reads, is := range map[float64]float64{0.36: 0.328, 0.72: 0.753, 0.54: 0.5405, 1: 1, 0: 0} {
		temp, humidity := c.apply(GoodMeasure(20), GoodMeasure(reads))
		require.InDelta(t, 19.7, temp.Value, 1e-12)
		require.InDelta(t, is, humidity.Value, 1e-9, "%g", reads)
	}
	temp, humidity := c.apply(Measure{}, Measure{})
	require.Equal(t, Measure{}, temp, "nothing stays nothing")
	require.Equal(t, Measure{}, humidity)
}

func TestCorrectionOfNothing(t *testing.T) {
	require.NoError(t, Correction{}.Check())
	temp, humidity := Correction{}.apply(GoodMeasure(20), GoodMeasure(0.5))
	require.Equal(t, GoodMeasure(20), temp)
	require.Equal(t, GoodMeasure(0.5), humidity)
}

func TestUselessCorrectionIsRefused(t *testing.T) {
	for _, points := range [][2]HumidityPoint{
		{{0.33, 0.33}, {0.35, 0.75}}, {{0.72, 0.75}, {0.36, 0.33}}, {{-0.1, 0.3}, {0.7, 0.75}}, {{0.3, 0.3}, {0.7, 1.2}},
	} {
		require.Error(t, Correction{Humidity: points}.Check(), "%v", points)
	}
}

func TestReadingIsCorrectedOnItsGrid(t *testing.T) {
	c := Correction{OffsetK: 1.0 / 3}
	r := c.Correct(Reading{Probe: "bench", At: noon, Temp: GoodMeasure(20), Humidity: GoodMeasure(0.5)})
	require.Equal(t, Reading{Probe: "bench", At: noon, Temp: GoodMeasure(20.333), Humidity: GoodMeasure(0.5)}, r)
	failed := Failed("bench", noon, io.EOF)
	require.Equal(t, failed, c.Correct(failed), "there is nothing to correct")
}
