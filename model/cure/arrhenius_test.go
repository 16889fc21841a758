package cure

import (
	"math"
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
			require.InEpsilon(t, want, a.Age(step[0], step[1], 86400), 1e-10, "Ea %g, %v", ea, step)
		}
	}
}

func TestDEaMatchesDifferenceQuotient(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(-10, 60).Draw(t, "from")
		to := rapid.Float64Range(-10, 60).Draw(t, "to")
		ea := rapid.Float64Range(0, 120e3).Draw(t, "ea")
		age := func(ea float64) float64 { return Arrhenius{EaJ: ea, RefC: 23, FloorC: 5}.Age(from, to, 1000) }
		var acc Account
		Arrhenius{EaJ: ea, RefC: 23, FloorC: 5}.Add(&acc, from, to, 1000)
		require.InDelta(t, (age(ea+1)-age(ea-1))/2, acc.DEa, 1e-7*(1+acc.Age/1000))
	})
}
