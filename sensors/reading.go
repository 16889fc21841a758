package sensors

import (
	"fmt"
	"math"
	"time"
)

// Quality says how far a measured value may be trusted. The numbers are stored: do not reorder.
type Quality uint8

const (
	Missing Quality = iota // the probe does not measure this, or no value was had
	Good                   // passed every test
	Suspect                // plausible but doubted; kept in the record, not used by the model
	Bad                    // known to be false
)

// String names the quality in one word.
func (q Quality) String() string {
	switch q {
	case Missing:
		return "missing"
	case Good:
		return "good"
	case Suspect:
		return "suspect"
	case Bad:
		return "bad"
	}
	return fmt.Sprintf("quality(%d)", uint8(q))
}

// Measure is one measured value with the trust it deserves. The zero Measure is missing.
type Measure struct {
	Value   float64 // unit as the field that holds it says
	Quality Quality
	Fault   Fault // why the quality is not Good; NoFault otherwise
}

// GoodMeasure returns v as a value that passed every test.
func GoodMeasure(v float64) Measure { return Measure{Value: v, Quality: Good} }

// OK reports whether the model may use the value.
func (m Measure) OK() bool { return m.Quality == Good }

// Reading is what one probe measured at one instant.
type Reading struct {
	Probe    string    // the maker's name for the probe
	At       time.Time // instant of the measurement, UTC
	Temp     Measure   // °C
	Humidity Measure   // relative humidity over liquid water, ratio 0..1

	// Err says why an attempt gave no value at all. Such a reading carries no trusted value; it is
	// counted against the probe's health and not kept in the record.
	Err error

	// Receipt asks for an answer once the readings before this one have arrived. Nothing else is set then.
	Receipt *Receipt
}

// Failed returns the reading that stands for an attempt that gave no value.
func Failed(probe string, at time.Time, err error) Reading {
	f := FaultOf(err)
	bad := Measure{Quality: Bad, Fault: f}
	return Reading{Probe: probe, At: at, Temp: bad, Err: err}
}

// Steps in which readings are recorded. A reading is rounded to them before anything uses it, so that
// what is computed live and what is computed again from the record are the same to the last bit.
// They are finer than the resolution of any supported probe (1/16 °C, 0.008 % RH).
const (
	TempStep     = 1e-3             // °C
	HumidityStep = 1e-4             // ratio
	TimeStep     = time.Millisecond // of the instant
)

// Rounded returns the reading on the grid in which it is recorded, its instant in UTC without
// monotonic clock. Rounding twice changes nothing.
func (r Reading) Rounded() Reading {
	r.At = time.UnixMilli(r.At.UnixMilli()).UTC()
	r.Temp.Value = TempFromSteps(TempSteps(r.Temp.Value))
	r.Humidity.Value = HumidityFromSteps(HumiditySteps(r.Humidity.Value))
	return r
}

// TempSteps returns °C as a whole number of [TempStep].
func TempSteps(tempC float64) int64 { return int64(math.Round(tempC * 1000)) }

// TempFromSteps is the inverse of [TempSteps], in °C.
func TempFromSteps(n int64) float64 { return float64(n) / 1000 }

// HumiditySteps returns a humidity ratio as a whole number of [HumidityStep].
func HumiditySteps(ratio float64) int64 { return int64(math.Round(ratio * 10000)) }

// HumidityFromSteps is the inverse of [HumiditySteps], a ratio.
func HumidityFromSteps(n int64) float64 { return float64(n) / 10000 }
