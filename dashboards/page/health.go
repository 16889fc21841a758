package page

import (
	"fmt"
	"strings"

	"pourward/model"
)

// unkept says what is not safe while the record cannot be written, and what is wrong with its file; empty
// where all is well.
func (v voice) unkept(j model.JournalHealth) string {
	switch {
	case j.Stand.InMemory:
		return v.inMemory(j)
	case j.Err == "":
		return v.setAside(j.Stand)
	}
	text := sentence("the record cannot be written:", j.Err)
	switch {
	case j.Waiting == 1:
		text += " One reading is not safe: lost if power fails now."
	case j.Waiting > 1:
		text += fmt.Sprintf(" %d readings are not safe: lost if power fails now.", j.Waiting)
	default:
		text += " What is read from now on may be lost if power fails."
	}
	if !j.LastSync.IsZero() {
		text += " " + sentence("up to", v.at(j.LastSync), "all are safe")
	}
	return strings.TrimSpace(text + " Measuring goes on; a mark is confirmed only once it is safe. " + v.setAside(j.Stand))
}

// undated says what a clock that may be wrong means for times and marks; empty where it is trusted.
func undated(h model.Health) string {
	if h.ClockTrusted {
		return ""
	}
	return "The shop's clock is not known to be right. Times may all be off by the same amount; durations are right. Enter marks as “20" + nbsp + "min ago”."
}

// clockUnsure reports whether the time of day may be wrong.
func (s *site) clockUnsure() bool {
	if s.opts.Snapshot == nil {
		return false
	}
	snap := s.opts.Snapshot()
	return snap != nil && !snap.Health.ClockTrusted
}
