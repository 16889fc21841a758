package cure

// ColdestC is where every Arrhenius rate ends, in degC: no cure is known there and a probe that says so is broken.
const ColdestC = -100

// Arrhenius is the law exp(-(Ea/R)(1/T - 1/Tref)), T in K: the rate is 1 at RefC and zero below FloorC.
//
// EaJ is the activation energy in J/mol, normally 20 000 to 120 000; zero means that temperature does not matter, as for
// the setting of gypsum plaster between 0 and 40 degC (Ridge, Nature 184 (1959) 47-48). RefC and FloorC are in degC;
// a FloorC of -Inf leaves only ColdestC as floor. Beyond 1 MJ/mol either way, or with
// RefC outside ColdestC to 1000 degC, ages are NaN.
type Arrhenius struct {
	EaJ, RefC, FloorC float64
}

// Account is a running cure age: Age in equivalent seconds at the reference temperature, and DEa, the derivative of Age
// with respect to the activation energy in s per J/mol, which carries the uncertainty of EaJ into that of the age.
//
// Sums are plain: n pieces add a relative rounding error of at most n/2 units of 2^-53, 2e-10 for a year of readings 10 s
// apart.
type Account struct {
	Age, DEa float64
}

// Rate returns the speed of cure at tempC (degC) relative to that at RefC. NaN in gives NaN.
func (a Arrhenius) Rate(tempC float64) float64 {
	return a.Age(tempC, tempC, 1)
}

// Age returns the equivalent seconds of a piece whose temperature runs linearly from fromC to toC (degC), exact to a
// relative 2e-12 whatever the step. See Law.
func (a Arrhenius) Age(fromC, toC, seconds float64) float64 {
	var acc Account
	a.Add(&acc, fromC, toC, seconds)
	return acc.Age
}
