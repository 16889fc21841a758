package model

import (
	"math"
	"time"

	"pourward/model/dry"
	"pourward/model/material"
)

// coatFold dries one coat over a walk, at three places of the band at once.
type coatFold struct {
	walk    pieces
	until   int64
	coat    [quantiles]dry.Coat
	done    [quantiles]dry.Progress
	gap     time.Duration // left out: nothing is known of it, so it is not counted as drying
	held    time.Duration // the air did not let the coat dry, or let it be judged
	crossed [quantiles]int64
	limits  []recoatLimit // of its sheet, for the next coat
}

func newCoatFold(w pieces, m material.Material, filmUM float64) *coatFold {
	f := &coatFold{walk: w, until: math.MaxInt64}
	for place := range f.coat {
		f.coat[place] = dryCoat(m, score(place))
		f.coat[place].Thickness = thickness(m, filmUM)
	}
	f.limits = recoatLimits(m, thickness(m, filmUM))
	f.restart()
	return f
}

// dryCoat is a coat of a material at a place in the band.
func dryCoat(m material.Material, score float64) dry.Coat {
	return dry.Coat{
		Class:         dryClass(m.Coat.Class),
		Ref:           m.Coat.Ref,
		RefC:          m.RefC,
		RefHumidity:   m.Coat.RefHumidity,
		StandardScore: score,
	}
}

// thickness is how thick a film is against the one that the sheet's time holds for; 1 where either is not told.
func thickness(m material.Material, filmUM float64) float64 {
	if filmUM == 0 || m.Coat.FilmMicrometers == 0 {
		return 1
	}
	return filmUM / m.Coat.FilmMicrometers
}

// dryClass translates a material's class into the clock's. A class the clock does not know never dries.
func dryClass(c material.Class) dry.Class {
	switch c {
	case material.Lacquer:
		return dry.Lacquer
	case material.Alcohol:
		return dry.Alcohol
	case material.WaterBorne:
		return dry.WaterBorne
	case material.LightNaphtha:
		return dry.LightNaphtha
	case material.Naphtha:
		return dry.Naphtha
	case material.MineralSpirit:
		return dry.MineralSpirit
	}
	return dry.WaitOnly
}

func (f *coatFold) restart() {
	f.walk.start()
	f.done, f.crossed = [quantiles]dry.Progress{}, [quantiles]int64{}
	f.gap, f.held = 0, 0
	for i := range f.limits {
		f.limits[i].done, f.limits[i].reached = dry.Progress{}, 0
	}
}

func (f *coatFold) advance() {
	for {
		p, ok := f.walk.next(f.until)
		if !ok {
			return
		}
		f.add(p)
	}
}

// add folds one piece. A gap is left out, so that only air that was measured makes a coat dry.
func (f *coatFold) add(p piece) {
	span := time.Duration(p.b-p.a) * time.Millisecond
	if p.gap {
		f.gap += span
		return
	}
	from, to := dryAir(p.from), dryAir(p.to)
	if f.coat[likely].Gates(from).Hold != dry.NoReason {
		f.held += span
	}
	for place := range f.coat {
		if f.crossed[place] != 0 {
			continue
		}
		before := f.done[place]
		f.done[place] = f.coat[place].Advance(before, from, to, p.seconds())
		if f.done[place].Done() {
			f.crossed[place] = whenDry(f.coat[place], before, p)
		}
	}
	for i := range f.limits {
		f.limits[i].advance(p)
	}
}

// whenDry finds the instant within the piece at which a coat was dry, to the second.
func whenDry(c dry.Coat, before dry.Progress, p piece) int64 {
	a, b := p.a, p.b
	for b-a > 1000 {
		mid := a + (b-a)/2
		share := float64(mid-p.a) / float64(p.b-p.a)
		to := dryAir(p.from)
		end := dryAir(p.to)
		to.AirC += (end.AirC - to.AirC) * share
		to.SurfaceC += (end.SurfaceC - to.SurfaceC) * share
		to.Humidity += (end.Humidity - to.Humidity) * share
		if c.Advance(before, dryAir(p.from), to, float64(mid-p.a)/1000).Done() {
			b = mid
		} else {
			a = mid
		}
	}
	return b
}

func dryAir(p point) dry.Air {
	return dry.Air{AirC: p.air, SurfaceC: p.surface, Humidity: p.hum}
}
