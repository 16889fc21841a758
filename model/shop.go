package model

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"pourward/model/forecast"
	"pourward/model/material"
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
	molds   map[string]*mold
	marks   map[int64]Mark
	learned map[string]material.Event // by material and findings
	bodies  bodies
	breaks  []int64 // instants before which a stretch of unknown length is missing
	newest  int64   // latest trusted sample anywhere
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

// keep is how long samples are held when no open mold needs them.
const keep = 48 * time.Hour

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
	s.newest = max(s.newest, x.at)
	where := p.place.take(p, x)
	if where == nowhere {
		return
	}
	for _, m := range s.molds {
		if m.felt(&p.place.track, where) {
			s.relearnFrom(m)
		}
	}
}

// relearnFrom lets a mold that taught something teach the others. Molds whose readings are held no more
// keep what they had.
func (s *Shop) relearnFrom(m *mold) {
	for _, f := range m.findings {
		_ = s.relearn(f.material)
	}
}

// SetBreaks tells the shop at which instants an unknown stretch of time is missing from the record,
// because the board was off and its clock could not be trusted when it came back. Nothing that was begun
// before such a break is told of as if its time were known.
func (s *Shop) SetBreaks(at []time.Time) {
	s.breaks = s.breaks[:0]
	for _, t := range at {
		s.breaks = append(s.breaks, t.UnixMilli())
	}
}

// broken reports whether a stretch of unknown length lies between an instant and now. Where something was
// reached at an instant, what came later does not matter; 0 = not reached.
func (t *teller) broken(from, reached int64) bool {
	for _, b := range t.shop.breaks {
		if from < b && b <= t.now && (reached == 0 || reached > b) {
			return true
		}
	}
	return false
}

// Forget gives up samples that no open mold can need any more. Call it now and then; it never changes
// what the shop tells.
func (s *Shop) Forget() {
	from := s.keepFrom()
	for _, p := range s.places {
		p.cut(from)
	}
}

func (s *Shop) keepFrom() int64 {
	from := s.newest - keep.Milliseconds()
	for _, m := range s.molds {
		if m.open() {
			from = min(from, m.begun()-2*m.air.track.gap)
		}
	}
	return from
}

// Span is a stretch of time, To left out.
type Span struct{ From, To time.Time }

// learnFor is how long a finished batch goes on to teach about its material.
const learnFor = 365 * 24 * time.Hour

// Needs returns, in order, the stretches of the record that must be folded so that a shop with these marks
// tells the same as one that heard everything up to last. The marks must have been folded already.
func (s *Shop) Needs(last time.Time) []Span {
	s.newest = max(s.newest, last.UnixMilli())
	from := min(s.keepFrom(), (s.newest/1000/daySeconds-windowDays)*daySeconds*1000)
	spans := []Span{{instant(from), last.Add(time.Millisecond)}}
	for _, m := range s.molds {
		old := !m.open() && !m.shown(s.newest)
		if old && (len(m.findings) == 0 || s.newest-m.end > learnFor.Milliseconds()) {
			continue
		}
		end := m.end + m.air.track.gap + time.Hour.Milliseconds() // a sample after the end bounds it
		spans = append(spans, Span{instant(m.begun() - 2*m.air.track.gap), instant(end)})
	}
	return merged(spans, last)
}

// merged puts spans in order and joins those that touch; an open mold's has no end yet.
func merged(spans []Span, last time.Time) []Span {
	for i := range spans {
		if spans[i].To.Before(spans[i].From) {
			spans[i].To = last.Add(time.Millisecond)
		}
	}
	slices.SortFunc(spans, func(a, b Span) int { return a.From.Compare(b.From) })
	out := spans[:1]
	for _, s := range spans[1:] {
		if l := &out[len(out)-1]; !s.From.After(l.To) {
			if s.To.After(l.To) {
				l.To = s.To
			}
		} else {
			out = append(out, s)
		}
	}
	return out
}

