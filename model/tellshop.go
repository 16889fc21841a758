package model

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

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
	t := teller{shop: s, now: now, ahead: map[*place]*ahead{}, doubt: map[*mold]*Doubt{}, builds: s.builds(now), prospects: map[prospectKey]prospect{}, trusts: map[*mold]trust{}}
	for _, m := range s.molds {
		if m.shown(now) && !m.isPatch() {
			o.Molds = append(o.Molds, t.mold(m))
		}
	}
	for _, m := range s.molds {
		if m.open() {
			t.sight(m.air)
		}
	}
	o.Patches, o.Trials = t.proven(), t.trials()
	for i, name := range s.setup.Places {
		a := t.ahead[s.places[name]]
		o.Places[i].Ahead = a.reach()
		o.Places[i].HeatedOff = a.heatedOff()
		o.Places[i].Skill = a.skill()
	}
	slices.SortFunc(o.Molds, func(a, b MoldOutlook) int {
		return cmp.Or(a.Begun.Compare(b.Begun), strings.Compare(a.Name, b.Name))
	})
	return o
}

// builds counts the molds that cure now, by their build.
func (s *Shop) builds(now int64) map[Build]int {
	n := map[Build]int{}
	for _, m := range s.molds {
		if st := m.curing(); st != nil && m.shown(now) && m.open() {
			n[st.build]++
		}
	}
	return n
}

// interruption is an unknown stretch of time that is missing from the record.
type interruption struct {
	at    int64 // up to here
	known int64 // the newest trusted sample before it; 0 = none was folded
}

// SetBreaks tells the shop up to which instants an unknown stretch of time is missing from the record,
// because the board was off and its clock could not be trusted when it came back. Nothing that was begun
// before such a break is told of as if its time were known. All breaks are told before the first reading;
// later some may turn out to be none.
func (s *Shop) SetBreaks(at []time.Time) {
	before := s.breaks
	s.breaks = nil
	for _, t := range at {
		b := interruption{at: t.UnixMilli()}
		if i := slices.IndexFunc(before, func(x interruption) bool { return x.at == b.at }); i >= 0 {
			b = before[i]
		}
		s.breaks = append(s.breaks, b)
	}
	slices.SortFunc(s.breaks, func(x, y interruption) int { return cmp.Compare(x.at, y.at) })
	for _, m := range s.molds {
		m.told = nil
	}
}

// broken reports whether a stretch of unknown length lies between an instant and now. Where something was
// reached at an instant that was measured, what came later does not matter; 0 = not reached. What a gap is bridged
// with reaches nothing there: nobody knows how long it was.
func (t *teller) broken(from, reached int64) bool {
	for _, b := range t.shop.breaks {
		if from < b.at && b.at <= t.now && (reached == 0 || reached > b.known) {
			return true
		}
	}
	return false
}
