package plan

import "math"

// blocks remembers, for the layers that begin with one act, what came of a first layer begun at each quarter of
// an hour of each path.
type blocks struct {
	done []float64 // when the last layer is on, s; NaN = not asked yet
	why  []Hold    // what stands against it
}

// layers brushes the layers that begin with act n. The first one goes on at the first quarter of an hour from which
// all of them can be met: each next one goes on after nine in ten are firm enough, and before one in ten no
// longer takes it. It returns when the last has cured, or what stands against it.
func (w *walker) layers(i, n int, ready float64, into []stamp) (cured float64, held Hold) {
	q := int(math.Ceil((ready-w.quarter0)/step - 1e-9))
	for ; w.quarter(q) < end; q++ {
		done, why := w.block(i, n, q)
		if why != NoHold {
			held = orElse(held, why)
			continue
		}
		if into != nil {
			_, _ = w.brush(i, n, w.quarter(q), into)
			into[n].ready, into[n].held = ready, held
		}
		cured, ok := w.sky.reached(w.acts[n].of.Demold, i, done, nineInTen)
		if !ok {
			return 0, Beyond
		}
		return cured, NoHold
	}
	return 0, orElse(held, Beyond)
}

// quarter is the instant of a quarter of an hour of the clock.
func (w *walker) quarter(q int) float64 { return w.quarter0 + step*float64(q) }

// block is brush, remembered.
func (w *walker) block(i, n, q int) (done float64, why Hold) {
	b := w.blocks[n]
	if b == nil {
		size := w.sky.sight.Paths.N * points
		b = &blocks{make([]float64, size), make([]Hold, size)}
		for k := range b.done {
			b.done[k] = math.NaN()
		}
		w.blocks[n] = b
	}
	k := i*points + q
	if math.IsNaN(b.done[k]) {
		b.done[k], b.why[k] = w.brush(i, n, w.quarter(q), nil)
	}
	return b.done[k], b.why[k]
}

// brush puts all layers on, the first at an instant, and returns when the last is on, or what stands against it.
func (w *walker) brush(i, n int, at float64, into []stamp) (done float64, why Hold) {
	of := w.acts[n].of
	o, there := w.openAt(at)
	if !there || at < o.from {
		return 0, OffHours
	}
	hands, why := w.pouring(i, of, at)
	if why == NoHold && at+hands > o.to {
		why = OffHours
	}
	if why != NoHold {
		return 0, why
	}
	if into != nil {
		into[n] = stamp{ready: at, begin: at}
	}
	for l := 1; l < w.acts[n].layers; l++ {
		until, bonds := w.sky.reached(of.LayerUntil, i, at, -nineInTen)
		from, ok := w.sky.reached(of.LayerFrom, i, at+hands, nineInTen)
		switch {
		case !ok:
			return 0, Beyond
		case !bonds:
			until = end
		}
		next, busy, held, ok := w.begin(i, &w.acts[n+l], from)
		switch {
		case !ok:
			return 0, held
		case from+busy > until:
			return 0, NoWindow
		case next+busy > until:
			return 0, ForLayers
		}
		at, hands = next, busy
		if into != nil {
			into[n+l] = stamp{from, at, held}
		}
	}
	return at + hands, NoHold
}
