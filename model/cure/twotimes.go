package cure

import (
	"errors"
	"fmt"
	"math"
)

// Timing is one isothermal time to an event, as a data sheet gives it: Seconds at TempC (degC).
type Timing struct {
	TempC, Seconds float64
}

// EaBand is an activation energy in J/mol with the extremes that the error of the times allows.
type EaBand struct {
	LowJ, LikelyJ, HighJ float64
}

// EaFromTwo returns the activation energy between two isothermal times to the same event, R ln(t1/t2)/(1/T1 - 1/T2), and
// the band when each time may be off by the ratio relError (0.1 for 10 %) in opposite ways. The closer the temperatures,
// the wider the band: 10 % on times 10 K apart is already about 15 kJ/mol.
func EaFromTwo(first, second Timing, relError float64) (EaBand, error) {
	if !(first.Seconds > 0) || !(second.Seconds > 0) {
		return EaBand{}, fmt.Errorf("activation energy from %g s and %g s: both times must be above zero", first.Seconds, second.Seconds)
	}
	if !(relError >= 0 && relError < 1) {
		return EaBand{}, fmt.Errorf("activation energy with a relative error of %g: give a ratio from 0 up to 1", relError)
	}
	cold := coldness(first.TempC, second.TempC)
	if cold == 0 || math.IsNaN(cold) {
		return EaBand{}, errors.New("activation energy from two times: give them at two different temperatures")
	}
	likely := GasConstant * math.Log(first.Seconds/second.Seconds) / cold
	spread := GasConstant * math.Log((1+relError)/(1-relError)) / math.Abs(cold)
	return EaBand{LowJ: likely - spread, LikelyJ: likely, HighJ: likely + spread}, nil
}
