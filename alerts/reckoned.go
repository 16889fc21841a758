package alerts

import (
	"math"
	"time"

	"pourward/model"
)

// What follows is reckoned from an outlook. The conditions of the table judge it, and the daemon's metrics
// export it so that the expressions can; it is exported here so that there is one of each.

// lookahead is how far ahead cold is called: a pour, its cure and the night between. Common practice, no
// source.
const lookahead = 24 * time.Hour

// ColdestAhead is the lowest of the likely temperatures told of a place for the 24 hours after now, °C; NaN
// where none is told.
func ColdestAhead(p model.PlaceOutlook, now time.Time) float64 {
	coldest := math.NaN()
	for _, r := range p.Ahead {
		if r.At.After(now) && !r.At.After(now.Add(lookahead)) && !(r.LikelyC >= coldest) {
			coldest = r.LikelyC
		}
	}
	return coldest
}

// Foreseen reports whether the temperatures to come of a place are told, and whether its heating is off.
func Foreseen(p model.PlaceOutlook) bool { return len(p.Ahead) > 0 }

// Unpoured reports whether a mold in work has no rubber on it yet.
func Unpoured(m *model.MoldOutlook) bool { return m.Open() && !m.Poured }

// Coating reports whether a coat or the release agent dries on a mold or is what goes on next: it is not
// poured, no batch is mixed, and the release agent is not dry.
func Coating(m *model.MoldOutlook) bool {
	for _, s := range m.Steps {
		mixed := s.Kind == model.WorkingLife && s.Standing != model.Closed
		released := s.Kind == model.ReleaseDry && s.Standing == model.Ready
		if mixed || released {
			return false
		}
	}
	return Unpoured(m)
}

// LastTouch is when cup, patch or mold were last touched; zero = never.
func LastTouch(m *model.MoldOutlook) time.Time {
	var last time.Time
	for _, c := range m.Marks {
		if c.Kind == model.Checked && c.Of != model.Coat && c.At.After(last) {
			last = c.At
		}
	}
	return last
}
