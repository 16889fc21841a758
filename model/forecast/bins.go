package forecast

import "math"

const (
	binSeconds  = 600
	hourSeconds = 3600
	binsPerHour = hourSeconds / binSeconds

	// maxGapSeconds is the longest silence a straight line may bridge. Rooms move slowly enough for an
	// hour and a half, and a sensor that speaks only once an hour still gives whole hours.
	maxGapSeconds = 5400
	// An hour counts when half of it is covered by readings or the lines between them, a bin when a quarter is.
	minHourCover = hourSeconds / 2
	minBinCover  = binSeconds / 4
)

// sample is one reading: seconds since the Unix epoch and degrees Celsius.
type sample struct{ T, TempC float64 }

// binner turns readings of any spacing into ten-minute means. A median of three removes every single bad
// reading before it can touch a mean; the line between the surviving readings is integrated exactly, so
// fast and slow probes are treated alike.
type binner struct {
	raw      [3]sample // the last readings as they came, oldest first
	rawCount int
	smooth   [4]sample // the last readings after the median of three, oldest first
	passed   int       // how many of smooth are set

	bin      int64   // the open ten-minute bin (Unix time / 600)
	integral float64 // K s collected in the open bin
	cover    float64 // seconds covered in the open bin
}

// binMean is a closed bin: its index, the mean over the covered part and the seconds covered.
type binMean struct {
	Bin   int64
	MeanC float64 // NaN without enough cover
	Cover float64
	EndC  float64 // temperature at the end of the bin, NaN inside a gap
}

// add takes one reading and calls closed for every ten-minute bin that ends, in order. A reading is used
// only when its successor is known, so the bins lag one reading behind.
func (b *binner) add(s sample, closed func(binMean)) {
	b.raw[0], b.raw[1], b.raw[2] = b.raw[1], b.raw[2], s
	b.rawCount = min(b.rawCount+1, len(b.raw))
	if b.rawCount < len(b.raw) {
		return
	}
	b.pass(sample{b.raw[1].T, median3(b.raw[0].TempC, b.raw[1].TempC, s.TempC)}, closed)
}

func (b *binner) pass(s sample, closed func(binMean)) {
	if b.passed > 0 {
		b.integrate(b.smooth[3], s, closed)
	} else {
		b.bin = int64(math.Floor(s.T / binSeconds))
	}
	copy(b.smooth[:], b.smooth[1:])
	b.smooth[3] = s
	b.passed = min(b.passed+1, len(b.smooth))
}

// integrate adds the line between two smooth readings; across a longer gap it closes the bins empty.
func (b *binner) integrate(from, to sample, closed func(binMean)) {
	bridged := to.T-from.T <= maxGapSeconds
	slope := (to.TempC - from.TempC) / (to.T - from.T)
	left := from
	for end := float64(b.bin+1) * binSeconds; end <= to.T; end += binSeconds {
		endC := math.NaN()
		if bridged {
			endC = from.TempC + slope*(end-from.T)
			b.area(left, sample{end, endC})
			left = sample{end, endC}
		}
		closed(binMean{Bin: b.bin, MeanC: b.mean(), Cover: b.cover, EndC: endC})
		b.bin, b.integral, b.cover = b.bin+1, 0, 0
	}
	if bridged {
		b.area(left, to)
	}
}

func (b *binner) area(from, to sample) {
	b.integral += (to.T - from.T) * (from.TempC + to.TempC) / 2
	b.cover += to.T - from.T
}

// mean is the mean of the open bin so far, NaN without enough cover.
func (b *binner) mean() float64 {
	if b.cover < minBinCover {
		return math.NaN()
	}
	return b.integral / b.cover
}

// now is the latest temperature and its instant. The last reading has no successor to vouch for it, so it may
// move the answer only between the last smooth reading and that reading carried on at its recent slope.
func (b *binner) now() (sample, bool) {
	last := b.raw[2]
	switch {
	case b.rawCount == 0:
		return sample{}, false
	case b.passed < len(b.smooth):
		if b.passed > 0 {
			last.TempC = b.smooth[3].TempC
		}
		return last, true
	}
	newest, oldest := b.smooth[3], b.smooth[0]
	slope := (newest.TempC - oldest.TempC) / (newest.T - oldest.T)
	carried := newest.TempC + slope*min(last.T-newest.T, maxGapSeconds)
	last.TempC = median3(newest.TempC, carried, last.TempC)
	return last, true
}

func median3(a, b, c float64) float64 {
	return max(min(a, b), min(max(a, b), c))
}
