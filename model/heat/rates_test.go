package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// floored is a law that stops below a temperature.
type floored struct {
	Rater
	floorC float64
}

func (f floored) Rate(tempC float64) float64 {
	if tempC < f.floorC {
		return 0
	}
	return f.Rater.Rate(tempC)
}

func TestTabulatedRateKeepsItsError(t *testing.T) {
	for _, law := range []Rater{arrhenius(20000), arrhenius(50000), arrhenius(120000), arrhenius(0), floored{arrhenius(60000), 10}, floored{arrhenius(60000), 7.3}} {
		rates := tabulated(t, law)
		rapid.Check(t, func(t *rapid.T) {
			tempC := rapid.Float64Range(-30, 90).Draw(t, "°C")
			want := law.Rate(tempC)
			require.InDelta(t, want, rates.Rate(tempC), 1e-9*want)

			age, rate := []float64{1}, []float64{0.5}
			rates.accrue(age, rate, []float64{tempC}, 10)
			require.InDelta(t, want, rate[0], 1e-9*want)
			require.InDelta(t, 1+5*(0.5+want), age[0], 1e-8*(1+want))
		})
	}
}

// A floor on an eighth of a degree costs nothing; any other costs one interval.
func TestTableFollowsAFloor(t *testing.T) {
	asked := func(law Rater) (n int) {
		for _, c := range tabulated(t, law).cubic {
			if math.IsNaN(c[0]) {
				n++
			}
		}
		return n
	}
	require.Zero(t, asked(arrhenius(50000)))
	require.Zero(t, asked(floored{arrhenius(50000), 10}))
	require.Equal(t, 1, asked(floored{arrhenius(50000), 7.3}))
}

func TestTablesThatCannotBe(t *testing.T) {
	for _, r := range [][2]float64{{20, 20}, {30, 20}, {math.NaN(), 20}, {0, math.Inf(1)}, {0, 5000}} {
		_, err := NewRates(arrhenius(0), r[0], r[1])
		require.Error(t, err)
	}
	_, err := NewRates(nil, 0, 20)
	require.Error(t, err)
	require.True(t, math.IsNaN(tabulated(t, arrhenius(50000)).Rate(math.NaN())))
}

// Cure through a whole day of swing: the mean rate of a law that doubles every
// ten kelvin is 1.0302544918 of that at the mean for 5 K (a Bessel function,
// I0(A ln 2/10)).
func TestMeanRateOfASwing(t *testing.T) {
	rates := tabulated(t, doubling{})
	age, rate := []float64{0}, []float64{rates.Rate(18)}
	for n := 1; n <= 8640; n++ {
		rates.accrue(age, rate, []float64{18 + 5*math.Sin(2*math.Pi*float64(n)/8640)}, 10)
	}
	require.InEpsilon(t, 1.0302544918, age[0]/86400/rates.Rate(18), 1e-6)
}

// doubling is a law that doubles every ten kelvin.
type doubling struct{}

func (doubling) Rate(tempC float64) float64 { return math.Exp2((tempC - 23) / 10) }
