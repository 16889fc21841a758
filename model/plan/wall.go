package plan

import "time"

// Shown lists when clocks in a zone show what a wall clock and calendar read, given as that reading in UTC: once,
// twice where they were set back over it, never where they were set forward over it. In order of time.
func Shown(wall time.Time, zone *time.Location) []time.Time {
	var out []time.Time
	for _, side := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
		t := under(wall, wall.Add(side), zone)
		_, offset := t.In(zone).Zone()
		if t.Add(time.Duration(offset)*time.Second).Equal(wall) && (len(out) == 0 || !out[0].Equal(t)) {
			out = append(out, t)
		}
	}
	return out
}

// under is the instant of a reading if clocks are as they are at another instant.
func under(wall, at time.Time, zone *time.Location) time.Time {
	_, offset := at.In(zone).Zone()
	return wall.Add(-time.Duration(offset) * time.Second)
}

// Turns is when clocks first and last come to a reading; where they were set forward over it, both are the
// instant at which they were.
func Turns(wall time.Time, zone *time.Location) (first, last time.Time) {
	if all := Shown(wall, zone); len(all) > 0 {
		return all[0].In(zone), all[len(all)-1].In(zone)
	}
	leapt := under(wall, wall.Add(-24*time.Hour), zone) // by the clock as it was, it is past the leap
	leap, _ := leapt.In(zone).ZoneBounds()
	return leap, leap
}
