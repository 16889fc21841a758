package page

import (
	"fmt"
	"time"

	"pourward/model/plan"
)

// wall is what a wall clock and calendar show, with no zone: held as that reading in UTC.
type wall time.Time

func wallOf(t time.Time, zone *time.Location) wall {
	_, offset := t.In(zone).Zone()
	return wall(t.UTC().Add(time.Duration(offset) * time.Second))
}

// on returns the time of day of clock, back days before w.
func (w wall) on(clock time.Time, back int) wall {
	y, m, d := time.Time(w).Date()
	return wall(time.Date(y, m, d-back, clock.Hour(), clock.Minute(), clock.Second(), clock.Nanosecond(), time.UTC))
}

// latest returns the last instant at which w was shown that is not after now; the first one where all
// are.
func (w wall) latest(now time.Time, zone *time.Location) (time.Time, error) {
	all := plan.Shown(time.Time(w), zone)
	if len(all) == 0 {
		return time.Time{}, fmt.Errorf("there was no %s: clocks were set forward over it", time.Time(w).Format("15:04 on Mon 2 Jan"))
	}
	for i := len(all) - 1; i > 0; i-- {
		if !all[i].After(now) {
			return all[i], nil
		}
	}
	return all[0], nil
}
