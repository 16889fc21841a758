package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Shift is a stretch of the day, on some days of the week, by the shop's clock.
type Shift struct {
	Days     [7]bool       // by time.Weekday
	From, To time.Duration // after local midnight; To is after From and at most 24 h
}

// Hours are the hours in which somebody is in the shop, or in which it is heated.
type Hours []Shift

// UsualHours are those of a workshop that does not say: Monday to Friday, 08:00 to 17:00. Common practice, no source.
func UsualHours() Hours {
	return Hours{{Days: [7]bool{false, true, true, true, true, true, false}, From: 8 * time.Hour, To: 17 * time.Hour}}
}

const hoursExample = `write such as mon-fri 08:00-17:00; sat 09:00-12:00`

// ParseHours reads shifts parted by semicolons: "mon-fri 08:00-17:00; sat 09:00-12:00". Days are names of three
// letters, spans of them such as fri-mon, several with commas, or daily.
func ParseHours(text string) (Hours, error) {
	var h Hours
	for _, part := range strings.Split(text, ";") {
		part = strings.TrimSpace(part)
		cut := strings.LastIndexAny(part, " \t")
		if cut < 0 {
			return nil, fmt.Errorf("cannot read %q as hours: %s", part, hoursExample)
		}
		days, err := ParseDays(part[:cut])
		if err != nil {
			return nil, fmt.Errorf("%w: %s", err, hoursExample)
		}
		from, to, span := strings.Cut(part[cut+1:], "-")
		s := Shift{Days: days}
		if s.From, err = parseClock(from); err == nil {
			s.To, err = parseClock(to)
		}
		switch {
		case err != nil || !span:
			return nil, fmt.Errorf("cannot read %q as a span of the day: %s", part[cut+1:], hoursExample)
		case s.To <= s.From:
			return nil, fmt.Errorf("%q does not end after it begins: write what goes past midnight as two", part[cut+1:])
		}
		h = append(h, s)
	}
	return h, nil
}

// parseClock reads a time of day; 24:00 is the end of the day.
func parseClock(s string) (time.Duration, error) {
	if s == "24:00" {
		return 24 * time.Hour, nil
	}
	t, err := time.Parse("15:04", s)
	if err != nil {
		return 0, fmt.Errorf("%q is no time of day", s)
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, nil
}

// dayNames are the days from Sunday on, as time.Weekday counts.
func dayNames() []string { return []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"} }

// ParseDays reads days such as "mon-fri", "mon, wed" and "daily".
func ParseDays(s string) (days [7]bool, err error) {
	parts := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ',' || r == ' ' || r == '\t' })
	for _, part := range parts {
		if part == "daily" {
			return [7]bool{true, true, true, true, true, true, true}, nil
		}
		first, last, span := strings.Cut(part, "-")
		if !span {
			last = first
		}
		from, to := slices.Index(dayNames(), first), slices.Index(dayNames(), last)
		if from < 0 || to < 0 {
			return days, fmt.Errorf("%q is no day", part)
		}
		for d := from; ; d = (d + 1) % 7 {
			days[d] = true
			if d == to {
				break
			}
		}
	}
	if days == [7]bool{} {
		return days, fmt.Errorf("%q names no day", s)
	}
	return days, nil
}

// String writes hours as [ParseHours] reads them.
func (h Hours) String() string {
	parts := make([]string, len(h))
	for i, s := range h {
		parts[i] = daysText(s.Days) + " " + clockText(s.From) + "-" + clockText(s.To)
	}
	return strings.Join(parts, "; ")
}

// daysText names days from Monday on, runs of them by their ends.
func daysText(days [7]bool) string {
	if days == [7]bool{true, true, true, true, true, true, true} {
		return "daily"
	}
	var parts []string
	for i := 0; i < 7; i++ {
		first := i
		for i < 7 && days[(i+1)%7] {
			i++
		}
		switch name := func(i int) string { return dayNames()[(i+1)%7] }; i - first {
		case 0:
		case 1:
			parts = append(parts, name(first))
		default:
			parts = append(parts, name(first)+"-"+name(i-1))
		}
	}
	return strings.Join(parts, ",")
}

func clockText(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}

// Open reports whether an instant lies in the hours, their ends included.
func (h Hours) Open(t time.Time, zone *time.Location) bool {
	for _, s := range h.Within(t, t, zone) {
		if !t.Before(s.From) && !t.After(s.To) {
			return true
		}
	}
	return false
}

// Span is a stretch of time in which the hours hold.
type Span struct{ From, To time.Time }

// Within lists, in order, the stretches that touch those from one instant to another; shifts that meet are one.
// A shift is that of the clock on the wall, also where it is changed that day: a time that comes twice begins a
// shift the first time and ends it the second, and one that is leapt over does both at the leap.
func (h Hours) Within(from, to time.Time, zone *time.Location) []Span {
	var all []Span
	y, m, d := from.In(zone).Date()
	for i := -1; ; i++ {
		midnight := time.Date(y, m, d+i, 0, 0, 0, 0, time.UTC) // on the wall
		if first, _ := Turns(midnight, zone); first.After(to) {
			break
		}
		for _, s := range h {
			if !s.Days[midnight.Weekday()] {
				continue
			}
			a, _ := Turns(midnight.Add(s.From), zone)
			_, b := Turns(midnight.Add(s.To), zone)
			if a.Before(b) && !b.Before(from) && !a.After(to) {
				all = append(all, Span{a, b})
			}
		}
	}
	slices.SortFunc(all, func(a, b Span) int { return cmp.Or(a.From.Compare(b.From), a.To.Compare(b.To)) })
	var out []Span
	for _, s := range all {
		if n := len(out); n > 0 && !s.From.After(out[n-1].To) {
			if s.To.After(out[n-1].To) {
				out[n-1].To = s.To
			}
			continue
		}
		out = append(out, s)
	}
	return out
}
