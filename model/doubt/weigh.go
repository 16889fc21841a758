package doubt

// row is the probability of everything found of one thing, as a function of the ln need of its batch.
type row struct {
	clean   []float64 // the thing is held up by nothing else, by node
	late    []float64 // it is late by the surface's delay, by node up to axis.own
	never   float64   // it never cures
	spoiled bool      // its face was seen spoiled
}

// scale weighs findings at one place in the bounds of their ages: it holds their probability under
// every state of batch and surface.
type scale struct {
	axis   *axis
	spread Spread
	priors *Priors
	place  place
	share  float64 // of the place
	rows   [things]row
	states []state // room to work in
}

func newScale(a *axis, spread Spread, p *Priors) *scale {
	s := &scale{axis: a, spread: spread, priors: p, states: make([]state, a.own)}
	n, own := s.axis.nodes, s.axis.own
	room := make([]float64, things*(n+own))
	for i := range s.rows {
		s.rows[i].clean, room = room[:n], room[n:]
		s.rows[i].late, room = room[:own], room[own:]
	}
	return s
}

// fill sets the row of one thing with its findings.
func (s *scale) fill(of Thing, found steps) {
	r := &s.rows[of]
	r.never = found.last()
	sd := s.spread.Own[of]
	for i := range r.clean {
		r.clean[i] = found.given(s.axis.at(i), sd)
	}
	s.delay(r)
}

// delay averages the clean row over the surface's delays.
func (s *scale) delay(r *row) {
	d := s.priors.SurfaceDelay
	share := 1 / float64(d.Most-d.Least+1)
	for i := range r.late {
		sum := 0.0
		for k := d.Least; k <= d.Most; k++ {
			sum += r.clean[i+k*s.axis.half]
		}
		r.late[i] = sum * share
	}
}

// state is how the pieces of a case combine at one ln need of the batch.
type state struct {
	well     float64 // clean surface
	inhibits float64 // surface that inhibits
	onlyCup  float64 // clean surface, the cup off
}

// at combines the rows at one node.
func (s *scale) at(i int) state {
	cup, patch, mold := &s.rows[Cup], &s.rows[Patch], &s.rows[Mold]
	return s.combine(
		[things]float64{cup.clean[i], patch.clean[i], mold.clean[i]},
		[things]float64{cup.late[i], patch.late[i], mold.late[i]},
	)
}

// never combines the rows of a batch that never cures.
func (s *scale) never() state {
	never := [things]float64{s.rows[Cup].never, s.rows[Patch].never, s.rows[Mold].never}
	return s.combine(never, never)
}

// combine joins the things, independent of one another once the need of the batch is given.
func (s *scale) combine(clean, late [things]float64) state {
	p, patch, mold := s.priors, &s.rows[Patch], &s.rows[Mold]
	patchClean, patchBad := patch.faces(p)
	moldClean, moldBad := mold.faces(p)
	bothLate := mix(p.PatchShows, late[Patch]*patchBad, clean[Patch]*patchClean) *
		mix(p.EdgeShows, late[Mold]*moldBad, clean[Mold]*moldClean)
	bothNever := mix(p.PatchShows, patch.never*patchBad, clean[Patch]*patchClean) *
		mix(p.EdgeShows, mold.never*moldBad, clean[Mold]*moldClean)
	poured := clean[Patch] * patchClean * clean[Mold] * moldClean
	return state{
		well:     clean[Cup] * poured,
		inhibits: clean[Cup] * mix(p.SurfaceNever, bothNever, bothLate),
		onlyCup:  mix(p.BatchNever, s.rows[Cup].never, late[Cup]) * poured,
	}
}

// faces is the probability of how the face of a thing looked, on a clean place and on one that inhibits.
func (r *row) faces(p *Priors) (clean, bad float64) {
	if r.spoiled {
		return p.SpoilsClean, p.SpoilsBad
	}
	return 1, 1
}

// mix is share of a and the rest of b.
func mix(share, a, b float64) float64 { return share*a + (1-share)*b }

// likelihood integrates the shared error out.
func (s *scale) likelihood() Probabilities {
	for i := range s.states {
		s.states[i] = s.at(i)
	}
	good := s.shared(0)
	d := s.priors.BatchDelay
	var late state
	for k := d.Least; k <= d.Most; k++ {
		sum := s.shared(k * s.axis.half)
		late.well += sum.well / float64(d.Most-d.Least+1)
		late.inhibits += sum.inhibits / float64(d.Most-d.Least+1)
	}
	never := s.never()
	return Probabilities{
		NothingWrong:    good.well,
		SurfaceInhibits: good.inhibits,
		BatchBad:        mix(s.priors.BatchNever, never.well, late.well),
		BothWrong:       mix(s.priors.BatchNever, never.inhibits, late.inhibits),
		OnlyCup:         good.onlyCup,
	}
}

// shared is the mean over the shared error of a batch that is late by so many nodes.
func (s *scale) shared(late int) (sum state) {
	for i, w := range s.axis.weight {
		at := &s.states[i+late]
		sum.well += w * at.well
		sum.inhibits += w * at.inhibits
		sum.onlyCup += w * at.onlyCup
	}
	return sum
}
