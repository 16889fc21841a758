package doubt

import "math"

// halfDoubling is ln(need) of one step of a Delay.
const halfDoubling = math.Ln2 / 2

// reach is how far the shared error is followed, in standard deviations.
const reach = 6

// axis is an even grid of ln need on which half doublings are whole numbers of steps. Its first nodes
// carry the shared error; the rest make room for delays.
type axis struct {
	step   float64
	half   int       // nodes in a half doubling
	first  float64   // ln need at node 0
	weight []float64 // of the shared error at the first nodes; sums to 1
	nodes  int       // with room for both delays
	own    int       // with room for the batch's delay alone
}

// newAxis spans the shared error and both delays. The trapezoid rule on a product of normal densities
// and integrals of narrowest width w and step h errs by about exp(-2 pi^2 w^2/h^2).
func newAxis(spread Spread, p *Priors) axis {
	narrow := spread.Shared
	for _, own := range spread.Own {
		narrow = min(narrow, own)
	}
	half := int(math.Ceil(halfDoubling / (narrow / 2)))
	a := axis{step: halfDoubling / float64(half), half: half}
	side := int(math.Ceil(reach * spread.Shared / a.step))
	a.first = -float64(side) * a.step
	a.weight = normalWeights(side, a.step/spread.Shared)
	a.own = len(a.weight) + p.BatchDelay.Most*half
	a.nodes = a.own + p.SurfaceDelay.Most*half
	return a
}

// at is ln need at a node.
func (a *axis) at(node int) float64 { return a.first + float64(node)*a.step }

// normalWeights is the standard normal density on nodes z apart, from -side to side, scaled to sum to 1.
func normalWeights(side int, z float64) []float64 {
	w := make([]float64, 2*side+1)
	sum := 0.0
	for i := range w {
		x := float64(i-side) * z
		w[i] = math.Exp(-x * x / 2)
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}
