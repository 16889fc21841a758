package sensors

import (
	"math"
	"time"
)

// Limits say what is believable at a probe's place. The zero Limits stand for the defaults.
type Limits struct {
	TempMinC, TempMaxC float64 // °C, both included; −40 and 85 when both are zero

	// TempStepC is how far the temperature may move in a minute, °C; 3 when zero (the step limit of the
	// Austrian weather service's automatic stations). Between samples further apart than a minute it
	// grows in proportion, to 10/3 of it (10 °C, the hourly limit of the University of Washington's
	// network); closer together it does not shrink.
	TempStepC float64

	// HumidityStep is the same for humidity, a ratio; 0.10 when zero, growing to six times that
	// (sources as for temperature).
	HumidityStep float64

	// StuckAfter is how long every value may stay the same to the last digit; 24 h when zero (common
	// practice, no source: whole-degree probes in a closed room do repeat for hours), never when negative.
	StuckAfter time.Duration

	// Unchecked says that the chip sends no checksum and is not inspected by its driver, so that
	// −0.0625 °C is what a floating bus reads as.
	Unchecked bool
}

// Default limits; see [Limits] for their sources.
const (
	defaultTempMinC     = -40.0
	defaultTempMaxC     = 85.0
	defaultTempStepC    = 3.0
	defaultHumidityStep = 0.10
	defaultStuckAfter   = 24 * time.Hour

	tempStepGrowth     = 10.0 / 3
	humidityStepGrowth = 6.0

	humidityOverread = 1.04 // up to here a saturated element overreads and is taken as 1 (WMO ET-AWS 2002)
	nonsense         = 1e4  // values beyond are recorded as this: the record holds finite numbers only
)

func (l Limits) withDefaults() Limits {
	if l.TempMinC == 0 && l.TempMaxC == 0 {
		l.TempMinC, l.TempMaxC = defaultTempMinC, defaultTempMaxC
	}
	if l.TempStepC == 0 {
		l.TempStepC = defaultTempStepC
	}
	if l.HumidityStep == 0 {
		l.HumidityStep = defaultHumidityStep
	}
	if l.StuckAfter == 0 {
		l.StuckAfter = defaultStuckAfter
	}
	return l
}

// Judge gives each sample of one probe, as it arrives, the quality it deserves. It never looks ahead:
// a value that jumped is [Suspect] until the next one confirms it, so a true draught is believed one
// sample late and a lone excursion never.
type Judge struct {
	limits   Limits
	temp     track
	humidity track
}

// NewJudge returns a Judge that has seen nothing: the first sample is believed if its value can be.
func NewJudge(l Limits) *Judge {
	l = l.withDefaults()
	j := &Judge{limits: l}
	j.temp.step = step{perMinute: l.TempStepC, most: l.TempStepC * tempStepGrowth}
	j.humidity.step = step{perMinute: l.HumidityStep, most: l.HumidityStep * humidityStepGrowth}
	return j
}

// Reopened tells the judge that the probe was opened afresh: the next sample must agree with the last
// good one or be confirmed by another.
func (j *Judge) Reopened() { j.temp.fresh, j.humidity.fresh = true, true }

// Judge returns the measures for a sample taken at an instant. A NaN in the sample is missing.
func (j *Judge) Judge(at time.Time, s Sample) (temp, humidity Measure) {
	stuck := j.limits.StuckAfter > 0 && j.flatFor(at, s) >= j.limits.StuckAfter
	temp = judged(s.TempC, j.tempValue(s), j.temp.accept, at)
	humidity = judged(s.Humidity, humidityValue(s), j.humidity.accept, at)
	if humidity.OK() {
		humidity.Value = min(humidity.Value, 1)
	}
	if stuck {
		temp, humidity = doubted(temp), doubted(humidity)
	}
	return temp, humidity
}

// judged puts a value through the test of itself (known) and the test against its neighbors (accept).
func judged(v float64, known Measure, accept func(point, bool) Fault, at time.Time) Measure {
	if math.IsNaN(v) {
		return Measure{}
	}
	m := Measure{Value: max(-nonsense, min(nonsense, v)), Quality: known.Quality, Fault: known.Fault}
	if m.Quality == Bad {
		return m
	}
	if f := accept(point{at: at, v: v, set: true}, known.Quality == Suspect); f != NoFault {
		m.Quality, m.Fault = Suspect, f
		return m
	}
	return GoodMeasure(m.Value)
}

func doubted(m Measure) Measure {
	if m.OK() {
		m.Quality, m.Fault = Suspect, Stuck
	}
	return m
}

