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

// SetBreaks tells the shop at which instants an unknown stretch of time is missing from the record,
// because the board was off and its clock could not be trusted when it came back. Nothing that was begun
// before such a break is told of as if its time were known.
func (s *Shop) SetBreaks(at []time.Time) {
	s.breaks = s.breaks[:0]
	for _, t := range at {
		s.breaks = append(s.breaks, t.UnixMilli())
	}
	for _, m := range s.molds {
		m.told = nil
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
