package model

import (
	"fmt"
	"math"
	"slices"

	"pourward/model/cure"
	"pourward/model/heat"
)

// stillAirH is the surface coefficient of a mold in a room without draft, W/(m²·K); 5 under covers, 12 in
// a draft.
const stillAirH = heat.DefaultH

// What is not known of the lag, as a standard deviation of ln(time). Between a slow and a fast rubber and
// from covered to drafty the demold time of 20 to 40 mm on plaster moves by about 4 %; the air alone is
// off by 5 to 25 % of it, both ways.
const (
	lagSD   = 0.03
	noLagSD = 0.10
)

// leapHours is the step in which paths are run through a mold: half an hour, within 0.05 K.
const leapHours = 0.5

// crowd is the number of molds of one build from which on the paths are run once for all of them.
const crowd = 3

// thermal reckons how the rubber of a mold lags behind the air.
type thermal struct {
	build  Build
	before pieces // the pattern alone, from the mold's beginning to the pour
	pour   int64
	cup    *cup   // the batch before the pour; nil = as warm as the air
	inCup  pieces // from mixing to the pour
	rates  *heat.Rates
	body   *heat.Body  // shared by all molds of this build
	state  *heat.State // nil before the first piece after the pour
	probe  heat.Probe  // where the mold's own probe sits: on the pattern's face, or in the rubber
	err    error       // the body could not be made; the air alone is used
}

// bodies are the meshes and rate tables that molds share.
type bodies struct {
	mesh  map[Build]*heat.Body
	rates map[cure.Arrhenius]*heat.Rates
}

func newBodies() bodies {
	return bodies{mesh: map[Build]*heat.Body{}, rates: map[cure.Arrhenius]*heat.Rates{}}
}

// of returns the mesh of a build and the table of a law, made when first asked for.
func (b bodies) of(build Build, law cure.Arrhenius) (*heat.Body, *heat.Rates, error) {
	mesh, rates := b.mesh[build], b.rates[law]
	var err error
	if mesh == nil {
		layers, _ := build.layers()
		if mesh, err = heat.NewBody(heat.Build{Layers: layers, RightH: stillAirH}); err != nil {
			return nil, nil, fmt.Errorf("reckon the heat of the mold: %w", err)
		}
		b.mesh[build] = mesh
	}
	if rates == nil {
		if rates, err = heat.NewRates(law, -30, 60); err != nil {
			return nil, nil, fmt.Errorf("reckon the cure of the mold: %w", err)
		}
		b.rates[law] = rates
	}
	return mesh, rates, nil
}

// newThermal prepares the reckoning of a cure that begins with a pour; nil when the build is not told.
func newThermal(all bodies, b Build, before pieces, pour int64, law cure.Arrhenius) *thermal {
	if !b.Told() {
		return nil
	}
	h := &thermal{build: b, before: before, pour: pour}
	h.body, h.rates, h.err = all.of(b, law)
	return h
}

// restart forgets everything that was stepped.
func (h *thermal) restart() {
	h.state = nil
	h.before.start()
}

// fromCup tells that the rubber comes from a cup, and the way from mixing it to the pour.
func (h *thermal) fromCup(c *cup, way pieces) { h.cup, h.inCup = c, way }

// behind reports whether the newest sample of a track changes how the pour began.
func (h *thermal) behind(t *track) bool {
	return h.before.behind(t) || h.cup != nil && h.inCup.behind(t)
}

// ok reports whether the lag is reckoned.
func (h *thermal) ok() bool { return h != nil && h.err == nil }

// step carries the mold over a piece and returns the age of the part that has cured least, s.
func (h *thermal) step(p piece) float64 {
	if h.state == nil {
		if h.state, h.err = h.begin(p.from); h.err != nil {
			return 0
		}
	}
	if p.carried {
		h.state.Carry(p.from.air)
	}
	h.err = h.state.Step(p.to.air, p.seconds(), heat.Measured{Probe: h.probe, TempC: p.to.surface})
	return h.slowest()
}

func (h *thermal) slowest() float64 {
	s, _ := h.state.Slowest(0)
	return s.AgeSeconds
}

// begin is the mold at the moment of the pour: the pattern as the shop has left it, the rubber and the
// shell as warm as the air, but for rubber whose parts' temperature is known: that comes from its cup.
func (h *thermal) begin(at point) (*heat.State, error) {
	layers, rubber := h.build.layers()
	h.probe = h.body.OnFace(rubber)
	if h.build.ProbeIn == InRubber {
		h.probe = h.body.Within(rubber, h.build.RubberMM/2000)
		at.surface = math.NaN() // before the pour there was no rubber to measure
	}
	temps := make([]float64, len(layers))
	for i := range temps {
		temps[i] = at.air
	}
	if h.cup.ok() {
		temps[rubber] = h.cup.walkTo(&h.inCup, h.pour)
	}
	if rubber > 0 {
		temps[0] = h.patternC(layers[0], at)
	}
	return heat.NewState(h.body, temps, h.rates)
}

// patternC is the temperature of the pattern at the pour: as its probe says, or as the air has made it
// since the mold was begun.
func (h *thermal) patternC(layer heat.Layer, at point) float64 {
	if !math.IsNaN(at.surface) {
		return at.surface
	}
	body, err := heat.NewBody(heat.Build{Layers: []heat.Layer{layer}, RightH: stillAirH})
	if err != nil {
		return at.air
	}
	var alone *heat.State
	for {
		p, ok := h.before.next(h.pour)
		if !ok {
			break
		}
		if alone == nil {
			if alone, err = heat.NewState(body, []float64{p.from.air}); err != nil {
				return at.air
			}
		}
		if p.carried {
			alone.Carry(p.from.air)
		}
		if alone.Step(p.to.air, p.seconds()) != nil {
			return at.air
		}
	}
	if alone == nil {
		return at.air
	}
	return alone.LayerC(0)
}

// completions are the hours after which, on each path, the part that cures last has reached an age, in
// ascending order; +Inf where it is not within the forecast. age gives the age at a standard normal score, s.
// Where several molds have this build the paths are run through it once for all of them.
func (h *thermal) completions(a *ahead, shared bool, age func(z float64) float64) (hours []float64, err error) {
	byPath := func(i int) float64 { return age(spread(i)) }
	if shared {
		e, err := a.ensemble(h.body)
		if err != nil {
			return nil, err
		}
		if hours, err = e.Finish(h.state, 0, byPath); err != nil {
			return nil, err
		}
		for i := range hours {
			hours[i] /= 3600
		}
	} else if hours, err = h.alone(a, byPath); err != nil {
		return nil, err
	}
	slices.Sort(hours)
	return hours, nil
}

// alone runs every path through this mold by itself.
func (h *thermal) alone(a *ahead, age func(i int) float64) ([]float64, error) {
	layers, _ := h.build.layers()
	scratch, err := heat.NewState(h.body, make([]float64, len(layers)), h.rates)
	if err != nil {
		return nil, err
	}
	out := make([]float64, pathCount)
	for i := range out {
		if err := scratch.Copy(h.state); err != nil {
			return nil, err
		}
		took, ok := scratch.Finish(0, age(i), a.course(i), leapHours*3600)
		out[i] = took / 3600
		if !ok {
			out[i] = math.Inf(1)
		}
	}
	return out, nil
}