// flatFor returns how long every quantity that the probe measures has stayed the same. Together they
// tell a stuck probe from steady air; saturated humidity alone stays the same honestly.
func (j *Judge) flatFor(at time.Time, s Sample) time.Duration {
	t, h := j.temp.flat.add(at, s.TempC), j.humidity.flat.add(at, s.Humidity)
	switch {
	case math.IsNaN(s.TempC):
		return h
	case math.IsNaN(s.Humidity):
		return t
	}
	return min(t, h)
}

// tempValue tests a temperature by itself.
func (j *Judge) tempValue(s Sample) Measure {
	switch {
	case isErrorCode(s, j.limits.Unchecked):
		return Measure{Quality: Bad, Fault: PowerOn}
	case !within(s.TempC, j.limits.TempMinC, j.limits.TempMaxC):
		return Measure{Quality: Bad, Fault: OutOfRange}
	case isPowerOn(s.TempC):
		return Measure{Quality: Suspect, Fault: PowerOn}
	}
	return Measure{Quality: Good}
}

// humidityValue tests a humidity by itself. Exactly zero is what lost bytes decode to; air in a room
// does not get there (common practice, no source).
func humidityValue(s Sample) Measure {
	switch {
	case s.Humidity == 0 || isDeadBlock(s):
		return Measure{Quality: Bad, Fault: PowerOn}
	case !within(s.Humidity, 0, humidityOverread):
		return Measure{Quality: Bad, Fault: OutOfRange}
	}
	return Measure{Quality: Good}
}

// isPowerOn reports the value a DS18B20 holds before its first conversion (data sheet, "power-on reset
// value of the temperature register is +85 °C"). It can also be true, so it is only doubted.
func isPowerOn(tempC float64) bool { return near(tempC, 85) }

// isErrorCode reports temperatures that stand for a failure and cannot be a measurement here.
func isErrorCode(s Sample, unchecked bool) bool {
	for _, code := range [...]float64{
		127.9375,       // DS18B20 that lost its supply while converting: 0x07FF
		-127,           // widely used by microcontroller libraries for "disconnected"
		998, 999, -999, // common codes for "no value"
	} {
		if near(s.TempC, code) {
			return true
		}
	}
	return isDeadBlock(s) || unchecked && near(s.TempC, -0.0625)
}

// isDeadBlock reports temperatures that a chip for both quantities decodes from a block of zeros or
// ones; the humidity beside it is false, too. The formulas are in the data sheets of SHT3x, HTU21 and
// AHT20. Zero beside zero is what missing numbers become in a message.
func isDeadBlock(s Sample) bool {
	for _, code := range [...]float64{-45, 130, -46.85, -50, 150} {
		if near(s.TempC, code) {
			return true
		}
	}
	return s.TempC == 0 && s.Humidity == 0
}

// within is the gross range test; the limits themselves pass.
func within(v, low, high float64) bool { return v >= low && v <= high }

// near allows for the digits that get lost in text.
func near(a, b float64) bool { return math.Abs(a-b) < 0.004 }

// step is how far a value may move from one sample to another.
type step struct{ perMinute, most float64 }

func (s step) allowed(dt time.Duration) float64 {
	return min(s.perMinute*max(1, dt.Abs().Minutes()), s.most)
}

type point struct {
	at  time.Time
	v   float64
	set bool
}

// track follows one quantity of a probe.
type track struct {
	step  step
	good  point // last one believed
	doubt point // the one before, if it was doubted
	fresh bool  // the probe was opened afresh and not yet believed again
	flat  flat
}

// accept tests a point against its neighbors. A code (a value that is also a fault's sign) is believed
// only next to a value that is none: a fault repeats its code for ever.
func (t *track) accept(p point, code bool) Fault {
	first := !t.good.set && !t.fresh && !code
	if first || t.agrees(p, t.good, code) || t.agrees(p, t.doubt, code) {
		t.good, t.doubt, t.fresh = p, point{}, false
		return NoFault
	}
	t.doubt = p
	switch {
	case code:
		return PowerOn
	case t.fresh:
		return Unsure
	}
	return Jumped
}

func (t *track) agrees(p, q point, code bool) bool {
	if !q.set || code && isPowerOn(q.v) {
		return false
	}
	return math.Abs(p.v-q.v) <= t.step.allowed(p.at.Sub(q.at))
}

// flat watches for a value that stays the same.
type flat struct {
	within    float64 // values whose range is below this are the same; 0: equal to the last digit
	since     time.Time
	low, high float64
}

// add takes the next value and returns for how long it and those before it have been the same.
func (f *flat) add(at time.Time, v float64) time.Duration {
	low, high := min(f.low, v), max(f.high, v)
	same := high-low < f.within || high == low
	if f.since.IsZero() || !same { // a NaN is never the same
		low, high, f.since = v, v, at
	}
	f.low, f.high = low, high
	return at.Sub(f.since)
}
