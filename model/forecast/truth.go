package forecast

import (
	"math"
	"time"
)

// truth is what a place did, by hourly means; gaps up to six hours are bridged by lines.
type truth struct {
	first  int64
	hourC  []float64
	knownN int
}

// truthOf runs a whole record through the binner a forecaster uses.
func truthOf(readings []Reading) truth {
	var b binner
	var h history
	h.zone = time.UTC
	t := truth{first: math.MinInt64}
	for _, r := range readings {
		b.add(sample{unix(r.At), r.TempC}, func(m binMean) {
			if !h.addBin(m) || h.hourSpan == 0 {
				return
			}
			if t.first == math.MinInt64 {
				t.first = h.lastHour
			}
			t.hourC = append(t.hourC, h.hour(h.lastHour))
		})
	}
	t.bridge()
	return t
}

func (t *truth) bridge() {
	last := -1
	for i, v := range t.hourC {
		if math.IsNaN(v) {
			continue
		}
		t.knownN++
		if gap := i - last - 1; last >= 0 && gap <= maxErrorGap {
			for j := last + 1; j < i; j++ {
				t.hourC[j] = t.hourC[last] + (v-t.hourC[last])*float64(j-last)/float64(i-last)
			}
		}
		last = i
	}
}

func (t *truth) days() float64 { return float64(t.knownN) / 24 }

// at is the mean of an hour, NaN where unknown.
func (t *truth) at(hour int64) float64 {
	if i := hour - t.first; i >= 0 && i < int64(len(t.hourC)) {
		return t.hourC[i]
	}
	return math.NaN()
}

// completion is after how many hours a cure poured at the start of an hour was done, NaN where unknown.
func (t *truth) completion(hour int64, rate func(float64) float64, need float64) float64 {
	for k := int64(0); ; k++ {
		gain := rate(t.at(hour + k))
		if math.IsNaN(t.at(hour + k)) {
			return math.NaN()
		}
		if gain >= need {
			return float64(k) + need/gain
		}
		need -= gain
	}
}

// aged is the cure age reached after some whole hours.
func (t *truth) aged(hour int64, rate func(float64) float64, hours int64) (age float64) {
	for k := range hours {
		age += rate(t.at(hour + k))
	}
	return age
}
