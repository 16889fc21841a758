package page

import (
	"fmt"
	"strings"
	"time"

	"pourward/model/plan"
)

// ParseBy reads a time still to come, relative to now, in the shop's zone. It takes
//
//	17:00, 5 pm                         the next one
//	today 17:00, tomorrow 17:00         by the shop's calendar
//	Fri 17:00                           the next such day
//	in 20 h, in 1 h 20 min              on from now, at most a year
//	2025-11-28T17:00, 2025-11-28 17:00  shop time
//	2025-11-28T16:00:00Z                RFC 3339, any offset
//
// Where clocks will be set back and a time of day comes twice, the first one is meant. A time of day that clocks
// skip is an error. The result is in UTC; whether it is still to come is for the caller to judge where a date was
// given.
func ParseBy(s string, now time.Time, zone *time.Location) (time.Time, error) {
	text := strings.Join(strings.Fields(strings.ToLower(s)), " ")
	if t, err := time.Parse(time.RFC3339Nano, strings.ToUpper(text)); err == nil {
		return t.UTC(), nil
	}
	if span, ok := strings.CutPrefix(text, "in "); ok {
		back, err := parseAgo(span, now)
		if err != nil {
			return time.Time{}, unreadableBy(s)
		}
		return now.Add(now.Sub(back)).UTC(), nil
	}
	if w, ok := parseDated(text); ok {
		return w.soonest(zone)
	}
	return parseComing(text, now, zone)
}

func unreadableBy(text string) error {
	return fmt.Errorf("cannot read %q as a time to come; write 17:00, tomorrow 17:00, Fri 17:00, in 20 h or 2025-11-28 17:00", text)
}

// parseComing takes a time of day, with or without a day before it.
func parseComing(text string, now time.Time, zone *time.Location) (time.Time, error) {
	today := wallOf(now, zone)
	day, rest, _ := strings.Cut(text, " ")
	on, period := 0, 1
	back, named := daysBack(day, time.Time(today).Weekday())
	switch {
	case day == "today":
		period = 0
	case day == "tomorrow":
		on, period = 1, 0
	case named && day != "yesterday":
		on, period = (7-back)%7, 7
	default:
		rest = text
	}
	clock, ok := parseClock(rest)
	if !ok {
		return time.Time{}, unreadableBy(text)
	}
	t, err := today.on(clock, -on).soonest(zone)
	if err == nil && !t.After(now) && period > 0 {
		return today.on(clock, -on-period).soonest(zone)
	}
	return t, err
}

// soonest returns the first instant at which w is shown.
func (w wall) soonest(zone *time.Location) (time.Time, error) {
	all := plan.Shown(time.Time(w), zone)
	if len(all) == 0 {
		return time.Time{}, fmt.Errorf("there will be no %s: clocks are set forward over it", time.Time(w).Format("15:04 on Mon 2 Jan"))
	}
	return all[0].UTC(), nil
}
