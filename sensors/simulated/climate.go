package simulated

import (
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"pourward/sensors"
)

// Climate is an invented winter in and around an unheated annex. Outdoors it swings between about 2
// and 6 °C. Indoors the air follows with a lag of hours and stays a few degrees above; from 08:30 to
// 17:30 local time people work there and a small heater brings it to about 20 °C. The pattern, a
// plaster frieze, lags behind the air.
//
// A value is a pure function of the seed and the instant. It is safe for concurrent use.
type Climate struct {
	seed                   uint64
	zone                   *time.Location
	weather, doors, people wave
	start                  time.Time // of the grid: some days before the begin, so that its start is forgotten by then

	mu   sync.Mutex // guards grid, which grows as later instants are asked for
	grid []state
}

// state is the climate at one point of the grid.
type state struct {
	outdoorC, annexC, patternC float64
	vapor                      float64 // pressure of the water vapor indoors, Pa
}

// The invented annex.
const (
	gridStep     = time.Minute
	settling     = 4 * 24 * time.Hour
	outdoorMeanC = 4.0
	daySwingC    = 1.5           // half of the daily range
	weatherC     = 0.5           // half of the range of the slow waves that make days differ
	gainC        = 3.0           // by which the annex is warmer than outdoors without the heater: ground, neighbors
	airLag       = 5 * time.Hour // time constant of the annex
	patternLag   = time.Hour     // of the plaster
	airChange    = 3 * time.Hour // in which the vapor indoors follows that outdoors
	heaterC      = 48.0          // by which the heater would warm the annex if it never stopped
	thermostatC  = 20.5          // where it holds the air
	outdoorRH    = 0.85          // ratio
	workVapor    = 230.0         // Pa, by which people and wet plaster raise the vapor in the long run
	wettest      = 0.96          // ratio; above it the cold walls take the water
	opens        = 8*60 + 30     // minutes of the local day
	closes       = 17*60 + 30    //
	tempNoiseC   = 0.03          // standard deviation of a probe's reading
	rhNoise      = 0.003         // ratio
)

// NewClimate returns the climate that belongs to a seed, from begin on; working hours are in zone, UTC
// when nil.
func NewClimate(seed uint64, begin time.Time, zone *time.Location) *Climate {
	if zone == nil {
		zone = time.UTC
	}
	phases := rand.New(rand.NewPCG(seed, 0))
	c := &Climate{
		seed: seed, zone: zone,
		weather: wave{79 * time.Hour, phases.Float64()},
		doors:   wave{53 * time.Minute, phases.Float64()},
		people:  wave{17 * time.Minute, phases.Float64()},
		start:   begin.Add(-settling).Truncate(gridStep),
	}
	out := c.outdoorC(c.start)
	c.grid = []state{{outdoorC: out, annexC: out + gainC, patternC: out + gainC, vapor: outdoorRH * saturation(out)}}
	return c
}

// OutdoorC returns the temperature outdoors, °C.
func (c *Climate) OutdoorC(t time.Time) float64 { return c.at(t).outdoorC }

// AnnexC returns the temperature of the air in the annex, °C.
func (c *Climate) AnnexC(t time.Time) float64 { return c.at(t).annexC }

// PatternC returns the temperature of the pattern, °C.
func (c *Climate) PatternC(t time.Time) float64 { return c.at(t).patternC }

// Humidity returns the relative humidity in the annex, a ratio.
func (c *Climate) Humidity(t time.Time) float64 { return c.at(t).humidity() }

// Bench returns a function for [NewBME280] and the other chips that feel the air: the air of the annex as
// a probe with a little noise shows it, at the clock's instant.
func (c *Climate) Bench(clock sensors.Clock) func() Air {
	return func() Air {
		t := clock.Now()
		s := c.at(t)
		noiseT, noiseH := c.noise(t, 1)
		return Air{TempC: s.annexC + tempNoiseC*noiseT, Humidity: max(0.01, min(wettest, s.humidity()+rhNoise*noiseH))}
	}
}

