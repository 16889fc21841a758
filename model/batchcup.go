package model

import (
	"math"
	"slices"

	"pourward/model/cure"
	"pourward/model/heat"
	"pourward/model/material"
)

// parts is where the parts of a batch stood, and how warm that made it when they met.
type parts struct {
	of     material.Material
	batch  Batch
	at     int64 // when they met
	shop   map[string]*place
	startC float64 // of the batch just stirred, °C; NaN = not known
}

// partsOf are those of a mixing; nil where nobody told where they stood.
func (s *Shop) partsOf(of material.Material, mixing Mark) *parts {
	if len(mixing.Batch.places()) == 0 {
		return nil
	}
	p := &parts{of: of, batch: mixing.Batch, at: mixing.At.UnixMilli(), shop: s.places}
	p.startC = p.mixedC()
	return p
}

// mixedC is the temperature of the batch by what was last heard at the places before the parts met.
func (p *parts) mixedC() float64 {
	return mixedC(p.of, p.batch, func(name string) float64 {
		at := p.shop[name]
		if at == nil {
			return math.NaN()
		}
		x, ok := at.track.upTo(p.at)
		if !ok || p.at-x.at > at.track.gap {
			return math.NaN()
		}
		return x.temp
	})
}

// changed looks again after a sample came to a track, and reports whether the batch began warmer or colder
// than was thought. What is held no more leaves it as it was.
func (p *parts) changed(t *track) bool {
	if p == nil || t.base > 0 && t.after(p.at) == t.base {
		return false
	}
	if !slices.ContainsFunc(p.batch.places(), func(name string) bool { return p.shop[name] != nil && &p.shop[name].track == t }) {
		return false
	}
	c := p.mixedC()
	if c == p.startC || math.IsNaN(c) && math.IsNaN(p.startC) {
		return false
	}
	p.startC = c
	return true
}

// known reports whether the batch's temperature is.
func (p *parts) known() bool { return p != nil && !math.IsNaN(p.startC) }

// partsFelt begins anew the steps whose batch began otherwise than was thought.
func (m *mold) partsFelt(t *track) {
	for _, st := range m.steps {
		if st.parts.changed(t) && !st.walk().lost(st.until()) {
			st.restart()
			st.advance()
		}
	}
}

// mixingOf is the mark by which the batch of a step was mixed: the newest one up to the step's own.
func mixingOf(marks []Mark, st *step) Mark {
	var last Mark
	for _, k := range marks {
		if k.Kind == Mixed || k.Kind == PatchOn {
			last = k
		}
		if k.ID == st.mark.ID {
			break
		}
	}
	return last
}

// airLegs is where a cup stands: in the air, and not on the pattern.
func airLegs(legs []leg) []leg {
	var out []leg
	for _, l := range legs {
		l.surf = nil
		if n := len(out); n > 0 && out[n-1].air == l.air {
			out[n-1].to = l.to
			continue
		}
		out = append(out, l)
	}
	return out
}

// cup is a batch between mixing and pouring. It relaxes to the air as one lump: its middle is as warm as
// its wall. What that leaves out, and the cup's shape, is cupDoubt.
type cup struct {
	parts   *parts
	tau     float64 // s, by which the difference to the air falls to 1/e
	tempC   float64 // now
	apartK  float64 // from the air when the parts met; 0 = not walked yet
	started bool
}

// What is assumed of a cup. Assumptions.
const (
	cupDoubt   = 0.25   // share of the difference from the air that is not known, one standard deviation
	usualGrams = 1000.0 // of a batch whose weights were not told
	cupStep    = 60.0   // s, in which it relaxes along lines
	cupAheadS  = 120.0  // s, the same along the paths of the forecast
	cupLevelK  = 0.1    // from the air, from which on it is the air
)

// newCup is a batch in a cup as tall as it is wide: a lump of volume V = 2 pi r³ and surface 6 pi r² has the
// time constant rho c r / 3 h (lumped capacity, textbooks of heat transfer). Nil where the parts'
// temperature was not told.
func newCup(p *parts) *cup {
	if p == nil {
		return nil
	}
	grams, rubber := p.batch.TotalGrams(), heat.MoldRubber()
	if grams == 0 {
		grams = usualGrams
	}
	r := math.Cbrt(grams / 1000 / rubber.DensityKg / (2 * math.Pi))
	return &cup{parts: p, tau: rubber.DensityKg * rubber.HeatJ * r / (3 * heat.DefaultH)}
}

