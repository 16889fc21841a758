package model

import (
	"fmt"
	"math"
	"slices"

	"pourward/model/cure"
	"pourward/model/forecast"
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

// thermal reckons how the rubber of a mold lags behind the air.
type thermal struct {
	build  Build
	before pieces // the pattern alone, from the mold's beginning to the pour
	pour   int64
	rates  *heat.Rates
	state  *heat.State // nil before the first piece after the pour
	face   heat.Probe  // where the pattern meets the rubber
	err    error       // the body could not be made; the air alone is used
}

// newThermal prepares the reckoning of a cure that begins with a pour; nil when the build is not told.
func newThermal(b Build, before pieces, pour int64, law cure.Arrhenius) *thermal {
	if !b.Told() {
		return nil
	}
	rates, err := heat.NewRates(law, -30, 60)
	return &thermal{build: b, before: before, pour: pour, rates: rates, err: err}
}

// restart forgets everything that was stepped.
func (h *thermal) restart() {
	h.state = nil
	h.before.start()
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
	h.err = h.state.Step(p.to.air, p.seconds(), heat.Measured{Probe: h.face, TempC: p.to.surface})
	return h.slowest()
}

func (h *thermal) slowest() float64 {
	s, _ := h.state.Slowest(0)
	return s.AgeSeconds
}

// begin is the mold at the moment of the pour: the pattern as the shop has left it, the rubber and the
// shell as warm as the air.
func (h *thermal) begin(at point) (*heat.State, error) {
	layers, rubber := h.build.layers()
	temps := make([]float64, len(layers))
	for i := range temps {
		temps[i] = at.air
	}
	if rubber > 0 {
		temps[0] = h.patternC(layers[0], at)
	}
	body, err := heat.NewBody(heat.Build{Layers: layers, RightH: stillAirH})
	if err != nil {
		return nil, fmt.Errorf("reckon the heat of the mold: %w", err)
	}
	h.face = body.OnFace(rubber)
	return heat.NewState(body, temps, h.rates)
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
		if alone.Step(p.to.air, p.seconds()) != nil {
			return at.air
		}
	}
	if alone == nil {
		return at.air
	}
	return alone.LayerC(0)
}

// leapHours is the step in which paths are run through the mold: half an hour, within 0.05 K.
const leapHours = 0.5

// completions are the hours after which, on each path, the part that cures last has reached an age, in
// ascending order; +Inf where it is not within the forecast. age gives the age at a standard normal score, s.
func (h *thermal) completions(a *ahead, age func(z float64) float64) ([]float64, error) {
	scratch, err := h.scratch()
	if err != nil {
		return nil, err
	}
	out := make([]float64, pathCount)
	course := make([]float64, int((forecast.Steps-1)/leapHours))
	for i := range out {
		if err := scratch.Copy(h.state); err != nil {
			return nil, err
		}
		for k := range course {
			course[k] = a.at(i, float64(k+1)*leapHours)
		}
		took, ok := scratch.Finish(0, age(spread(i)), course, leapHours*3600)
		out[i] = took / 3600
		if !ok {
			out[i] = math.Inf(1)
		}
	}
	slices.Sort(out)
	return out, nil
}

// scratch is a state to run paths in.
func (h *thermal) scratch() (*heat.State, error) {
	layers, _ := h.build.layers()
	return heat.NewState(h.state.Body(), make([]float64, len(layers)), h.rates)
}
