package dry

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model/air"
)

func TestWarmUp(t *testing.T) {
	for _, r := range table(t, "warmup.csv") {
		start, a := r.number(t, "start_c"), still(r.number(t, "air_c"), r.number(t, "humidity"))
		got, ok := LumpedWait(start, a, 1)
		if r["body"] != "lumped" {
			ground := Ground{r.number(t, "conductivity_w"), r.number(t, "density_kg"), r.number(t, "heat_j")}
			got, ok = ground.ThickWait(start, a, IndoorH)
			got /= 3600
		}
		if r["expected"] == "never" {
			require.False(t, ok, "%v", r)
			continue
		}
		require.True(t, ok, "%v", r)
		require.InDelta(t, r.number(t, "expected"), got, r.number(t, "tolerance"), "%v", r)
	}
}

// Surface temperature of a semi-infinite rubber (0.22 W/mK, 1200 kg/m³, 1300
// J/kgK) under 8 W/m²K: 0.2885068218 of the step after 600 s, 0.5175111047 after
// 3600 s (Carslaw and Jaeger 2.7, evaluated apart from this code).
func TestThickWaitAgainstTheSolid(t *testing.T) {
	rubber := Ground{0.22, 1200, 1300}
	a := still(23, 0.5)
	target := air.DewPointC(23, 0.5) + 3
	for seconds, share := range map[float64]float64{600: 0.2885068218, 3600: 0.5175111047} {
		start := (target - share*a.AirC) / (1 - share)
		got, ok := rubber.ThickWait(start, a, 8)
		require.True(t, ok)
		require.InEpsilon(t, seconds, got, 1e-8)
	}
}

// 1 - e·erfc(1) = 0.5724 in closed form; the continued fraction takes over from
// the product of exponential and erfc without a step.
func TestScaledErfc(t *testing.T) {
	require.InDelta(t, 0.5724, 1-scaledErfc(1), 1e-4)
	require.InEpsilon(t, math.Exp(25)*math.Erfc(5), scaledErfc(5), 1e-12)
	require.InEpsilon(t, 1/(math.SqrtPi*1e6), scaledErfc(1e6), 1e-9)
}

func TestWaitsWithoutAnAnswer(t *testing.T) {
	plaster := Ground{0.43, 1200, 1000}
	for _, a := range []Air{still(20, 0.85), still(20, math.NaN()), still(math.NaN(), 0.5), still(4, 0.9)} {
		_, ok := LumpedWait(3, a, 1)
		require.False(t, ok)
		_, ok = plaster.ThickWait(3, a, 8)
		require.False(t, ok)
	}
	wait, ok := plaster.ThickWait(20, still(23, 0.5), 8)
	require.True(t, ok)
	require.Zero(t, wait)
}

// A sphere of 1 mm (k 35, rho 8500, c 320, h 210) answers to 99 % in 10 s
// (Cengel, Heat and Mass Transfer, example 4-1).
func TestLumpedBody(t *testing.T) {
	bead := Ground{35, 8500, 320}
	radiusOverThree := 0.001 / 6
	require.InDelta(t, 0.001, bead.Biot(radiusOverThree, 210), 1e-5)
	constant := bead.LumpedSeconds(radiusOverThree, 210)
	require.InDelta(t, 0.4632, 1/constant, 1e-3)
	require.InDelta(t, 9.95, constant*math.Log(100), 0.1)
}

// Air of 23 °C and 60 % on a surface of 5 °C: 73 g/m² in an hour, by the
// Chilton-Colburn analogy with 4 W/m²K (evaluated apart from this code).
func TestDew(t *testing.T) {
	require.InDelta(t, 73, DewPerHour(Air{23, 5, 0.6}), 1)
	require.Zero(t, DewPerHour(Air{23, 16, 0.6}))
	require.True(t, math.IsNaN(DewPerHour(Air{23, 5, math.NaN()})))
}

func TestWarmedAsksForHalfAnHourAndNoFallingBack(t *testing.T) {
	at := func(surfaceC float64) Air { return Air{23, surfaceC, 0.5} } // dew point 12.0 °C
	var w Warmed
	w = w.Advance(at(14), at(16), 600)
	require.Zero(t, w, "begins below the margin")
	w = w.Advance(at(16), at(17), 1200)
	require.False(t, w.Settled())
	w = w.Advance(at(17), at(17.5), 600)
	require.True(t, w.Settled())
	require.False(t, w.Advance(at(17.5), at(15.8), 600).Settled(), "the core drew it back")
	require.Zero(t, w.Advance(at(17.5), still(23, 0.5), 600), "a surface without a probe is not known to be warm")
}
