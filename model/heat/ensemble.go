package heat

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"sync"
)

// Ensemble is what many courses of the air do to one body, worked out once for every mold that has it.
// Without heat of reaction conduction is linear: the temperatures of a mold on a course are those that
// the course alone would give a body that begins at 0 °C, plus those that the mold, as it is, would show
// in air of 0 °C. The first part is shared; the second is one run for each mold.
type Ensemble struct {
	body    *Body
	steps   int
	seconds float64
	cells   int       // of those that cure, the rims counted
	airC    float64   // at the beginning of every course
	own     []float64 // by course, step and cell: what the course alone gives, °C
}

// ErrReacts says that a body gives off heat of its own, so that its runs cannot be put together.
var ErrReacts = errors.New("a body that gives off heat is not linear: run each course through it")

// NewEnsemble runs courses of equal length, one value (°C) for the end of each step, through a body. Every
// course begins at airC.
func NewEnsemble(body *Body, airC float64, courses [][]float64, seconds float64) (*Ensemble, error) {
	if body.reacts() {
		return nil, ErrReacts
	}
	if len(courses) == 0 || !(seconds > 0) {
		return nil, fmt.Errorf("run an ensemble of %d courses in steps of %g s: want courses and a step", len(courses), seconds)
	}
	e := &Ensemble{body: body, steps: len(courses[0]), seconds: seconds, airC: airC}
	for _, c := range body.curing {
		e.cells += c.to - c.from + 2
	}
	e.own = make([]float64, len(courses)*e.steps*e.cells)
	zero := make([]float64, len(body.build.Layers))
	s, err := NewState(body, zero)
	if err != nil {
		return nil, err
	}
	for i, course := range courses {
		if len(course) != e.steps {
			return nil, fmt.Errorf("run an ensemble: course %d has %d steps, the first has %d", i, len(course), e.steps)
		}
		if err := e.run(s, airC, course, e.own[i*e.steps*e.cells:]); err != nil {
			return nil, err
		}
	}
	return e, nil
}

// run leaps a state that begins at 0 °C along one course and keeps the temperatures of what cures.
func (e *Ensemble) run(s *State, airC float64, course []float64, out []float64) error {
	clear(s.tempC)
	s.airC, s.held = airC, pinned{}
	return e.leaps(s, course, out)
}

func (e *Ensemble) leaps(s *State, course []float64, out []float64) error {
	for k, c := range course {
		if err := s.Leap(c, e.seconds); err != nil {
			return err
		}
		s.curingTemps(out[k*e.cells : (k+1)*e.cells])
	}
	return nil
}

// curingTemps writes the temperatures of all curing cells and rims.
func (s *State) curingTemps(out []float64) {
	n := 0
	for i, c := range s.body.curing {
		n += copy(out[n:], s.tempC[c.from:c.to])
		n += copy(out[n:], s.rims.tempC[2*i:2*i+2])
	}
}

// Finish tells for every course after how many seconds the slowest part of a mold has reached an age, which
// may differ by course, under one of its laws; +Inf where the course ends first. The mold must have the
// ensemble's body; its air may be another than the courses' first value, which then comes within the first
// step. The mold is left as it is.
func (e *Ensemble) Finish(mold *State, law int, age func(course int) float64) ([]float64, error) {
	if mold.body != e.body || law < 0 || law >= len(mold.laws) {
		return nil, errors.New("finish a mold in an ensemble: it has another body, or no such cure law")
	}
	alone := make([]float64, e.steps*e.cells)
	s, err := NewState(e.body, make([]float64, len(e.body.build.Layers)))
	if err != nil {
		return nil, err
	}
	copy(s.tempC, mold.tempC)
	s.airC = 0 // the air's part is in the courses
	if err := e.leaps(s, make([]float64, e.steps), alone); err != nil {
		return nil, err
	}
	begin := e.beginning(mold, law)
	out := make([]float64, len(e.own)/len(alone))
	ages := make([]float64, len(out))
	for i := range ages {
		ages[i] = age(i)
	}
	share(len(out), func(from, to int) {
		room := begin.clone()
		for i := from; i < to; i++ {
			room.copy(begin)
			out[i] = room.finish(mold.laws[law], e.own[i*len(alone):(i+1)*len(alone)], alone, e.cells, ages[i]) * e.seconds
		}
	})
	return out, nil
}

// share splits n courses among the processors and waits for all. Each course is worked out by itself, so that what
// comes out does not depend on how many there are.
func share(n int, do func(from, to int)) {
	workers := min(n, runtime.GOMAXPROCS(0))
	var all sync.WaitGroup
	for w := 1; w < workers; w++ {
		all.Go(func() { do(w*n/workers, (w+1)*n/workers) })
	}
	do(0, n/max(workers, 1))
	all.Wait()
}

// curing is the ages and rates of all that cures of one mold.
type curing struct {
	ages, rates, tempC []float64
	seconds            float64
}

func (e *Ensemble) beginning(mold *State, law int) *curing {
	c := &curing{make([]float64, 0, e.cells), make([]float64, 0, e.cells), make([]float64, e.cells), e.seconds}
	for i, span := range mold.body.curing {
		c.ages = append(append(c.ages, mold.ages[law][span.from:span.to]...), mold.rims.ages[law][2*i:2*i+2]...)
		c.rates = append(append(c.rates, mold.rates[law][span.from:span.to]...), mold.rims.rates[law][2*i:2*i+2]...)
	}
	return c
}

func (c *curing) clone() *curing {
	return &curing{append([]float64(nil), c.ages...), append([]float64(nil), c.rates...), make([]float64, len(c.tempC)), c.seconds}
}

func (c *curing) copy(from *curing) {
	copy(c.ages, from.ages)
	copy(c.rates, from.rates)
}

func (c *curing) slowest() float64 {
	least := math.Inf(1)
	for _, a := range c.ages {
		least = min(least, a)
	}
	return least
}

// finish returns after how many steps the slowest part has reached an age; +Inf when it does not.
func (c *curing) finish(law *Rates, course, alone []float64, cells int, age float64) float64 {
	before := c.slowest()
	if before >= age {
		return 0
	}
	for k := 0; k < len(course); k += cells {
		for i := range c.tempC {
			c.tempC[i] = course[k+i] + alone[k+i]
		}
		law.accrue(c.ages, c.rates, c.tempC, c.seconds)
		now := c.slowest()
		if now >= age {
			return float64(k/cells) + (age-before)/(now-before)
		}
		before = now
	}
	return math.Inf(1)
}
