package forecast

import (
	"math"
	"time"
)

// Steps is how many instants a path has: now and every hour up to 72 hours ahead.
const Steps = leads + 1

// Paths is an ensemble of equally likely temperature histories, straight between whole hours from At on.
type Paths struct {
	At    time.Time     // the first instant
	N     int           // how many paths
	Stale time.Duration // age of the newest reading at At
	TempC []float64     // row-major: path i is TempC[i*Steps : (i+1)*Steps]
}

// Row is path i: its temperature at At, one hour later and so on, degC.
func (p *Paths) Row(i int) []float64 { return p.TempC[i*Steps : (i+1)*Steps] }

// TempAt is the temperature of path i some hours after At. After 72 hours a path repeats its last day.
func (p *Paths) TempAt(i int, leadHours float64) float64 { return alongRow(p.Row(i), leadHours) }

func alongRow(row []float64, lead float64) float64 {
	if lead > leads {
		lead -= 24 * math.Ceil((lead-leads)/24)
	}
	k := min(int(max(lead, 0)), leads-1)
	return row[k] + (max(lead, 0)-float64(k))*(row[k+1]-row[k])
}

// Paths draws n temperature paths for the 72 hours after at, which should not lie before the newest reading.
// It returns nil before the first reading. The same history gives the same paths.
func (f *Forecaster) Paths(at time.Time, n int) *Paths {
	p := new(Paths)
	if !f.PathsInto(p, at, n) {
		return nil
	}
	return p
}

// PathsInto is Paths into memory used before; false before the first reading.
func (f *Forecaster) PathsInto(p *Paths, at time.Time, n int) bool {
	now, ok := f.bins.now()
	if !ok || n <= 0 {
		return false
	}
	o := f.originAt(now.T, now.TempC)
	o.latestK = f.bins.raw[2].TempC - now.TempC
	stale := max(unix(at)-o.at, 0)
	p.At, p.N, p.Stale = at, n, time.Duration(stale*float64(time.Second))
	p.TempC = resize(p.TempC, n*Steps)
	f.draw(f.foresee(o), stale/hourSeconds, p)
	return true
}

// instants reads a curve at whole hours after at, staleHours after its origin; past its end the last day
// comes again.
func instants(c *curve, staleHours float64, out []float64) {
	for k := range out {
		x := staleHours + float64(k) + 0.5 // in units of curve index: hour h has its center at h-1/2
		if end := leads + 0.5; x > end {
			x -= 24 * math.Ceil((x-end)/24)
		}
		switch i := int(x); {
		case i < 1: // between now and the center of the first hour
			out[k] = c[0] + (x-0.5)*2*(c[1]-c[0])
		case i >= leads:
			out[k] = c[leads]
		default:
			out[k] = c[i] + (x-float64(i))*(c[i+1]-c[i])
		}
	}
}

func resize(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
