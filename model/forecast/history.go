package forecast

import (
	"math"
	"time"
)

const (
	historyHours = 32 * 24 // hourly means kept
	historyBins  = 8 * 144 // ten-minute means kept
	clockHours   = 24
)

// history holds a place's recent past in two rings indexed by absolute time, NaN where nothing is known.
type history struct {
	zone *time.Location

	hours    [historyHours]float64 // hourly means, degC
	slots    [historyHours]slot    // where each hour lies on the local clock
	lastHour int64                 // newest closed hour (Unix time / 3600)
	hourSpan int64                 // closed hours on record, known or not

	bins    [historyBins]float64 // ten-minute means, degC
	lastBin int64
	binSpan int64

	hourIntegral, hourCover float64 // of the hour being collected
}

// addBin files a closed bin and reports whether that ended an hour.
func (h *history) addBin(b binMean) (hourEnded bool) {
	h.bins[ring(b.Bin, historyBins)] = b.MeanC
	h.lastBin, h.binSpan = b.Bin, min(h.binSpan+1, historyBins)
	if !math.IsNaN(b.MeanC) {
		h.hourIntegral += b.MeanC * b.Cover
		h.hourCover += b.Cover
	}
	if (b.Bin+1)%binsPerHour != 0 {
		return false
	}
	mean := math.NaN()
	if h.hourCover >= minHourCover {
		mean = h.hourIntegral / h.hourCover
	}
	h.hourIntegral, h.hourCover = 0, 0
	h.addHour(b.Bin/binsPerHour, mean)
	return true
}

func (h *history) addHour(hour int64, meanC float64) {
	if h.hourSpan == 0 && math.IsNaN(meanC) {
		return // a record starts with its first whole hour
	}
	i := ring(hour, historyHours)
	h.hours[i] = meanC
	h.slots[i] = slotAt((float64(hour)+0.5)*hourSeconds, h.zone)
	h.lastHour, h.hourSpan = hour, min(h.hourSpan+1, historyHours)
}

// hour is the mean of one clock hour, NaN where unknown.
func (h *history) hour(i int64) float64 {
	if i > h.lastHour || i <= h.lastHour-h.hourSpan {
		return math.NaN()
	}
	return h.hours[ring(i, historyHours)]
}

func (h *history) bin(i int64) float64 {
	if i > h.lastBin || i <= h.lastBin-h.binSpan {
		return math.NaN()
	}
	return h.bins[ring(i, historyBins)]
}

// around is the hour-long mean centered at an instant, between the two clock hours that hold it.
func (h *history) around(unixSeconds float64) float64 {
	x := unixSeconds/hourSeconds - 0.5
	whole := math.Floor(x)
	frac := x - whole
	left := h.hour(int64(whole))
	if frac == 0 {
		return left
	}
	right := h.hour(int64(whole) + 1)
	switch {
	case math.IsNaN(left):
		return right
	case math.IsNaN(right):
		return left
	}
	return left + frac*(right-left)
}

// span walks the closed hours of the last n hours, newest first, skipping the unknown ones.
func (h *history) span(n int64, visit func(age int64, s slot, tempC float64)) {
	for age := range min(n, h.hourSpan) {
		i := ring(h.lastHour-age, historyHours)
		if !math.IsNaN(h.hours[i]) {
			visit(age, h.slots[i], h.hours[i])
		}
	}
}

// meanAndRange of the known hours among the last n, and how many there are; NaN for none.
func (h *history) meanAndRange(n int64) (meanC, rangeK float64, known int) {
	low, high, sum := math.Inf(1), math.Inf(-1), 0.0
	h.span(n, func(_ int64, _ slot, tempC float64) {
		low, high = min(low, tempC), max(high, tempC)
		sum += tempC
		known++
	})
	return sum / float64(known), high - low, known
}

// binRange is the range of the ten-minute means on record, zero without any.
func (h *history) binRange() float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range h.binSpan {
		if v := h.bin(h.lastBin - i); !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	return max(high-low, 0)
}

// coldest of the known hours among the last n, NaN for none.
func (h *history) coldest(n int64) float64 {
	low := math.NaN()
	h.span(n, func(_ int64, _ slot, tempC float64) {
		if !(low <= tempC) {
			low = tempC
		}
	})
	return low
}

func ring(i, size int64) int64 { return ((i % size) + size) % size }

// slot places an instant on the 24-hour local clock by hour centers: weight 1-frac on hour, frac on the next.
// frac is zero for clock hours wherever the zone is whole hours from UTC.
type slot struct {
	hour uint8
	frac float32
}

func slotAt(unixSeconds float64, zone *time.Location) slot {
	hour, minute, second := time.Unix(int64(math.Round(unixSeconds)), 0).In(zone).Clock()
	x := float64(hour) + float64(minute)/60 + float64(second)/3600 - 0.5
	if x < 0 {
		x += clockHours
	}
	whole := math.Floor(x)
	return slot{hour: uint8(whole), frac: float32(x - whole)}
}

// clock is the local time of day in hours.
func (s slot) clock() float64 { return float64(s.hour) + float64(s.frac) + 0.5 }

// byClock is a value for each hour of the local day, at the hour's center.
type byClock [clockHours]float64

func (c *byClock) at(s slot) float64 {
	left := c[s.hour]
	if s.frac == 0 {
		return left
	}
	return left + float64(s.frac)*(c[(s.hour+1)%clockHours]-left)
}

// add spreads a weighted value over the two hours a slot touches.
func (c *byClock) add(s slot, v float64) {
	c[s.hour] += v * float64(1-s.frac)
	if s.frac > 0 {
		c[(s.hour+1)%clockHours] += v * float64(s.frac)
	}
}
