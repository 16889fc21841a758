package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"pourward/model/forecast"
)

// Request is what is to be planned.
type Request struct {
	Sight  Sight
	Course Course
	Hours  Hours     // in which somebody is there
	Now    time.Time // nothing begins before
	By     time.Time // the last thing is demolded by then
	Begin  time.Time // to tell of this start; zero = of the latest that holds
	Heat   *Heat     // nil = the shop as it is
}

// Verdict is the answer to "can it be done by then?".
type Verdict string

const (
	Holds     Verdict = "holds"      // on nine paths of ten, if begun in time
	TooLate   Verdict = "too late"   // not even if begun at once
	CannotSay Verdict = "cannot say" // the deadline lies beyond the forecast
)

// Band is an instant over all paths: 10, 50 and 90 %. Each is that of a path, so that it lies in working hours
// if all do. Zero = beyond the forecast, or never, on the paths there.
type Band struct{ Early, Likely, Late time.Time }

// Action is one thing to do, with when and why then.
type Action struct {
	Kind     Kind
	Title    string // for people
	Material string
	Ready    Band    // when what came before is dry, cured or takes the next layer, by nine in ten
	Begin    Band    // when the action is done: Likely is the planned instant
	Held     Hold    // what most often keeps it waiting after that; NoHold = nothing
	HeldOn   float64 // on so many of the paths, 0..1
}

// Block is a reason why it does not come to its end on some paths.
type Block struct {
	Title string // of the action
	Hold  Hold
	On    float64 // share of the paths, 0..1
}

// Plan is what can be told of a request.
type Plan struct {
	Verdict Verdict
	Latest  time.Time // the latest start that holds; zero where there is none
	Soonest time.Time // done by then, on nine paths of ten, if begun at once; zero = not within the forecast
	AskFrom time.Time // of CannotSay: from then on the deadline lies within the forecast

	// Of one start: the one asked for, else the latest that holds, else the first chance.
	Begin   time.Time // zero where there is no working hour left within the forecast
	Share   float64   // of the paths on which it is done by the deadline, 0..1; NaN for CannotSay
	Actions []Action
	Done    Band
	Blocks  []Block // the commonest first
}

// holding is how many of n paths must hold: nine in ten.
func holding(n int) int { return (9*n + 9) / 10 }

// Make plans a request. An error is a sentence for the maker.
func Make(r Request) (*Plan, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	acts, err := r.Sight.acts(r.Course)
	if err != nil {
		return nil, err
	}
	w := newWalker(r, acts)
	p := &Plan{Verdict: TooLate, Share: math.NaN()}
	starts := w.starts(r.since(r.Now))
	by := r.since(r.By)
	if by > end {
		p.Verdict, p.AskFrom = CannotSay, r.By.Add(-seconds(end))
	}
	if len(starts) == 0 {
		return p, nil
	}
	begin := starts[0]
	p.Soonest = w.soonest(begin)
	if p.Verdict != CannotSay {
		if k := w.latest(starts, by); k >= 0 {
			p.Verdict, p.Latest, begin = Holds, w.at(starts[k]), starts[k]
		}
	}
	if !r.Begin.IsZero() {
		begin = r.since(r.Begin)
	}
	w.tell(p, begin, by)
	return p, nil
}

func (r Request) check() error {
	switch {
	case r.Sight.Paths == nil || r.Sight.Paths.N == 0 || len(r.Sight.Paths.TempC) < r.Sight.Paths.N*forecast.Steps:
		return errors.New("nothing is known of the air to come, so nothing can be planned")
	case len(r.Hours) == 0:
		return errors.New("no working hours are given: " + hoursExample)
	case !r.By.After(r.Now):
		return errors.New("the deadline has passed: give one that is still to come")
	case !r.Begin.IsZero() && r.Begin.Before(r.Now):
		return errors.New("the start has passed: give one that is still to come")
	case !r.Begin.IsZero() && !r.Begin.Before(r.By):
		return errors.New("the start is not before the deadline")
	case r.since(r.Begin) > end:
		return fmt.Errorf("the start lies beyond the %d hours that can be forecast", forecast.Steps-1)
	case r.Heat != nil:
		return r.Heat.check()
	}
	return nil
}

// since is an instant in s from the beginning of the paths, not before it.
func (r Request) since(t time.Time) float64 {
	if t.Before(r.Sight.At) {
		return 0
	}
	return t.Sub(r.Sight.At).Seconds()
}

func newWalker(r Request, acts []act) *walker {
	w := &walker{sky: newSky(r.Sight, r.Heat), acts: acts, blocks: map[int]*blocks{}}
	for _, s := range r.Hours.Within(r.Sight.At, r.Sight.At.Add(seconds(end)), r.Sight.zone()) {
		w.hours = append(w.hours, open{s.From.Sub(r.Sight.At).Seconds(), min(end, s.To.Sub(r.Sight.At).Seconds())})
	}
	whole := func(s float64) float64 { // s to the next whole one of the clock; zones are whole quarters from UTC
		past := r.Sight.At.Sub(r.Sight.At.Truncate(seconds(s))).Seconds()
		return math.Mod(s-past, s)
	}
	w.tick0, w.quarter0 = whole(tick), whole(step)
	return w
}

// at is an instant of the paths, to the second.
func (w *walker) at(s float64) time.Time {
	return w.sky.sight.At.Add(seconds(s)).Round(time.Second)
}

// starts lists the instants at which a maker may begin: whole five minutes of the working hours.
func (w *walker) starts(from float64) []float64 {
	var out []float64
	for _, o := range w.hours {
		for s := w.onTick(max(o.from, from)); s < o.to; s += tick {
			out = append(out, s)
		}
	}
	return out
}

// holds reports whether nine paths of ten are done by an instant when begun at another.
func (w *walker) holds(begin, by float64) bool {
	n := w.sky.sight.Paths.N
	may := n - holding(n) // so many may fail
	for i := range n {
		if done, _, stop := w.walk(i, begin, nil); stop != NoHold || done > by {
			if may--; may < 0 {
				return false
			}
		}
	}
	return true
}

// latest is the index of the last start that holds, found by halving: a later start is done no earlier. -1 where
// the first does not hold.
func (w *walker) latest(starts []float64, by float64) int {
	low, high := -1, len(starts)
	for first := true; high-low > 1; first = false {
		mid := (low + high) / 2
		if first {
			mid = 0
		}
		if w.holds(starts[mid], by) {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// soonest is the whole five minutes by which nine paths of ten are done.
func (w *walker) soonest(begin float64) time.Time {
	n := w.sky.sight.Paths.N
	all := make([]float64, n)
	for i := range all {
		done, _, stop := w.walk(i, begin, nil)
		if all[i] = done; stop != NoHold {
			all[i] = math.Inf(1)
		}
	}
	slices.Sort(all)
	late := all[holding(n)-1]
	if math.IsInf(late, 1) {
		return time.Time{}
	}
	return w.at(w.onTick(late))
}