// Accept reports whether a mark could be folded now; the error says in a sentence what does not fit and
// how to put it right. It changes nothing.
func (s *Shop) Accept(m Mark) error {
	_, err := s.withMark(m)
	return err
}

// Mark folds a recorded mark: late ones and corrections as well. The error is that of [Shop.Accept], or
// [ErrHistory]; nothing has changed then.
func (s *Shop) Mark(m Mark) error {
	m = m.Rounded()
	marks, err := s.withMark(m)
	if err != nil {
		return err
	}
	next, err := s.newMold(marks)
	if err != nil {
		return err
	}
	s.marks[m.ID] = m
	taught := s.taught(m.Mold)
	if next == nil {
		delete(s.molds, m.Mold)
	} else {
		s.molds[m.Mold] = next
	}
	taught = append(taught, s.taught(m.Mold)...)
	slices.Sort(taught)
	for _, name := range slices.Compact(taught) {
		if err := s.relearn(name); err != nil {
			return err
		}
	}
	return nil
}

// taught lists the materials that a mold has taught something about.
func (s *Shop) taught(name string) []string {
	var out []string
	if m := s.molds[name]; m != nil {
		for _, f := range m.findings {
			out = append(out, f.material)
		}
	}
	return out
}

// withMark returns the marks of m's mold that would be in effect with m, in order, once they have been
// found to make sense together.
func (s *Shop) withMark(m Mark) ([]Mark, error) {
	if err := s.checkMark(m); err != nil {
		return nil, err
	}
	all := []Mark{m}
	for _, o := range s.marks {
		if o.Mold == m.Mold && o.ID != m.ID {
			all = append(all, o)
		}
	}
	marks := inEffect(all)
	return marks, s.checkOrder(m.Mold, marks)
}

// inEffect leaves out what was corrected or withdrawn and puts the rest in order of time.
func inEffect(all []Mark) []Mark {
	gone := map[int64]bool{}
	for _, m := range all {
		if m.Corrects != 0 {
			gone[m.Corrects] = true
		}
	}
	var out []Mark
	for _, m := range all {
		if !gone[m.ID] && m.Kind != Withdrawn {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b Mark) int {
		if c := a.At.Compare(b.At); c != 0 {
			return c
		}
		return int(order(a) - order(b))
	})
	return out
}

// order puts a new mark, which has no ID yet, after all others of its instant.
func order(m Mark) int64 {
	if m.ID == 0 {
		return math.MaxInt32
	}
	return m.ID
}

// Outlook tells everything at an instant not before the newest reading. It changes nothing.
func (s *Shop) Outlook(at time.Time) *Outlook {
	at = at.UTC()
	now := at.UnixMilli()
	o := &Outlook{At: at}
	for _, p := range s.probes {
		o.Probes = append(o.Probes, p.outlook(now))
	}
	for _, name := range s.setup.Places {
		o.Places = append(o.Places, s.placeOutlook(s.places[name], now))
	}
	t := teller{shop: s, now: now, ahead: map[*place]*ahead{}, doubt: map[*mold]*Doubt{}, builds: s.builds(now)}
	for _, m := range s.molds {
		if m.shown(now) {
			o.Molds = append(o.Molds, t.mold(m))
		}
	}
	for _, m := range s.molds {
		if m.open() {
			t.sight(m.air)
		}
	}
	for i, name := range s.setup.Places {
		a := t.ahead[s.places[name]]
		o.Places[i].Ahead = a.reach()
		o.Places[i].HeatedOff = a.heatedOff()
	}
	slices.SortFunc(o.Molds, func(a, b MoldOutlook) int {
		if c := a.Begun.Compare(b.Begun); c != 0 {
			return c
		}
		return compareText(a.Name, b.Name)
	})
	return o
}

func compareText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// builds counts the molds that cure now, by their build.
func (s *Shop) builds(now int64) map[Build]int {
	n := map[Build]int{}
	for _, m := range s.molds {
		if m.shown(now) && m.open() && m.curing() != nil {
			n[m.begin.Build]++
		}
	}
	return n
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
