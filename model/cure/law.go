// Package cure measures how far a curing material has come: equivalent time at a reference temperature.
package cure

const (
	// GasConstant is R in J/(mol K), exact since the SI of 2019 (CODATA 2018).
	GasConstant = 8.314462618

	// kelvin is 0 degC in K.
	kelvin = 273.15
)

// A Law says how fast a material cures at a temperature, against the rate at the law's own reference.
type Law interface {
	// Rate returns the speed of cure at tempC (degC) relative to the reference. It is never negative.
	Rate(tempC float64) float64

	// Age returns the equivalent seconds that a piece of the given seconds adds while the temperature runs linearly
	// from fromC to toC (degC). It is never negative; a piece of no or negative length adds nothing.
	Age(fromC, toC, seconds float64) float64
}

// above cuts a linear piece to the part at or over a floor. No seconds are left when there is none.
func above(floorC, fromC, toC, seconds float64) (float64, float64, float64) {
	low, high := min(fromC, toC), max(fromC, toC)
	switch {
	case low >= floorC:
		return fromC, toC, seconds
	case high <= floorC:
		return floorC, floorC, 0
	default:
		return max(fromC, floorC), max(toC, floorC), seconds * (high - floorC) / (high - low)
	}
}
