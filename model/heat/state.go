package heat

import (
	"fmt"
	"math"
)

// State is one mold at one instant: the temperature and cure ages of every
// cell. It belongs to its caller; one goroutine at a time may step it.
type State struct {
	body       *Body
	tempC      []float64
	airC       float64 // air at the end of the last step; NaN before the first
	laws       []*Rates
	ages       [][]float64 // by law and cell, equivalent seconds
	rates      [][]float64 // by law and cell, at tempC
	rims       rims
	held       pinned            // the probes of the last step
	heldC      [mostPins]float64 // and what they read
	conversion []float64         // of each reacting cell, 0..1
	rhs, heat  []float64         // working room of a step
	plan       plan
}

// NewState starts a body with each layer at its own temperature, °C: the
// pattern at its own, the rubber as mixed. Each law keeps an age of its own in
// every curing cell.
func NewState(body *Body, layerC []float64, laws ...*Rates) (*State, error) {
	if len(layerC) != len(body.build.Layers) || !finite(layerC...) {
		return nil, fmt.Errorf("start a body of %d layers: got temperatures %v", len(body.build.Layers), layerC)
	}
	for i, law := range laws {
		if law == nil {
			return nil, fmt.Errorf("start a body: cure law %d is missing", i)
		}
	}
	n := body.Cells()
	s := &State{
		body:       body,
		tempC:      make([]float64, n),
		airC:       math.NaN(),
		laws:       append([]*Rates(nil), laws...),
		conversion: make([]float64, n),
		rhs:        make([]float64, n),
		heat:       make([]float64, n),
		plan:       newPlan(body),
	}
	for layer, c := range layerC {
		for i := body.first[layer]; i < body.first[layer+1]; i++ {
			s.tempC[i] = c
		}
	}
	s.ages, s.rates = columns(len(laws), n), columns(len(laws), n)
	s.rims = newRims(len(laws), len(body.curing))
	s.rate()
	return s, nil
}

// columns makes room for a number per law and place.
func columns(laws, places int) [][]float64 {
	room := make([][]float64, laws)
	for k := range room {
		room[k] = make([]float64, places)
	}
	return room
}

// rate sets the rates of every curing cell and rim to its temperature.
func (s *State) rate() {
	s.measureRims()
	for k, law := range s.laws {
		for _, c := range s.body.curing {
			for i := c.from; i < c.to; i++ {
				s.rates[k][i] = law.Rate(s.tempC[i])
			}
		}
		for i, c := range s.rims.tempC {
			s.rims.rates[k][i] = law.Rate(c)
		}
	}
}

// Copy makes s equal to from, which must be of the same body and laws. It does
// not allocate.
func (s *State) Copy(from *State) error {
	if s.body != from.body || len(s.laws) != len(from.laws) {
		return fmt.Errorf("copy a mold's state: the bodies or the numbers of cure laws differ")
	}
	s.airC, s.held, s.heldC = from.airC, from.held, from.heldC
	copy(s.laws, from.laws)
	copy(s.tempC, from.tempC)
	copy(s.conversion, from.conversion)
	for k := range s.ages {
		copy(s.ages[k], from.ages[k])
		copy(s.rates[k], from.rates[k])
	}
	s.rims.copy(&from.rims)
	return nil
}

// Carry puts s into other air at once, °C: whatever it is made of stays as warm as it was, and the next
// step begins in that air.
func (s *State) Carry(airC float64) { s.airC = airC }

// Body is the mesh that s is a state of.
func (s *State) Body() *Body { return s.body }

// TempC is the temperature of a cell, °C.
func (s *State) TempC(cell int) float64 { return s.tempC[cell] }

// Age is the cure age of a cell under a law, equivalent seconds.
func (s *State) Age(law, cell int) float64 { return s.ages[law][cell] }

// LayerC is the mean temperature of a layer, °C, weighted by heat capacity.
func (s *State) LayerC(layer int) float64 {
	var sum, heat float64
	for i := s.body.first[layer]; i < s.body.first[layer+1]; i++ {
		sum += s.body.heat[i] * s.tempC[i]
		heat += s.body.heat[i]
	}
	return sum / heat
}
