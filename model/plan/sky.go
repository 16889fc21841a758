package plan

import (
	"math"

	"pourward/model/air"
	"pourward/model/cure"
	"pourward/model/dry"
	"pourward/model/forecast"
)

// The grid on which every path is reckoned.
const (
	step   = 900.0                    // s
	points = (forecast.Steps-1)*4 + 1 // as far as the forecast goes
	end    = (points - 1) * step      // s
)

// sky is every path of a sight on the grid, with what the materials of a course come to along it.
type sky struct {
	sight   Sight
	heat    *Heat
	temps   []float64 // °C, row-major by path
	hums    []float64 // relative humidity while the air keeps its moisture, ratio; NaN = not known
	ages    map[cure.Arrhenius]*ageing
	coats   map[dry.Coat][]dry.Along // by path, at the place of the band that is waited for
	open    map[dry.Coat][]byte      // by path and point: whether a coat may be put on; 0 = not asked yet
	scratch []dry.Air
}

// ageing is the cure account of every path under a law, from its beginning to each point.
type ageing struct{ age, dea []float64 }

func newSky(s Sight, heat *Heat) *sky {
	k := &sky{
		sight: s, heat: heat, temps: make([]float64, s.Paths.N*points),
		ages: map[cure.Arrhenius]*ageing{}, coats: map[dry.Coat][]dry.Along{},
		open: map[dry.Coat][]byte{}, scratch: make([]dry.Air, points),
	}
	for i := range s.Paths.N {
		row, path := s.Paths.Row(i), k.path(i)
		for p := range path {
			h, part := p/4, float64(p%4)/4
			path[p] = row[h]
			if part > 0 {
				path[p] += (row[h+1] - row[h]) * part
			}
		}
		if heat != nil {
			heat.lift(path, s.At, step, s.zone())
		}
	}
	k.hums = make([]float64, len(k.temps))
	for p, tempC := range k.temps {
		k.hums[p] = min(1, s.VaporPa/air.SaturationPa(tempC))
	}
	return k
}

// path is the temperature of a path at every point, °C.
func (k *sky) path(i int) []float64 { return k.temps[i*points : (i+1)*points] }

// air is what a coat meets at a point of a path.
func (k *sky) air(i, point int) dry.Air {
	at := i*points + point
	return dry.Air{AirC: k.temps[at], SurfaceC: math.NaN(), Humidity: k.hums[at]}
}

// aged returns the accounts under a law, worked out when first asked for.
func (k *sky) aged(law cure.Arrhenius) *ageing {
	if a := k.ages[law]; a != nil {
		return a
	}
	a := &ageing{make([]float64, len(k.temps)), make([]float64, len(k.temps))}
	for i := range k.sight.Paths.N {
		path, acc := k.path(i), cure.Account{}
		for p := 1; p < points; p++ {
			law.Add(&acc, path[p-1], path[p], step)
			a.age[i*points+p], a.dea[i*points+p] = acc.Age, acc.DEa
		}
	}
	k.ages[law] = a
	return a
}

// along returns how far a coat comes on each path, by the time by which nine in ten are dry.
func (k *sky) along(c dry.Coat) []dry.Along {
	c.StandardScore = nineInTen
	if a := k.coats[c]; a != nil {
		return a
	}
	a := make([]dry.Along, k.sight.Paths.N)
	for i := range a {
		for p := range points {
			k.scratch[p] = k.air(i, p)
		}
		a[i] = c.Along(k.scratch, step)
	}
	k.coats[c] = a
	return a
}

// coatable reports whether nothing speaks against putting a coat on at a point of a path.
func (k *sky) coatable(c dry.Coat, i, point int) bool {
	memo := k.open[c]
	if memo == nil {
		memo = make([]byte, len(k.temps))
		k.open[c] = memo
	}
	at := i*points + point
	if memo[at] == 0 {
		memo[at] = no
		if c.Gates(k.air(i, point)).Clear() {
			memo[at] = yes
		}
	}
	return memo[at] == yes
}

// What is remembered of a question; 0 = not asked yet.
const (
	no  = 1
	yes = 2
)

// tempAt is the temperature of a path between points, °C.
func tempAt(path []float64, s float64) float64 {
	p := min(int(s/step), points-2)
	return path[p] + (path[p+1]-path[p])*(s/step-float64(p))
}
