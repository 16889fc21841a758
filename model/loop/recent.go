package loop

import (
	"cmp"
	"context"
	"slices"
	"sort"
	"sync"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// Marking is a record of marks, and of the labels they were made under.
type Marking interface {
	Dating
	AppendMark(context.Context, model.Mark) (model.Mark, error)
	Marks(context.Context) ([]model.Mark, error)
}

// Recent is a [Record] for a shop whose readings are kept elsewhere: it has those of the last while in
// memory, to fold them again, and puts only marks on record. Readings may be looked at by any goroutine.
type Recent struct {
	Marking
	reach time.Duration

	mu     sync.Mutex
	by     map[string][]sensors.Reading // in order of time
	newest time.Time
}

// NewRecent returns a record that keeps marks in another, and readings until they are older by reach than
// the newest.
func NewRecent(marks Marking, reach time.Duration) *Recent {
	return &Recent{Marking: marks, reach: reach, by: map[string][]sensors.Reading{}}
}

// AppendReading takes a reading. One of an instant that the probe has a reading of already changes nothing.
func (r *Recent) AppendReading(x sensors.Reading) error {
	if x.Temp.Quality == sensors.Missing && x.Humidity.Quality == sensors.Missing {
		return nil
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if x.At.Before(r.newest.Add(-r.reach)) {
		return nil
	}
	list := r.by[x.Probe]
	i := after(list, x.At)
	if i == 0 || !list[i-1].At.Equal(x.At) {
		r.by[x.Probe] = slices.Insert(list, i, x)
	}
	if x.At.After(r.newest) {
		r.newest = x.At
		r.forget()
	}
	return nil
}

// after is the place of the first reading after an instant.
func after(list []sensors.Reading, at time.Time) int {
	return sort.Search(len(list), func(i int) bool { return list[i].At.After(at) })
}

// from is the place of the first reading not before an instant.
func from(list []sensors.Reading, at time.Time) int {
	return sort.Search(len(list), func(i int) bool { return !list[i].At.Before(at) })
}

// spare is how many readings of a probe may be too old before they are given up: seldom, since that moves
// all others.
const spare = 4096

func (r *Recent) forget() {
	oldest := r.newest.Add(-r.reach)
	for probe, list := range r.by {
		if n := len(list); n > spare && list[spare-1].At.Before(oldest) {
			r.by[probe] = slices.Clone(list[from(list, oldest):])
		}
	}
}

// Flush makes safe what the record of marks may hold back; marks are safe as soon as they are taken.
func (r *Recent) Flush(ctx context.Context) error {
	if of, ok := r.Marking.(interface{ Flush(context.Context) error }); ok {
		return of.Flush(ctx)
	}
	return nil
}

// Stand is that of the record of marks.
func (r *Recent) Stand() model.RecordStand {
	if of, ok := r.Marking.(Standing); ok {
		return of.Stand()
	}
	return model.RecordStand{}
}

// Renewed is that of the record of marks.
func (r *Recent) Renewed() bool {
	of, ok := r.Marking.(Standing)
	return ok && of.Renewed()
}

// Waiting is always zero.
func (*Recent) Waiting() int { return 0 }

// Trace returns the readings of a probe from an instant up to, not including, another, in order of time.
func (r *Recent) Trace(_ context.Context, probe string, begin, end time.Time) ([]sensors.Reading, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if oldest := r.newest.Add(-r.reach); begin.Before(oldest) {
		begin = oldest
	}
	list := r.by[probe]
	i := from(list, begin)
	return slices.Clone(list[i:max(i, from(list, end))]), nil
}

// Readings yields the readings of all probes from an instant up to, not including, another, in order of
// time and, at one instant, of the probe's name.
func (r *Recent) Readings(ctx context.Context, begin, end time.Time, yield func(sensors.Reading) error) error {
	r.mu.Lock()
	var probes []string
	for p := range r.by {
		probes = append(probes, p)
	}
	r.mu.Unlock()
	var all []sensors.Reading
	for _, p := range probes {
		of, err := r.Trace(ctx, p, begin, end)
		if err != nil {
			return err
		}
		all = append(all, of...)
	}
	slices.SortFunc(all, func(a, b sensors.Reading) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Probe, b.Probe))
	})
	for _, x := range all {
		if err := yield(x); err != nil {
			return err
		}
	}
	return nil
}

// Span returns the instants of the first and last reading in memory; zero when there is none.
func (r *Recent) Span(context.Context) (first, last time.Time, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, list := range r.by {
		if i := from(list, r.newest.Add(-r.reach)); i < len(list) && (first.IsZero() || list[i].At.Before(first)) {
			first = list[i].At
		}
	}
	return first, r.newest, nil
}
