package cure

import "math"

// How a linear piece is integrated
//
// Let m be the middle of the piece in K, h half its temperature step, b = Ea/R, beta = b/m and u = h/m. With T = m(1+y)
// the rate is the rate at m times g(y) = exp(beta*y/(1+y)), and the mean of g over -u..u is the even series
//
//	S = 1 + c2*u^2/3 + c4*u^4/5 + ...
//
// where g = sum of c_n*y^n has c_0 = 1, c_1 = beta, (n+1)*c_(n+1) = (beta-2n)*c_n - (n-1)*c_(n-1): the Laguerre
// polynomials L_n^(-1)(beta) with alternating sign. The piece adds seconds * rate(m) * S, one exponential in all.
//
// Bound. |c_n| <= a_n, the coefficients of exp(|beta|*y/(1-y)), whose recurrence gives a_(n+1) <= a_n*(|beta|+2n)/(n+1). So
// with z = |beta|*u, a_n*u^n <= product over j = 1..n of (z+2u(j-1))/j. As the code keeps reach = z + 10u below a limit,
// every factor up to j = 6 is at most reach/j: term n is at most reach^n/n!, and its mean reach^n/(n+1)!. Left out are
//
//	after u^2, reach <= 0.0032:  0.0032^4/5! = 8.7e-13
//	after u^4, reach <= 0.04:    0.04^6/7!   = 8.1e-13
//
// and less than a thousandth of that in all later terms. S is at least exp(-z/(1-u)) > 0.96, so the relative error is below
// 1e-12. A longer step is halved until it meets the limit; all parts are positive, so their sum keeps the bound. DEa leaves
// out the u^4 part of dS/dEa, below 1e-11 of Age per J/mol.
const (
	quadraticReach = 0.0032
	quarticReach   = 0.04

	// With T and Tref at least 173 K these keep every rate within maxSteps, and with that the halving short.
	maxEaJ  = 1e6
	maxRefC = 1000
)

// Add puts a piece whose temperature runs linearly from fromC to toC (degC) within the given seconds into the account.
// It allocates nothing, and a step below about half a kelvin costs one exponential. A NaN temperature makes the account NaN, so a
// gap must be bridged or closed by the caller.
func (a Arrhenius) Add(acc *Account, fromC, toC, seconds float64) {
	const perR = 1 / GasConstant
	sum, ref := fromC+toC, a.RefC+kelvin
	q := 1 / ((sum + 2*kelvin) * ref) // 1/(2*m*Tref), the only division
	perMiddle := 2 * q * ref
	u := math.Abs(toC-fromC) / 2 * perMiddle
	z := a.EaJ * perR * perMiddle * u
	warmth := (sum - 2*a.RefC) * q // 1/Tref - 1/m
	steps := a.EaJ * warmth * (perR * stepsPerOctave / math.Ln2)
	reach := math.Abs(z) + 10*u
	if fromC < a.FloorC || toC < a.FloorC || !(a.FloorC >= ColdestC) || seconds <= 0 ||
		reach > quarticReach || math.Abs(steps) > maxSteps {
		a.addHard(acc, fromC, toC, seconds)
		return
	}
	age := seconds * power(steps)
	excess := z * (z - 2*u) * (1.0 / 6) // S - 1
	if reach > quadraticReach {
		excess += z * (z*(z*(z*(1.0/24)-u/2)+1.5*u*u) - u*u*u) * (1.0 / 5)
	}
	acc.Age += age + age*excess
	acc.DEa += perR * age * (warmth + warmth*excess + perMiddle*u*(z-u)*(1.0/3))
}

// addHard takes the pieces that Add's single expression cannot: those that touch the floor or change too much.
func (a Arrhenius) addHard(acc *Account, fromC, toC, seconds float64) {
	if seconds <= 0 {
		return
	}
	if math.Abs(a.EaJ) > maxEaJ || a.RefC < ColdestC || a.RefC > maxRefC || math.IsNaN(a.FloorC) {
		acc.Age, acc.DEa = math.NaN(), math.NaN()
		return
	}
	if a.FloorC < ColdestC {
		a.FloorC = ColdestC
		a.Add(acc, fromC, toC, seconds)
		return
	}
	if fromC < a.FloorC || toC < a.FloorC {
		fromC, toC, seconds = above(a.FloorC, fromC, toC, seconds)
		a.Add(acc, fromC, toC, seconds)
		return
	}
	middle := (fromC + toC) / 2
	a.Add(acc, fromC, middle, seconds/2)
	a.Add(acc, middle, toC, seconds/2)
}