// ok reports whether the cup is reckoned apart from the air.
func (c *cup) ok() bool { return c != nil && c.parts.known() }

func (c *cup) restart() {
	if c != nil {
		c.tempC, c.apartK, c.started = c.parts.startC, 0, false
	}
}

// step carries the cup over a piece of the air; each short stretch of it is told to felt, if that is given.
func (c *cup) step(p piece, felt func(cupFrom, cupTo, airFrom, airTo, seconds float64)) {
	if !c.started {
		c.started, c.apartK = true, c.parts.startC-p.from.air
	}
	n := math.Ceil(p.seconds() / cupStep)
	dt := p.seconds() / n
	for i := range int(n) {
		a := p.from.air + (p.to.air-p.from.air)*float64(i)/n
		b := p.from.air + (p.to.air-p.from.air)*float64(i+1)/n
		to := c.relaxed(c.tempC, a, b, dt)
		if felt != nil {
			felt(c.tempC, to, a, b, dt)
		}
		c.tempC = to
	}
}

// relaxed is the temperature after some seconds in air that moves along a line: the exact solution of
// dT/dt = (air - T)/tau.
func (c *cup) relaxed(tempC, airFrom, airTo, seconds float64) float64 {
	lag := (airTo - airFrom) / seconds * c.tau
	return airTo - lag + (tempC-airFrom+lag)*math.Exp(-seconds/c.tau)
}

// addCup ages the batch over a piece: the likely end by the cup, the earliest one by the warmer of cup and
// air, so that cold parts never make anyone late.
func (f *cureFold) addCup(p piece) {
	f.cup.step(p, func(cupFrom, cupTo, airFrom, airTo, seconds float64) {
		was := f.likely.Age
		f.law.Add(&f.likely, cupFrom, cupTo, seconds)
		f.more += max(0, f.law.Age(airFrom, airTo, seconds)-(f.likely.Age-was))
		if f.crossed[late] == 0 {
			f.coldest, f.hottest = min(f.coldest, cupFrom, cupTo), max(f.hottest, cupFrom, cupTo)
		}
	})
}

// doubtK is what is not known of the cup's temperature, one standard deviation, K.
func (c *cup) doubtK() float64 {
	if !c.ok() {
		return 0
	}
	return cupDoubt * math.Abs(c.apartK)
}

// completions are those of [ahead.completions] for what stands in a cup. warm takes the warmer of cup and air.
func (c *cup) completions(a *ahead, law cure.Arrhenius, skip float64, warm bool, need func(z float64) float64) []float64 {
	out := make([]float64, pathCount)
	for i := range out {
		out[i] = c.finish(a, law, i, need(spread(i)), skip, warm)
	}
	slices.Sort(out)
	return out
}

func (c *cup) finish(a *ahead, law cure.Arrhenius, i int, need, skip float64, warm bool) float64 {
	tempC, hour := c.tempC, skip
	for need > 0 {
		next := hour + cupAheadS/3600
		from, to := a.at(i, hour), a.at(i, next)
		if math.Abs(tempC-from) < cupLevelK || warm && tempC < from {
			return a.finish(law, i, need, hour)
		}
		after := c.relaxed(tempC, from, to, cupAheadS)
		age := law.Age(tempC, after, cupAheadS)
		if age >= need {
			return hour + need/age*(next-hour)
		}
		need, tempC, hour = need-age, after, next
	}
	return hour
}

// walkTo carries a cup that has not been walked along a way to an instant, and returns its temperature; NaN
// where it is not known.
func (c *cup) walkTo(w *pieces, until int64) float64 {
	if !c.ok() {
		return math.NaN()
	}
	c.restart()
	w.start()
	for {
		p, ok := w.next(until)
		if !ok {
			return c.tempC
		}
		c.step(p, nil)
	}
}
