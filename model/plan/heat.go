package plan

import (
	"fmt"
	"math"
	"time"
)

// Heat is a heater that holds a temperature: all the time from an instant on or, where hours are given, in
// those. Where the shop is warmer anyway it does nothing.
type Heat struct {
	TempC float64
	From  time.Time // zero = at once
	Hours Hours     // none = day and night
}

// riseHours is the time constant with which a heater brings a shop to its temperature, an assumption, as the
// forecaster's before it has learned. When it is switched off its warmth counts as gone at once.
const riseHours = 1

// Limits of what a shop is heated to, °C: common practice, no source.
const coldestHeatC, hottestHeatC = 5, 35

func (h Heat) check() error {
	if !(h.TempC >= coldestHeatC && h.TempC <= hottestHeatC) {
		return fmt.Errorf("a shop is heated to 5 to 35 °C (41 to 95 °F), not to %.1f °C", h.TempC)
	}
	return nil
}

// lift warms a path, °C at instants step seconds apart from at on, where it is colder.
func (h Heat) lift(path []float64, at time.Time, step float64, zone *time.Location) {
	for _, s := range h.stretches(at, seconds(float64(len(path)-1)*step), zone) {
		from, to := s.From.Sub(at).Seconds(), s.To.Sub(at).Seconds()
		for k := max(0, int(math.Ceil(from/step))); k < len(path) && float64(k)*step <= to; k++ {
			gained := 1 - math.Exp(-(float64(k)*step-from)/(riseHours*3600))
			path[k] += max(0, h.TempC-path[k]) * gained
		}
	}
}

// stretches lists when it is on within a length of time. What was heated before counts as cold still.
func (h Heat) stretches(at time.Time, length time.Duration, zone *time.Location) []Span {
	end, begin := at.Add(length), at
	if h.From.After(at) {
		begin = h.From
	}
	switch {
	case begin.After(end):
		return nil
	case len(h.Hours) == 0:
		return []Span{{begin, end}}
	}
	all := h.Hours.Within(begin, end, zone)
	if len(all) > 0 && all[0].From.Before(begin) {
		all[0].From = begin
	}
	return all
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
