package heat

// plan is the factored matrix of one step length and one set of pinned probes:
// everything of a step that the temperatures do not change.
//
// Row i reads (own+links)·T[i] - link·T[i-1] - link·T[i+1] = r[i], with own the
// cell's heat capacity over the step. Elimination from the left gives
// T[i] = r·inverse + lower·(eliminated i-1) + upper·T[i+1].
type plan struct {
	seconds float64 // implicit part of the step, s; 0 = not factored yet
	pins    pinned
	own     []float64
	inverse []float64
	lower   []float64
	upper   []float64
}

// newPlan makes room for a body's factors.
func newPlan(b *Body) plan {
	n := b.Cells()
	room := make([]float64, 4*n)
	return plan{own: room[:n:n], inverse: room[n : 2*n : 2*n], lower: room[2*n : 3*n : 3*n], upper: room[3*n:]}
}

// factor prepares steps whose implicit part is seconds long; a plan that is
// prepared already is left alone.
func (p *plan) factor(b *Body, seconds float64, pins pinned) {
	if p.seconds == seconds && p.pins == pins {
		return
	}
	p.seconds, p.pins = seconds, pins
	before := 0.0
	for i := range b.heat {
		before = p.row(b, i, before)
	}
}

// row factors one row; before is the previous row's upper factor.
func (p *plan) row(b *Body, i int, before float64) (upper float64) {
	if p.pins.cell(i) {
		p.own[i], p.inverse[i], p.lower[i], p.upper[i] = 0, 1, 0, 0
		return 0
	}
	left, right := b.link[i], b.link[i+1]
	leftOut, rightOut := left, right // what leads out of the row's own cell
	if p.pins.face(i) {
		left, leftOut = 0, b.inner[i]
	}
	if p.pins.face(i + 1) {
		right, rightOut = 0, b.outer[i]
	}
	if i == 0 {
		left = 0
	}
	if i == len(b.heat)-1 {
		right = 0
	}
	p.own[i] = b.heat[i] / p.seconds
	p.inverse[i] = 1 / (p.own[i] + leftOut + rightOut - left*before)
	p.lower[i] = left * p.inverse[i]
	p.upper[i] = right * p.inverse[i]
	return p.upper[i]
}

// solve turns the right-hand side r into temperatures, in place.
func (p *plan) solve(r []float64) {
	n := len(r)
	inverse, lower, upper := p.inverse[:n], p.lower[:n], p.upper[:n]
	t := 0.0
	for i := range r {
		t = r[i]*inverse[i] + lower[i]*t
		r[i] = t
	}
	t = 0
	for i := n - 1; i >= 0; i-- {
		t = r[i] + upper[i]*t
		r[i] = t
	}
}
