package air

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func drawAir(t *rapid.T) (tempC, humidity float64) {
	return rapid.Float64Range(-40, 60).Draw(t, "tempC"), rapid.Float64Range(0.01, 1).Draw(t, "humidity")
}

func TestDewPointAndHumidityRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tempC, humidity := drawAir(t)
		require.InDelta(t, humidity, Humidity(tempC, DewPointC(tempC, humidity)), 1e-9)
		dewPoint := rapid.Float64Range(-40, tempC).Draw(t, "dewPoint")
		require.InDelta(t, dewPoint, DewPointC(tempC, Humidity(tempC, dewPoint)), 1e-9)
		require.InDelta(t, VapourPa(tempC, humidity), SaturationIcePa(FrostPointC(tempC, humidity)), 1e-8)
	})
}

func TestSaturatedAirIsAtItsDewPoint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tempC, humidity := drawAir(t)
		require.InDelta(t, tempC, DewPointC(tempC, 1), 1e-9)
		require.LessOrEqual(t, DewPointC(tempC, humidity), tempC+1e-9)
		require.InDelta(t, 0, SurfaceMarginK(DewPointC(tempC, humidity), tempC, humidity), 0)
	})
}

// Below freezing the frost point lies above the dew point, by up to 1.7 K in a dry shop near 5 degC.
func TestFrostPointIsAboveDewPointInTheCold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dewPoint := rapid.Float64Range(-40, -0.1).Draw(t, "dewPoint")
		require.Greater(t, FrostPointC(5, Humidity(5, dewPoint)), dewPoint)
	})
	require.InDelta(t, 1.75, FrostPointC(5, 0.2)-DewPointC(5, 0.2), 0.05)
}

func TestWetBulbIsBetweenDewPointAndAir(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tempC := rapid.Float64Range(1, 50).Draw(t, "tempC")
		humidity := rapid.Float64Range(0.05, 1).Draw(t, "humidity")
		wetC := WetBulbC(tempC, humidity, 101325)
		require.LessOrEqual(t, wetC, tempC+1e-8)
		require.GreaterOrEqual(t, wetC, DewPointC(tempC, humidity)-1e-8)
		if math.Abs(wetC) > 1e-6 { // at 0 degC the water and the ice relation meet with a step
			require.InDelta(t, HumidityRatio(tempC, humidity, 101325), WetBulbRatio(tempC, wetC, 101325), 1e-9)
		}
	})
}

func TestSlopesAreTheDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tempC, humidity := drawAir(t)
		const step = 1e-6
		perK, perHumidity := DewPointSlopes(tempC, humidity)
		rise := (DewPointC(tempC+step, humidity) - DewPointC(tempC-step, humidity)) / (2 * step)
		require.InEpsilon(t, rise, perK, 1e-5)
		damp := (DewPointC(tempC, humidity*(1+step)) - DewPointC(tempC, humidity*(1-step))) / (2 * step * humidity)
		require.InEpsilon(t, damp, perHumidity, 1e-5)
	})
}

func TestErrorsAddInQuadrature(t *testing.T) {
	air := DewPointSD(20, 0.5, 0.3, 0.02)
	require.InDelta(t, math.Hypot(air, 0.5), SurfaceMarginSD(20, 0.5, 0.5, 0.3, 0.02), 1e-12)
	require.Zero(t, DewPointSD(20, 0.5, 0, 0))
}

// Saturated air at 20 degC holds 17.3 g/m3 (handbook tables of absolute humidity).
func TestAbsoluteHumidity(t *testing.T) {
	require.InDelta(t, 17.3, AbsoluteHumidity(20, 1), 0.06)
	require.InDelta(t, 9.4, AbsoluteHumidity(10, 1), 0.05)
	require.Zero(t, AbsoluteHumidity(20, 0))
}

func TestOutsideTheFormulasIsNaN(t *testing.T) {
	for name, x := range map[string]float64{
		"dry air has no dew point":   DewPointC(20, 0),
		"negative humidity":          DewPointC(20, -0.1),
		"dry air has no frost point": FrostPointC(20, 0),
		"dry air has no margin":      SurfaceMarginK(20, 20, 0),
		"water pole":                 SaturationPa(-243.12),
		"ice pole":                   SaturationIcePa(-300),
		"NaN temperature":            DewPointC(math.NaN(), 0.5),
		"NaN humidity":               DewPointC(20, math.NaN()),
		"boiling":                    HumidityRatio(110, 1, 101325),
		"wet bulb above saturation":  WetBulbC(20, 1.1, 101325),
	} {
		require.True(t, math.IsNaN(x), "%s: %g", name, x)
	}
}
