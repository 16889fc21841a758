package heat

import "math"

// Probe is where a probe sits in a body: on a face between layers, or in a cell.
type Probe struct {
	at   int16
	kind probeKind
}

type probeKind uint8

const (
	noProbe probeKind = iota
	onFace
	inCell
)

// OnFace is a probe on the left face of a layer: layer 1 of pattern and rubber
// is the pattern's face, layer 0 the back. A layer beyond the last stands for
// the outer skin.
func (b *Body) OnFace(layer int) Probe {
	layer = max(0, min(layer, len(b.first)-1))
	return Probe{at: int16(b.first[layer]), kind: onFace}
}

// Within is a probe left in a layer, depth m from its left face. It measures
// the cell it is in.
func (b *Body) Within(layer int, depth float64) Probe {
	layer = max(0, min(layer, len(b.build.Layers)-1))
	from, to := b.LayerCells(layer)
	share := depth / b.build.Layers[layer].Thickness
	cell := from + int(share*float64(to-from))
	return Probe{at: int16(max(from, min(cell, to-1))), kind: inCell}
}

// Measured is what a probe in the body reads. It overrides the model at that
// place: whatever heat it takes to hold the place there is let in or out.
type Measured struct {
	Probe Probe
	TempC float64 // NaN = no reading, the model decides
}

// mostPins is the number of probes one step may be given.
const mostPins = 4

// pinned is the set of probes of a step.
type pinned [mostPins]Probe

// pins collects the probes that have a reading; probes beyond the fourth are left out.
func pins(measured []Measured) (set pinned, tempC [mostPins]float64) {
	n := 0
	for _, m := range measured {
		if n == mostPins || m.Probe.kind == noProbe || !finite(m.TempC) {
			continue
		}
		set[n], tempC[n] = m.Probe, m.TempC
		n++
	}
	return set, tempC
}

// cell reports whether a cell is pinned.
func (s *pinned) cell(i int) bool { return s.has(inCell, i) }

// face reports whether the left face of a cell is pinned.
func (s *pinned) face(i int) bool { return s.has(onFace, i) }

func (s *pinned) has(kind probeKind, at int) bool {
	for _, p := range s {
		if p.kind == kind && int(p.at) == at {
			return true
		}
	}
	return false
}

// load puts the pinned temperatures into the right-hand side r of a step.
func (b *Body) load(r []float64, set pinned, tempC [mostPins]float64) {
	for k, p := range set {
		i := int(p.at)
		if p.kind != onFace {
			continue
		}
		if i > 0 {
			r[i-1] += b.outer[i-1] * tempC[k]
		}
		if i < len(r) {
			r[i] += b.inner[i] * tempC[k]
		}
	}
	for k, p := range set {
		if p.kind == inCell {
			r[p.at] = tempC[k]
		}
	}
}

// faceC is the temperature of the left face of a cell, the last one's right
// face for the number of cells: what makes the heat through both sides equal.
func (s *State) faceC(i int) float64 {
	b, t := s.body, s.tempC
	left, right := b.leftW, b.rightW
	leftC, rightC := s.airC, s.airC
	if i > 0 {
		left, leftC = b.outer[i-1], t[i-1]
	}
	if i < len(t) {
		right, rightC = b.inner[i], t[i]
	}
	switch {
	case left == 0 || math.IsNaN(leftC):
		return rightC
	case right == 0 || math.IsNaN(rightC):
		return leftC
	}
	return (left*leftC + right*rightC) / (left + right)
}

// ProbeC is the temperature, °C, where a probe sits: what it read if the last
// step was given its reading, else what the model holds.
func (s *State) ProbeC(p Probe) float64 {
	for k, held := range s.held {
		if held == p && p.kind != noProbe {
			return s.heldC[k]
		}
	}
	if p.kind == inCell {
		return s.tempC[p.at]
	}
	return s.faceC(int(p.at))
}
