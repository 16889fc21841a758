package page

import (
	"fmt"
	"math"
	"strings"
	"time"
)

const nbsp = "\u00a0" // keeps a number and its unit on one line

// voice puts instants, durations and temperatures into words for one visitor at one moment.
type voice struct {
	now  time.Time
	zone *time.Location
	unit Unit

	visitor Visitor // whom it speaks to
}

// at names an instant by day and clock: "Thu 21:40", with the date where the day alone could be
// mistaken for the one of another week, and with the zone where it is not today's.
func (v voice) at(t time.Time) string {
	return v.day(t) + nbsp + v.clock(t)
}

// near is at, without the day where it is the same as that of the instant named just before.
func (v voice) near(t, before time.Time) string {
	if v.daysFrom(t, before) == 0 {
		return v.clock(t)
	}
	return v.at(t)
}

func (v voice) day(t time.Time) string {
	switch days := v.daysFrom(t, v.now); {
	case -3 <= days && days <= 3:
		return t.In(v.zone).Format("Mon")
	case -300 <= days && days <= 300:
		return t.In(v.zone).Format("Mon 2 Jan")
	}
	return t.In(v.zone).Format("Mon 2 Jan 2006")
}

// daysFrom counts calendar days of the shop from ref to t.
func (v voice) daysFrom(t, ref time.Time) int {
	midnight := func(t time.Time) time.Time {
		y, m, d := t.In(v.zone).Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	}
	return int(midnight(t).Sub(midnight(ref)) / (24 * time.Hour))
}

// clock names the time of day. Across a change of the clocks it adds the zone, since a time of day may
// come twice.
func (v voice) clock(t time.Time) string {
	local := t.In(v.zone)
	_, here := v.now.In(v.zone).Zone()
	if name, there := local.Zone(); there != here {
		return local.Format("15:04") + nbsp + name
	}
	return local.Format("15:04")
}

// span names a duration by its two largest units, rounded to the nearest minute.
func (v voice) span(d time.Duration) string {
	if d < 0 {
		d = -d
	}
	if d < 30*time.Second {
		return "less than a minute"
	}
	minutes := int(d.Round(time.Minute) / time.Minute)
	days, hours, minutes := minutes/(24*60), minutes/60%24, minutes%60
	switch {
	case days > 0 && hours > 0:
		return fmt.Sprintf("%d%sd %d%sh", days, nbsp, hours, nbsp)
	case days > 0:
		return fmt.Sprintf("%d%sd", days, nbsp)
	case hours > 0 && minutes > 0:
		return fmt.Sprintf("%d%sh %d%smin", hours, nbsp, minutes, nbsp)
	case hours > 0:
		return fmt.Sprintf("%d%sh", hours, nbsp)
	}
	return fmt.Sprintf("%d%smin", minutes, nbsp)
}

// until says how far an instant is from now: "in 2 h 10 min", "5 min ago".
func (v voice) until(t time.Time) string {
	switch d := t.Sub(v.now); {
	case d < -30*time.Second:
		return v.span(d) + " ago"
	case d < 30*time.Second:
		return "now"
	default:
		return "in " + v.span(d)
	}
}

// scaled is a temperature in the visitor's unit.
func (v voice) scaled(tempC float64) float64 {
	if v.unit == Fahrenheit {
		return tempC*9/5 + 32
	}
	return tempC
}

// unitName is the symbol of the visitor's unit.
func (v voice) unitName() string {
	if v.unit == Fahrenheit {
		return "°F"
	}
	return "°C"
}

// temp words a temperature given in °C; NaN is a dash.
func (v voice) temp(tempC float64) string {
	if math.IsNaN(tempC) || math.IsInf(tempC, 0) {
		return "—"
	}
	return decimal(v.scaled(tempC), 1) + nbsp + v.unitName()
}

// difference words a difference of temperatures given in K.
func (v voice) difference(k float64) string {
	return decimal(v.scaled(k)-v.scaled(0), 1) + nbsp + v.unitName()
}

// humidity words a ratio as percent; NaN is a dash.
func (v voice) humidity(ratio float64) string {
	if math.IsNaN(ratio) || math.IsInf(ratio, 0) {
		return "—"
	}
	return decimal(ratio*100, 0) + nbsp + "%"
}

// decimal writes a number for people: a real minus sign, and no minus before zero.
func decimal(x float64, digits int) string {
	s := fmt.Sprintf("%.*f", digits, x)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// sentence joins parts to one sentence with a capital and a full stop.
func sentence(parts ...string) string {
	s := strings.TrimRight(strings.TrimSpace(strings.Join(parts, " ")), ".")
	if s == "" {
		return ""
	}
	return capital(s) + "."
}

// capital raises the first letter.
func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}
