package model

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"pourward/model/doubt"
	"pourward/model/forecast"
	"pourward/model/material"
	"pourward/model/mix"
	"pourward/sensors"
)

// Probe is how a probe is set up.
type Probe struct {
	Name      string
	Place     string        // where it sits
	Every     time.Duration // how often it should speak
	AccuracyK float64       // one standard deviation of its temperature, K; 0 = 0.5
}

// Setup is what a shop has.
type Setup struct {
	Places []string // in the order to show them
	Probes []Probe  // the first one listed for a place is believed there
	Shelf  *material.Shelf
	Zone   *time.Location               // of the shop: people and heaters follow its clock; nil = UTC
	Heated map[string]forecast.Schedule // by place: when it is heated, where the maker says so
	Pour   material.Window              // where no rubber is named; zero = the usual window of the generic classes
	Scale  mix.Scale                    // that batches are weighed on; zero = not told

	Rates     *doubt.Priors // how often things go wrong here; nil = the built-in rates
	PatchGood time.Duration // how long a patch that passed vouches, at most a year; zero = 180 days
}

// defaults of a Setup.
const (
	defaultAccuracyK = 0.5
	pourMinC         = 18
	pourMaxC         = 32
)

// Shop is the state that readings and marks are folded into. One goroutine owns it.
type Shop struct {
	setup   Setup
	places  map[string]*place
	probes  []*probe
	molds   map[string]*mold // and patches
	marks   map[int64]Mark
	learned map[string]material.Event // by material and findings
	bodies  bodies
	breaks  []interruption // in order of time
	newest  int64          // latest trusted sample anywhere, or to come while the record is folded again
	heard   int64          // latest trusted sample folded
	feeling []*mold        // all molds in order of their beginning; nil while it is to be made anew
}

type probe struct {
	Probe
	place *place
	last  sample // newest trusted reading
	heard bool
	own   track // what it measured, where its place has several probes
}

// ErrHistory means that a mark reaches further back than the readings the shop still holds. Fold the
// record again from [Shop.Needs] with this mark among the others.
var ErrHistory = errors.New("the mark reaches further back than the readings at hand")

// NewShop returns an empty shop. The error names what in the setup does not fit together.
func NewShop(setup Setup) (*Shop, error) {
	if setup.Shelf == nil {
		setup.Shelf = material.Generic()
	}
	if setup.Pour == (material.Window{}) {
		setup.Pour = material.Window{MinC: pourMinC, MaxC: pourMaxC}
	}
	s := &Shop{setup: setup, places: map[string]*place{}, molds: map[string]*mold{}, marks: map[int64]Mark{}, learned: map[string]material.Event{}, bodies: newBodies()}
	for _, name := range setup.Places {
		if _, twice := s.places[name]; twice {
			return nil, fmt.Errorf("place %q is listed twice", name)
		}
		s.places[name] = &place{name: name, track: track{gap: gapOf(0)}, past: past{zone: setup.Zone}}
		if plan, ok := setup.Heated[name]; ok {
			s.places[name].past.plan = &plan
		}
	}
	for _, p := range setup.Probes {
		if err := s.addProbe(p); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func (s *Shop) addProbe(p Probe) error {
	at, ok := s.places[p.Place]
	if !ok {
		return fmt.Errorf("probe %q sits at place %q, which is not listed", p.Name, p.Place)
	}
	if s.probe(p.Name) != nil {
		return fmt.Errorf("probe %q is listed twice", p.Name)
	}
	if p.AccuracyK == 0 {
		p.AccuracyK = defaultAccuracyK
	}
	pr := &probe{Probe: p, place: at}
	s.probes = append(s.probes, pr)
	at.probes = append(at.probes, pr)
	at.track.gap = max(at.track.gap, gapOf(p.Every))
	return nil
}

func (s *Shop) probe(name string) *probe {
	for _, p := range s.probes {
		if p.Name == name {
			return p
		}
	}
	return nil
}

// Reading folds one reading. What the model cannot trust, and readings of probes it does not know,
// change nothing. Readings may come in any order.
func (s *Shop) Reading(r sensors.Reading) {
	p := s.probe(r.Probe)
	x, ok := trusted(r.Rounded())
	if p == nil || !ok {
		return
	}
	if !p.heard || x.at > p.last.at {
		p.last, p.heard = x, true
	}
	s.newest, s.heard = max(s.newest, x.at), max(s.heard, x.at)
	for i := len(s.breaks) - 1; i >= 0 && x.at < s.breaks[i].at; i-- {
		s.breaks[i].known = max(s.breaks[i].known, x.at)
	}
	where := p.place.take(p, x)
	if where == nowhere {
		return
	}
	for _, m := range s.inOrder() {
		if x.at < m.feelsFrom {
			break // it begins later, and so do all that follow
		}
		if m.felt(&p.place.track, where) {
			s.relearnFrom(m)
		}
	}
}

// inOrder are the molds in order of their beginning, so that a year of readings need not ask each of them.
func (s *Shop) inOrder() []*mold {
	if s.feeling == nil {
		longest := int64(0)
		for _, p := range s.places {
			longest = max(longest, p.track.gap)
		}
		for _, m := range s.molds {
			m.feelsFrom = m.begun() - 2*longest
			s.feeling = append(s.feeling, m)
		}
		slices.SortFunc(s.feeling, func(a, b *mold) int { return cmp.Compare(a.feelsFrom, b.feelsFrom) })
	}
	return s.feeling
}

// relearnFrom lets a mold that taught something teach the others. Molds whose readings are held no more
// keep what they had.
func (s *Shop) relearnFrom(m *mold) {
	for _, f := range m.findings {
		_ = s.relearn(f.material)
	}
}

// silentAfter is how long a probe may say nothing trusted before it counts as silent.
func (p *probe) silentAfter() int64 {
	return max(3*p.Every, 2*time.Minute).Milliseconds()
}

// fresh reports whether the probe's last trusted reading still holds.
func (p *probe) fresh(now int64) bool {
	return p != nil && p.heard && now-p.last.at <= p.silentAfter()
}

func (p *probe) outlook(now int64) ProbeOutlook {
	o := ProbeOutlook{Name: p.Name, Place: p.Place, Every: p.Every, Silent: !p.fresh(now), TempC: math.NaN(), Humidity: math.NaN()}
	if p.heard {
		o.Last, o.TempC, o.Humidity = instant(p.last.at), p.last.temp, p.last.hum
	}
	return o
}
