package heat

import "fmt"

// Grown returns s with one more layer on its right face at tempC (°C): the next
// brushed coat, or the shell. Temperatures, ages and conversions of the layers
// beneath carry over; the new layer starts at age zero. rightH is the surface
// coefficient of the new face. s itself is left alone.
func (s *State) Grown(layer Layer, tempC, rightH float64) (*State, error) {
	build := s.body.build
	build.Layers = append(append([]Layer(nil), build.Layers...), layer)
	build.RightH = rightH
	body, err := NewBody(build)
	if err != nil {
		return nil, fmt.Errorf("add a layer of %s: %w", layer.Material.Name, err)
	}
	layerC := make([]float64, len(build.Layers))
	for i := range layerC {
		layerC[i] = tempC
	}
	grown, err := NewState(body, layerC, s.laws...)
	if err != nil {
		return nil, fmt.Errorf("add a layer of %s: %w", layer.Material.Name, err)
	}
	grown.airC = s.airC
	copy(grown.tempC, s.tempC)
	copy(grown.conversion, s.conversion)
	for k := range s.ages {
		copy(grown.ages[k], s.ages[k])
		grown.keepRims(s, k)
	}
	grown.rate()
	return grown, nil
}

// keepRims carries over the ages of the rims that are still rims.
func (s *State) keepRims(from *State, law int) {
	for i, c := range s.body.curing {
		if i == len(from.body.curing) {
			return
		}
		s.rims.ages[law][2*i] = from.rims.ages[law][2*i]
		if from.body.curing[i].to == c.to {
			s.rims.ages[law][2*i+1] = from.rims.ages[law][2*i+1]
		}
	}
}
