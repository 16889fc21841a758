package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var start = time.Date(2024, 1, 8, 0, 0, 0, 0, time.UTC) // a Monday

// doubling is a cure's rate that doubles per 10 K, 1 at 23 degC.
func doubling(tempC float64) float64 { return math.Exp2((tempC - 23) / 10) }

// shop is an invented unheated shop: a daily swing, a slow drift and some noise, every step.
func shop(days float64, step time.Duration, seed uint64) []Reading {
	random := rand.New(rand.NewPCG(seed, 0))
	var out []Reading
	drift := 0.0
	for at := start; at.Sub(start).Hours() < 24*days; at = at.Add(step) {
		hours := at.Sub(start).Hours()
		drift += math.Sqrt(step.Hours()) * 0.3 * random.NormFloat64()
		tempC := 14 + 3*math.Cos((hours-15)*2*math.Pi/24) + drift*0.5 + 0.05*random.NormFloat64()
		out = append(out, Reading{at, tempC})
	}
	return out
}

func observeAll(f *Forecaster, readings []Reading) *Forecaster {
	for _, r := range readings {
		f.Observe(r.At, r.TempC)
	}
	return f
}

func shadowed() Options {
	return Options{Shadows: []Cure{{20, doubling}, {48, doubling}}}
}

func TestSameReadingsSameBits(t *testing.T) {
	readings := shop(12, 5*time.Minute, 1)
	at := readings[len(readings)-1].At
	a := observeAll(New(shadowed()), readings).Paths(at, 200)
	b := observeAll(New(shadowed()), readings).Paths(at, 200)
	require.Equal(t, a, b)
	require.Equal(t, 200*Steps, len(a.TempC))
}

func TestNothingKnownNoPaths(t *testing.T) {
	require.Nil(t, New(Options{}).Paths(start, 10))
	f := New(Options{})
	f.Observe(start, 12)
	require.NotNil(t, f.Paths(start, 10))
	require.Nil(t, f.Paths(start, 0))
}

// A first reading alone: paths start at it and spread as the prior says, 4 K sqrt(1-exp(-h/12)) and the daily
// swing on top.
func TestYoungPathsSpread(t *testing.T) {
	f := New(Options{})
	f.Observe(start, 12)
	p := f.Paths(start, 4000)
	require.InDelta(t, 12, p.TempQuantiles(0, 0.5)[0], 1e-12)
	column := make([]float64, p.N)
	for i := range column {
		column[i] = p.TempAt(i, 24) // a whole day ahead the swing is zero
	}
	require.InDelta(t, 4*math.Sqrt(1-math.Exp(-2)), deviation(column), 0.15)
}

func deviation(v []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sum += (x - mean) * (x - mean)
	}
	return math.Sqrt(sum / float64(len(v)-1))
}

// Readings that are out of order, repeated or no numbers change nothing.
func TestObserveIgnoresNonsense(t *testing.T) {
	readings := shop(3, 5*time.Minute, 2)
	clean := observeAll(New(Options{}), readings)
	dirty := New(Options{})
	for _, r := range readings {
		dirty.Observe(r.At, r.TempC)
		dirty.Observe(r.At, 99)
		dirty.Observe(r.At.Add(-time.Hour), 99)
		dirty.Observe(r.At.Add(time.Second), math.NaN())
		dirty.Observe(r.At.Add(time.Second), math.Inf(1))
	}
	at := readings[len(readings)-1].At
	require.Equal(t, clean.Paths(at, 50).TempC, dirty.Paths(at, 50).TempC)
}

// One bad reading that passed as good, of up to 3 K anywhere in the record, moves no projection by more than 1 %.
func TestOneBadReadingHardlyMatters(t *testing.T) {
	readings := shop(6, 5*time.Minute, 3)
	at := readings[len(readings)-1].At
	cure := Cure{16, doubling}
	want := observeAll(New(shadowed()), readings).Paths(at, 200).Completions(cure, 0, nil)
	places := []int{len(readings) - 1, len(readings) - 2, len(readings) - 13, len(readings) - 200, 100, 1, 0}
	for _, i := range places {
		for _, bad := range []float64{-3, -0.7, 3} {
			spoiled := slices.Clone(readings)
			spoiled[i].TempC += bad
			got := observeAll(New(shadowed()), spoiled).Paths(at, 200).Completions(cure, 0, nil)
			for _, level := range []float64{0.1, 0.5, 0.9} {
				require.InEpsilon(t, Quantile(want, level), Quantile(got, level), 0.01, "reading %d off by %v K", i, bad)
			}
		}
	}
}

