package cure

import "math"

// How a linear piece is integrated
//
// Let m be the middle of the piece in K, h half its temperature step, b = Ea/R, beta = b/m and u = h/m. With T = m(1+y)
// the rate is the rate at m times g(y) = exp(beta*y/(1+y)), and the mean of g over -u..u is the even series
//
//	S = 1 + c2*u^2/3 + c4*u^4/5 + c6*u^6/7 + ...
//
// where g = sum of c_n*y^n has c_0 = 1, c_1 = beta, (n+1)*c_(n+1) = (beta-2n)*c_n - (n-1)*c_(n-1). Those are the Laguerre
// polynomials L_n^(-1)(beta) with alternating sign. The piece adds seconds * rate(m) * S: one exponential.
//
// Bound. |c_n| <= a_n, the coefficients of exp(|beta|*y/(1-y)), and their recurrence gives a_(n+1) <= a_n*(|beta|+2n)/(n+1),
// so a_n*u^n <= product over j=1..n of (z + 2u(j-1))/j with z = |beta|*u. Stopping after u^4 with z <= 0.06 and u <= 0.003
// leaves at most the n = 6 term, 2.4e-10/7 = 3.4e-11, and 1e-4 of that for all later ones. S is at least exp(-z/(1-u)) >
// 0.94, so the relative error stays below 4e-11. Longer steps are halved in temperature until they meet the limits: every
// part is positive and within the bound, so their sum is too.
const (
	maxExponent = 0.06  // limit of z
	maxStretch  = 0.003 // limit of u
	maxEaJ      = 1e6   // beyond it the halving would not end in useful time
)

// add integrates a piece that lies above the floor.
func (a Arrhenius) add(acc *Account, fromC, toC, seconds float64) {
	const perR = 1 / GasConstant
	middle, half := (fromC+toC)/2, (toC-fromC)/2
	ref := a.RefC + kelvin
	b := a.EaJ * perR
	q := 1 / ((middle + kelvin) * ref) // the only division
	perMiddle := q * ref
	beta, u := b*perMiddle, half*perMiddle
	if math.Abs(beta*u) > maxExponent || math.Abs(u) > maxStretch {
		a.halve(acc, fromC, toC, seconds)
		return
	}
	u2 := u * u
	c2 := beta * (beta/2 - 1)
	c4 := beta * (beta*(beta*(beta/24-0.5)+1.5) - 1)
	d2 := beta - 1
	d4 := beta*(beta*(beta/6-1.5)+3) - 1
	series := 1 + u2*(c2/3+u2*c4/5)
	slope := u2 * (d2/3 + u2*d4/5) // d(series)/d(beta)

	warmth := (middle - a.RefC) * q // 1/Tref - 1/Tmiddle
	scale := seconds * math.Exp(b*warmth)
	acc.Age += scale * series
	acc.DEa += scale * perR * (warmth*series + perMiddle*slope)
}

func (a Arrhenius) halve(acc *Account, fromC, toC, seconds float64) {
	if math.Abs(a.EaJ) > maxEaJ {
		acc.Age, acc.DEa = math.NaN(), math.NaN()
		return
	}
	middle := (fromC + toC) / 2
	a.add(acc, fromC, middle, seconds/2)
	a.add(acc, middle, toC, seconds/2)
}
