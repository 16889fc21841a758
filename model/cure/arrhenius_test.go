package cure

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// exactAge integrates the Arrhenius rate over a linear temperature by the exponential integral: the primitive of
// exp(-b/T) is T*E2(b/T), with E2 by the continued fraction of Abramowitz and Stegun (1964), 5.1.22.
func exactAge(a Arrhenius, fromC, toC, seconds float64) float64 {
	low, high := math.Min(fromC, toC)+kelvin, math.Max(fromC, toC)+kelvin
	b := a.EaJ / GasConstant
	primitive := func(temp float64) float64 {
		return temp * e2Scaled(b/temp) * math.Exp(b/(a.RefC+kelvin)-b/temp)
	}
	return seconds * (primitive(high) - primitive(low)) / (high - low)
}

// e2Scaled is exp(x)*E2(x) for x >= 1, by Lentz's method.
func e2Scaled(x float64) float64 {
	const n = 2
	b := x + n
	c, d := math.Inf(1), 1/b
	h := d
	for i := 1; i < 10000; i++ {
		an := -float64(i) * float64(n-1+i)
		b += 2
		d = 1 / (an*d + b)
		c = b + an/c
		h *= c * d
		if math.Abs(c*d-1) < 1e-16 {
			break
		}
	}
	return h
}

func TestAgeMatchesExponentialIntegral(t *testing.T) {
	for _, ea := range []float64{20e3, 35e3, 50e3, 80e3, 120e3} {
		a := Arrhenius{EaJ: ea, RefC: 23, FloorC: math.Inf(-1)}
		for _, step := range [][2]float64{{10, 40}, {40, 10}, {-40, 80}, {20, 25}, {22, 24}, {-90, 300}} {
			want := exactAge(a, step[0], step[1], 86400)
			require.InEpsilon(t, want, a.Age(step[0], step[1], 86400), 2e-12, "Ea %g, %v", ea, step)
		}
	}
}

// ageByGauss is a second reference for small steps, where the difference of primitives loses its digits: five Gauss points
// (Abramowitz and Stegun, table 25.4).
func ageByGauss(a Arrhenius, fromC, toC, seconds float64) float64 {
	points := []float64{0, 0.538469310105683, -0.538469310105683, 0.906179845938664, -0.906179845938664}
	weights := []float64{0.568888888888889, 0.478628670499366, 0.478628670499366, 0.236926885056189, 0.236926885056189}
	var sum float64
	for i, x := range points {
		temp := (fromC+toC)/2 + x*(toC-fromC)/2 + kelvin
		sum += weights[i] / 2 * math.Exp(a.EaJ/GasConstant*(1/(a.RefC+kelvin)-1/temp))
	}
	return seconds * sum
}

func TestAgeOfSmallStepsMatchesGauss(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(-40, 80).Draw(t, "from")
		step := rapid.Float64Range(-1.5, 1.5).Draw(t, "step")
		a := Arrhenius{EaJ: rapid.Float64Range(0, 120e3).Draw(t, "eaJ"), RefC: 23, FloorC: math.Inf(-1)}
		require.InEpsilon(t, ageByGauss(a, from, from+step, 10), a.Age(from, from+step, 10), 2e-12)
	})
}

func TestDEaMatchesDifferenceQuotient(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(-10, 60).Draw(t, "from")
		to := rapid.Float64Range(-10, 60).Draw(t, "to")
		ea := rapid.Float64Range(0, 120e3).Draw(t, "ea")
		age := func(ea float64) float64 { return Arrhenius{EaJ: ea, RefC: 23, FloorC: 5}.Age(from, to, 1000) }
		var acc Account
		Arrhenius{EaJ: ea, RefC: 23, FloorC: 5}.Add(&acc, from, to, 1000)
		require.InDelta(t, (age(ea+1)-age(ea-1))/2, acc.DEa, 2e-11*acc.Age+1e-9)
	})
}

// A year of readings in plain sums stays within the rounding that Account states.
func TestPlainSumsHoldForAYear(t *testing.T) {
	temps, law := annexYear(), Arrhenius{EaJ: 50e3, RefC: 23, FloorC: 5}
	exact := new(big.Float).SetPrec(120)
	var acc Account
	for i := 1; i < len(temps); i++ {
		law.Add(&acc, temps[i-1], temps[i], 10)
		exact.Add(exact, big.NewFloat(law.Age(temps[i-1], temps[i], 10)))
	}
	want, _ := exact.Float64()
	require.InEpsilon(t, want, acc.Age, 2e-10)
	t.Logf("relative rounding of the year's sum: %.1e", acc.Age/want-1)
}

func TestAddAllocatesNothing(t *testing.T) {
	var acc Account
	law := Arrhenius{EaJ: 50e3, RefC: 23, FloorC: 15}
	require.Zero(t, testing.AllocsPerRun(100, func() {
		law.Add(&acc, 20, 20.1, 10)
		law.Add(&acc, 10, 40, 86400)
	}))
}
