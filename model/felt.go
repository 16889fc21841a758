package model

import (
	"math"
	"time"
)

// Stretch is a time over which the temperature that a mold felt is taken to have moved linearly.
type Stretch struct {
	From, To    time.Time
	FromC, ToC  float64
	OnPattern   bool // measured at the pattern; else it is that of the air
	NotMeasured bool // longer than may lie between two readings: what is told of it is a guess
}

// Felt returns, in order, what a mold felt from one instant to another, as far as the readings at hand go:
// the temperature at its pattern where a probe speaks there, else that of the air around it. It is what its
// projections are reckoned with. Nil for a mold that is not known.
func (s *Shop) Felt(name string, from, to time.Time) []Stretch {
	m := s.molds[name]
	if m == nil {
		return nil
	}
	w := m.walk(Mark{At: from})
	w.start()
	var out []Stretch
	for {
		p, ok := w.next(to.UnixMilli())
		if !ok {
			return out
		}
		out = append(out, Stretch{
			From: instant(p.a), To: instant(p.b), FromC: p.from.felt(), ToC: p.to.felt(),
			OnPattern: !math.IsNaN(p.from.surface), NotMeasured: p.gap,
		})
	}
}