// Pattern returns a function for [NewDS18B20]: the temperature of the pattern, with a little noise.
func (c *Climate) Pattern(clock sensors.Clock) func() float64 {
	return func() float64 {
		t := clock.Now()
		noise, _ := c.noise(t, 2)
		return c.PatternC(t) + tempNoiseC*noise
	}
}

// noise returns two normal deviates that depend on the seed, the instant and the channel alone.
func (c *Climate) noise(t time.Time, channel uint64) (a, b float64) {
	r := rand.New(rand.NewPCG(c.seed^channel<<56, uint64(t.UnixMilli())))
	return r.NormFloat64(), r.NormFloat64()
}

func (s state) humidity() float64 { return s.vapor / saturation(s.annexC) }

// saturation returns the pressure of saturated water vapor over liquid water, Pa (WMO-No. 8, annex
// 4.B, without the enhancement factor).
func saturation(tempC float64) float64 { return 611.2 * math.Exp(17.62*tempC/(243.12+tempC)) }

// at returns the state at an instant, linear between the points of the grid; before its start it is
// the first.
func (c *Climate) at(t time.Time) state {
	c.mu.Lock()
	defer c.mu.Unlock()
	since := max(0, t.Sub(c.start))
	i := int(since / gridStep)
	for len(c.grid) <= i+1 {
		c.grid = append(c.grid, c.after(c.grid[len(c.grid)-1], c.start.Add(time.Duration(len(c.grid))*gridStep)))
	}
	w := float64(since%gridStep) / float64(gridStep)
	a, b := c.grid[i], c.grid[i+1]
	mix := func(x, y float64) float64 { return x + w*(y-x) }
	return state{mix(a.outdoorC, b.outdoorC), mix(a.annexC, b.annexC), mix(a.patternC, b.patternC), mix(a.vapor, b.vapor)}
}

// after returns the state one step later, at t: three first-order lags, each solved exactly over the
// step for constant surroundings.
func (c *Climate) after(s state, t time.Time) state {
	n := state{outdoorC: c.outdoorC(t)}
	rest := n.outdoorC + gainC
	vaporRest := outdoorRH * saturation(n.outdoorC)
	n.annexC = lag(s.annexC, rest, airLag)
	if c.working(t) {
		vaporRest += workVapor
		n.annexC = min(lag(s.annexC, rest+heaterC, airLag), max(n.annexC, thermostatC+c.draught(t)))
	}
	n.patternC = lag(s.patternC, n.annexC, patternLag)
	n.vapor = min(lag(s.vapor, vaporRest, airChange), wettest*saturation(n.annexC))
	return n
}

// lag moves v towards target for one step of the grid.
func lag(v, target float64, tau time.Duration) float64 {
	return target + (v-target)*math.Exp(-float64(gridStep)/float64(tau))
}

func (c *Climate) working(t time.Time) bool {
	l := t.In(c.zone)
	m := l.Hour()*60 + l.Minute()
	return m >= opens && m < closes
}

// outdoorC is a daily wave, warmest at 15:00 local time, on a slow one that makes days differ.
func (c *Climate) outdoorC(t time.Time) float64 {
	l := t.In(c.zone)
	day := float64(l.Hour()*3600+l.Minute()*60+l.Second()) / 86400
	return outdoorMeanC + daySwingC*math.Cos(2*math.Pi*(day-15.0/24)) + weatherC*c.weather.at(t)
}

// draught is what doors and people do to the thermostat's hold, within ±0.4 °C.
func (c *Climate) draught(t time.Time) float64 { return 0.25*c.doors.at(t) + 0.15*c.people.at(t) }

// wave is a sine in −1..1.
type wave struct {
	period time.Duration
	phase  float64 // in turns
}

func (w wave) at(t time.Time) float64 {
	turns := float64(t.UnixMilli()) / float64(w.period.Milliseconds())
	return math.Sin(2 * math.Pi * (turns + w.phase))
}
