package deliver

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"pourward/alerts"
	"pourward/sensors"
)

// episode is one alert from its beginning to its end.
type episode struct {
	id    int64
	alert alerts.Alert
	ended time.Time // by the shop clock; zero while it stands
	open  map[string]*share
}

// share is what of an episode one target has heard. A target that has no share in an episode has nothing more
// to hear of it.
type share struct {
	began bool      // it was told that it began
	ended bool      // it was told that it ended
	held  bool      // quiet hours hold back the next thing to tell
	due   time.Time // since when the next thing is to be told, by the monotonic clock
}

// Limits of the books. What ended is given up beyond them: nobody needs a message of last week.
const (
	mostEnded   = 1000
	oldestEnded = 7 * 24 * time.Hour
)

// book is what happened and who heard of it. It is plain memory; the callers lock it and put on disk what
// changed.
type book struct {
	shop     string
	targets  []string
	episodes map[int64]*episode
	last     int64                // greatest number of an episode
	shifts   int                  // of the shop clock's labels, that were followed
	unsure   map[string][]*parcel // by target: sent, and not known whether they were taken
	given    map[string]uint64    // by target: things given up untold
}

func newBook(shop string, targets []string) *book {
	return &book{shop: shop, targets: targets, episodes: map[int64]*episode{}, unsure: map[string][]*parcel{}, given: map[string]uint64{}}
}

// standing are the episodes that have not ended, the oldest first.
func (b *book) standing() []*episode {
	return slices.DeleteFunc(b.all(), func(e *episode) bool { return !e.ended.IsZero() })
}

// all are the episodes in the order in which they came.
func (b *book) all() []*episode {
	return slices.SortedFunc(maps.Values(b.episodes), func(x, y *episode) int { return cmp.Compare(x.id, y.id) })
}

// changes are what of the books must go to disk.
type changes struct {
	put  []*episode
	drop []int64
}

func (c *changes) empty() bool { return len(c.put)+len(c.drop) == 0 }

// follow moves the instants in the books with the labels of the shop clock, so that nothing counts as long ago because
// the time of day was set.
func (b *book) follow(shifts []sensors.Shift) (c changes) {
	for _, by := range shifts[b.shifts:] {
		c.put = b.all()
		for _, e := range c.put {
			e.alert.Since, e.ended = by.Moved(e.alert.Since), by.Moved(e.ended)
		}
	}
	b.shifts = len(shifts)
	return c
}

// take notes what fires at an instant of the shop clock.
func (b *book) take(at time.Time, active []alerts.Alert) (c changes) {
	before := map[string]*episode{}
	for _, e := range b.standing() {
		before[e.alert.Name+e.alert.Key()] = e
	}
	for _, a := range active {
		key := a.Name + a.Key()
		if e := before[key]; e != nil {
			e.alert = a // its words tell how things are now
			delete(before, key)
			continue
		}
		c.put = append(c.put, b.begin(a))
	}
	for _, e := range before {
		e.end(at)
		c.put = append(c.put, e)
	}
	b.bound(at, &c)
	return c
}

func (b *book) begin(a alerts.Alert) *episode {
	b.last++
	e := &episode{id: b.last, alert: a, open: map[string]*share{}}
	for _, t := range b.targets {
		e.open[t] = &share{due: time.Now()}
	}
	b.episodes[e.id] = e
	return e
}

// end notes that the alert ended. What was to be told of it waits for as long as it did.
func (e *episode) end(at time.Time) {
	e.ended = at
	if at.Before(e.alert.Since) {
		e.ended = e.alert.Since
	}
	for _, s := range e.open {
		if s.began {
			s.due, s.held = time.Now(), false
		}
	}
}

// close gives up what a target still had to hear, and the episode with the last one.
func (b *book) close(e *episode, target string, c *changes) {
	delete(e.open, target)
	if len(e.open) == 0 && !e.ended.IsZero() {
		delete(b.episodes, e.id)
		c.drop = append(c.drop, e.id)
		return
	}
	c.put = append(c.put, e)
}

// bound gives up what ended long ago, and the oldest where there is too much.
func (b *book) bound(at time.Time, c *changes) {
	ended := slices.DeleteFunc(b.all(), func(e *episode) bool { return e.ended.IsZero() })
	for i, e := range ended {
		if at.Sub(e.ended) < oldestEnded && len(ended)-i <= mostEnded {
			continue
		}
		for target, s := range e.open {
			if !s.ended {
				b.given[target]++
			}
		}
		delete(b.episodes, e.id)
		c.drop = append(c.drop, e.id)
	}
}
