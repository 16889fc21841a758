package cure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestKnownJudgesATemperature(t *testing.T) {
	known := Known{LowC: 15, HighC: 25, FloorC: 5}
	for _, c := range []struct {
		tempC    float64
		standing Standing
		byK      float64
		words    string
	}{
		{15, Inside, 0, "15.0 °C is inside the known range"},
		{25, Inside, 0, "25.0 °C is inside the known range"},
		{12, Extrapolated, -3, "12.0 °C is 3.0 K below the known range: the band is wider"},
		{35, Extrapolated, 10, "35.0 °C is 10.0 K above the known range: the band is wider"},
		{35.5, TooFar, 10.5, "35.5 °C is 10.5 K above the known range: too far to project"},
		{4.9, BelowFloor, -10.1, "4.9 °C is below the floor of 5.0 °C: no cure is assumed and no time projected"},
	} {
		v := known.Judge(c.tempC)
		require.Equal(t, c.standing, v.Standing, "%g", c.tempC)
		require.InDelta(t, c.byK, v.ByK, 1e-9)
		require.Equal(t, c.words, v.String())
		require.Equal(t, c.standing <= Extrapolated, v.Projects())
	}
	require.Equal(t, TooFar, known.Judge(math.NaN()).Standing)
}

func TestBandWidensWithTheDistance(t *testing.T) {
	known := Known{LowC: 15, HighC: 25, FloorC: math.Inf(-1)}
	require.Zero(t, known.Judge(20).LnSD(15e3))
	near, far := known.Judge(10).LnSD(15e3), known.Judge(5).LnSD(15e3)
	require.InDelta(t, 15e3/GasConstant*5/(283.15*283.15), near, 1e-12)
	require.InDelta(t, 15e3/GasConstant*15/(278.15*278.15), far, 1e-12)
	require.True(t, math.IsInf(known.Judge(0).LnSD(15e3), 1))
}
