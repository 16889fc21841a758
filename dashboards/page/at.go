package page

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// maxAgo bounds "... ago"; a mark further back is given by its date.
const maxAgo = 366 * 24 * time.Hour

// ParseAt reads the time a maker typed, relative to now, in the shop's zone. It takes
//
//	(nothing), now                      now
//	19:40, 7:40 pm                      the most recent one that is not in the future
//	today 19:40, yesterday 19:40        by the shop's calendar
//	Thu 19:40                           the most recent such day that is not in the future
//	20 min ago, 1 h 20 min ago          back from now, at most a year
//	2025-11-27T19:40, 2025-11-27 19:40  shop time, seconds if wanted
//	2025-11-27T18:40:00Z                RFC 3339, any offset
//
// Where clocks were set back and a time of day came twice, the later one not in the future is meant.
// A time of day that clocks skipped is an error. The result is in UTC.
func ParseAt(s string, now time.Time, zone *time.Location) (time.Time, error) {
	text := strings.Join(strings.Fields(strings.ToLower(s)), " ")
	if text == "" || text == "now" {
		return now.UTC(), nil
	}
	if t, err := time.Parse(time.RFC3339Nano, strings.ToUpper(text)); err == nil {
		return t.UTC(), nil
	}
	if span, ok := strings.CutSuffix(text, " ago"); ok {
		return parseAgo(span, now)
	}
	if w, ok := parseDated(text); ok {
		return w.latest(now, zone)
	}
	return parseDay(text, now, zone)
}

func unreadable(text string) error {
	return fmt.Errorf("cannot read %q as a time; write 19:40, yesterday 19:40, Thu 19:40, 20 min ago, 2025-11-27 19:40, or nothing for now", text)
}

// parseAgo takes pairs of number and unit: "20 min", "1 h 20 min", "1h20m", "1.5 h".
func parseAgo(span string, now time.Time) (time.Time, error) {
	var total time.Duration
	rest := span
	for rest = strings.TrimSpace(rest); rest != ""; rest = strings.TrimSpace(rest) {
		digits := len(rest) - len(strings.TrimLeft(rest, "0123456789."))
		n, err := strconv.ParseFloat(rest[:digits], 64)
		if err != nil {
			return time.Time{}, unreadable(span + " ago")
		}
		rest = strings.TrimSpace(rest[digits:])
		letters := len(rest) - len(strings.TrimLeft(rest, "abcdefghijklmnopqrstuvwxyz"))
		unit, ok := unitOf(rest[:letters])
		if !ok || n*float64(unit) > float64(maxAgo) {
			return time.Time{}, unreadable(span + " ago")
		}
		total += time.Duration(n * float64(unit))
		rest = rest[letters:]
	}
	if total > maxAgo || span == "" {
		return time.Time{}, unreadable(span + " ago")
	}
	return now.Add(-total).UTC(), nil
}

func unitOf(word string) (time.Duration, bool) {
	switch word {
	case "s", "sec", "secs", "second", "seconds":
		return time.Second, true
	case "m", "min", "mins", "minute", "minutes":
		return time.Minute, true
	case "h", "hr", "hrs", "hour", "hours":
		return time.Hour, true
	case "d", "day", "days":
		return 24 * time.Hour, true
	}
	return 0, false
}

func parseDated(text string) (wall, bool) {
	for _, layout := range []string{"2006-01-02t15:04", "2006-01-02t15:04:05", "2006-01-02 15:04", "2006-01-02 15:04:05"} {
		if t, err := time.Parse(layout, text); err == nil {
			return wall(t), true
		}
	}
	return wall{}, false
}

// parseDay takes a time of day, with or without a day before it.
func parseDay(text string, now time.Time, zone *time.Location) (time.Time, error) {
	day, rest, _ := strings.Cut(text, " ")
	today := wallOf(now, zone)
	switch back, named := daysBack(day, time.Time(today).Weekday()); {
	case day == "today" || day == "yesterday":
		clock, ok := parseClock(rest)
		if !ok {
			return time.Time{}, unreadable(text)
		}
		return today.on(clock, back).latest(now, zone)
	case named:
		return mostRecent(rest, text, now, zone, back, 7)
	}
	return mostRecent(text, text, now, zone, 0, 1)
}

// mostRecent finds the time of day back days ago, or another period days before where that would be
// in the future.
func mostRecent(clockText, text string, now time.Time, zone *time.Location, back, period int) (time.Time, error) {
	clock, ok := parseClock(clockText)
	if !ok {
		return time.Time{}, unreadable(text)
	}
	today := wallOf(now, zone)
	w := today.on(clock, back)
	t, err := w.latest(now, zone)
	skipped := err != nil
	if t.After(now) || skipped && time.Time(w).After(time.Time(today)) {
		return today.on(clock, back+period).latest(now, zone)
	}
	return t, err
}

func daysBack(word string, today time.Weekday) (days int, named bool) {
	if word == "yesterday" {
		return 1, true
	}
	for d := time.Sunday; d <= time.Saturday; d++ {
		name := strings.ToLower(d.String())
		if word == name || word == name[:3] {
			return (int(today) - int(d) + 7) % 7, true
		}
	}
	return 0, false
}

func parseClock(text string) (time.Time, bool) {
	joined := strings.ReplaceAll(text, " ", "")
	for _, layout := range []string{"15:04", "15:04:05", "3:04pm", "3pm"} {
		if t, err := time.Parse(layout, joined); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}
