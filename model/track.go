package model

import (
	"math"
	"sort"
	"time"

	"pourward/sensors"
)

// sample is what a place was like at an instant, as the believed probe measured it.
type sample struct {
	at   int64   // Unix milliseconds
	temp float64 // °C
	hum  float64 // ratio; NaN when not measured
}

// track is a place's trusted samples in order of time. Old ones are cut off the front, so positions
// are counted from the first sample ever kept.
type track struct {
	base int // position of s[0]
	s    []sample
	gap  int64 // longest span between samples over which the air is taken to have moved linearly, ms
}

// gapOf is the gap of a track whose probe speaks at an interval: what happened in a longer silence than
// a quarter of an hour, or than two and a half intervals where those are longer, is not known.
func gapOf(every time.Duration) int64 {
	return max(15*time.Minute, every*5/2).Milliseconds()
}

func (t *track) end() int            { return t.base + len(t.s) }
func (t *track) get(pos int) *sample { return &t.s[pos-t.base] }

// holds reports whether there is a sample at a position that is not older than an instant.
func (t *track) holds(pos int, oldest int64) bool { return pos >= t.base && t.get(pos).at >= oldest }

// last returns the newest sample.
func (t *track) last() (sample, bool) {
	if len(t.s) == 0 {
		return sample{}, false
	}
	return t.s[len(t.s)-1], true
}

// before returns the instant of the last sample but one: up to there the track was known before the
// last one came.
func (t *track) before() int64 {
	if len(t.s) < 2 {
		return math.MinInt64
	}
	return t.s[len(t.s)-2].at
}

// landing says where a sample landed in its track.
type landing uint8

const (
	nowhere landing = iota // it was there already, or belongs to what has been cut off
	atEnd
	amid // between others: what was walked already has changed
)

// add puts a sample in its place. Of two at one instant the first stays.
func (t *track) add(x sample) landing {
	if l, ok := t.last(); !ok || x.at > l.at {
		t.s = append(t.s, x)
		return atEnd
	}
	i := t.after(x.at) - t.base
	if i > 0 && t.s[i-1].at == x.at || i == 0 && t.base > 0 {
		return nowhere
	}
	t.s = append(t.s, sample{})
	copy(t.s[i+1:], t.s[i:])
	t.s[i] = x
	return amid
}

// after returns the position of the first sample later than at.
func (t *track) after(at int64) int {
	n := len(t.s)
	if n > 0 && t.s[n-1].at <= at {
		return t.end()
	}
	return t.base + sort.Search(n, func(i int) bool { return t.s[i].at > at })
}

// at returns the sample of an instant.
func (t *track) at(at int64) (sample, bool) {
	pos := t.after(at) - 1
	if pos < t.base || t.get(pos).at != at {
		return sample{}, false
	}
	return *t.get(pos), true
}

// upTo returns the newest sample not later than an instant.
func (t *track) upTo(at int64) (sample, bool) {
	pos := t.after(at) - 1
	if pos < t.base {
		return sample{}, false
	}
	return *t.get(pos), true
}

// remove takes the sample of an instant out.
func (t *track) remove(at int64) {
	if i := t.after(at) - 1 - t.base; i >= 0 && t.s[i].at == at {
		t.s = append(t.s[:i], t.s[i+1:]...)
	}
}

// recentMinutes is recent over whole minutes, whatever there is.
func (t *track) recentMinutes(n int) (lean, bool) {
	return t.recent(time.Duration(n)*time.Minute, math.MinInt64)
}

// cut drops samples older than before, but for one that still bounds the span after it. It moves
// memory only when at least half can go.
func (t *track) cut(before int64) {
	n := t.after(before) - t.base - 1
	if n <= 0 || n < len(t.s)/2 {
		return
	}
	t.s = append(make([]sample, 0, len(t.s)-n), t.s[n:]...)
	t.base += n
}

// lean is a place's recent past in three numbers.
type lean struct {
	temp, hum float64 // time-weighted means: °C, and a ratio or NaN
	sd        float64 // time-weighted standard deviation of the temperature, K
}

// recent returns the means over the last span before the newest sample, but nothing older than oldest,
// by the trapezoid between samples; a span without readings counts as if the value had moved linearly.
// ok is false for an empty track.
func (t *track) recent(span time.Duration, oldest int64) (lean, bool) {
	l, ok := t.last()
	if !ok {
		return lean{}, false
	}
	from := max(oldest, l.at-span.Milliseconds())
	var w, sum, sum2, hw, hsum float64
	for pos := max(t.after(from), t.base+1); pos < t.end(); pos++ {
		a, b := t.get(pos-1), t.get(pos)
		d := float64(b.at - max(a.at, from))
		m := (a.temp + b.temp) / 2
		w, sum, sum2 = w+d, sum+d*m, sum2+d*m*m
		if h := (a.hum + b.hum) / 2; !math.IsNaN(h) {
			hw, hsum = hw+d, hsum+d*h
		}
	}
	if w == 0 {
		return lean{temp: l.temp, hum: l.hum}, true
	}
	mean := sum / w
	out := lean{temp: mean, hum: math.NaN(), sd: math.Sqrt(max(0, sum2/w-mean*mean))}
	if hw > 0 {
		out.hum = hsum / hw
	}
	return out, true
}

// trusted turns a reading into a sample of its place; ok is false when the model must not use it.
func trusted(r sensors.Reading) (sample, bool) {
	if r.Err != nil || !r.Temp.OK() {
		return sample{}, false
	}
	x := sample{at: r.At.UnixMilli(), temp: r.Temp.Value, hum: math.NaN()}
	if r.Humidity.OK() {
		x.hum = r.Humidity.Value
	}
	return x, true
}

// instant turns Unix milliseconds into a time; zero stays the zero time.
func instant(ms int64) time.Time {
	if ms == 0 {
		return time.Time{}
	}
	return time.UnixMilli(ms).UTC()
}