// The ten-minute means integrate the line between readings exactly, however they are spaced, up to the longest gap
// that counts.
func TestBinsIntegrateLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		slope := rapid.Float64Range(-5, 5).Draw(t, "K per hour")
		gaps := rapid.SliceOfN(rapid.IntRange(1, maxGapSeconds), 5, 60).Draw(t, "gaps")
		var b binner
		at := 1e9
		for _, gap := range gaps {
			b.add(sample{at, slope * (at - 1e9) / 3600}, func(m binMean) {
				if m.Cover < binSeconds-1e-6 {
					return // the first bin is not whole
				}
				center := (float64(m.Bin) + 0.5) * binSeconds
				require.InDelta(t, slope*(center-1e9)/3600, m.MeanC, 1e-6)
			})
			at += float64(gap)
		}
	})
}

func TestLongSilenceLeavesHoursUnknown(t *testing.T) {
	f := New(Options{})
	for k := range 13 {
		f.Observe(start.Add(time.Duration(k)*10*time.Minute), 10)
	}
	for k := range 13 {
		f.Observe(start.Add(5*time.Hour+time.Duration(k)*10*time.Minute), 14)
	}
	first := start.Unix() / hourSeconds
	require.Equal(t, 10.0, f.past.hour(first+1))
	require.True(t, math.IsNaN(f.past.hour(first+3)))
	require.Equal(t, 14.0, f.past.hour(first+5))
}

// A silence longer than the record starts the place anew, but keeps what the maker stated and the calibration.
func TestVeryLongSilenceStartsOver(t *testing.T) {
	f := observeAll(New(shadowed()), shop(20, 10*time.Minute, 4))
	f.StateSchedule(&Schedule{To: 1, HeatedC: 20})
	alpha := f.Shadows()[0].AlphaLate
	require.NotEqual(t, tailShare, alpha)
	f.Observe(start.AddDate(0, 3, 0), 9)
	require.Zero(t, f.Skill().Days)
	require.Equal(t, alpha, f.Shadows()[0].AlphaLate)
	require.NotNil(t, f.stated)
	require.InDelta(t, 9, f.Paths(start.AddDate(0, 3, 0), 11).TempQuantiles(0, 0.5)[0], 1e-9)
}

// Heaters follow the local clock: across the change to summer time the warm hour stays at the same local time.
func TestShapeFollowsTheLocalClock(t *testing.T) {
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	f := New(Options{Zone: zone})
	change := time.Date(2024, 3, 31, 1, 0, 0, 0, time.UTC)
	for at := change.AddDate(0, 0, -14); at.Before(change.AddDate(0, 0, 1)); at = at.Add(10 * time.Minute) {
		tempC := 12.0
		if hour := at.In(zone).Hour(); hour >= 9 && hour < 12 {
			tempC = 18
		}
		f.Observe(at, tempC)
	}
	warmest := 0
	for hour, k := range f.shape.departure {
		if k > f.shape.departure[warmest] {
			warmest = hour
		}
	}
	require.Equal(t, 10, warmest)
	require.Equal(t, slot{hour: 10}, slotAt(float64(change.Unix())+9.5*3600-hourSeconds, zone), "09:30 UTC less an hour is 09:30 local")
}

func TestStalePathsStartAtTheLastReading(t *testing.T) {
	readings := shop(10, 10*time.Minute, 5)
	f := observeAll(New(Options{}), readings)
	last := readings[len(readings)-1]
	fresh, stale := f.Paths(last.At, 200), f.Paths(last.At.Add(6*time.Hour), 200)
	require.Zero(t, fresh.Stale)
	require.Equal(t, 6*time.Hour, stale.Stale)
	for i := range 200 {
		require.InDelta(t, fresh.TempAt(i, 10), stale.TempAt(i, 4), 1e-9)
	}
	spread := func(p *Paths) float64 { q := p.TempQuantiles(0, 0.1, 0.9); return q[1] - q[0] }
	require.Zero(t, spread(fresh))
	require.Greater(t, spread(stale), 0.1)
}

func BenchmarkObserve(b *testing.B) {
	readings := shop(30, 10*time.Second, 6)
	f := New(shadowed())
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if i%len(readings) == 0 {
			f = New(shadowed())
		}
		f.Observe(readings[i%len(readings)].At, readings[i%len(readings)].TempC)
	}
}

func BenchmarkPaths(b *testing.B) {
	readings := shop(30, 10*time.Minute, 7)
	f := observeAll(New(Options{}), readings)
	var p Paths
	b.ReportAllocs()
	for b.Loop() {
		f.PathsInto(&p, readings[len(readings)-1].At, 200)
	}
}
