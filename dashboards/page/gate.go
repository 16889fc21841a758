package page

import (
	"math"

	"pourward/model"
)

// gate is the picture of a place's range to pour in: a closed line with an opening from the lowest to
// the highest temperature. A drop marks the air; it falls through only where the verdict is fit.
type gate struct {
	Left, Right      string // path of the closed line on either side
	Drop             string // path; empty where the temperature is not known
	Through          bool
	MinX, MaxX       float64
	MinWord, MaxWord string
}

// The gate's scale is the same for every place, so that rows can be compared.
const (
	gateWidth = 220.0
	gateLine  = 19.0 // where the line lies
	gateLowC  = 0.0
	gateHighC = 42.0
)

func gateX(tempC float64) float64 {
	f := (tempC - gateLowC) / (gateHighC - gateLowC)
	return tenth(8 + (gateWidth-16)*min(1, max(0, f)))
}

// gateOf draws the gate of a place; nil where no range is known.
func (v voice) gateOf(p model.PlaceOutlook) *gate {
	if !(p.PourMaxC > p.PourMinC) {
		return nil
	}
	g := &gate{
		MinX: gateX(p.PourMinC), MaxX: gateX(p.PourMaxC),
		MinWord: decimal(v.scaled(p.PourMinC), 0), MaxWord: decimal(v.scaled(p.PourMaxC), 0) + nbsp + v.unitName(),
	}
	var left, right pen
	left.move(0, gateLine)
	left.line(g.MinX, gateLine)
	right.move(g.MaxX, gateLine)
	right.line(gateWidth, gateLine)
	g.Left, g.Right = left.String(), right.String()
	if p.Known && !math.IsNaN(p.TempC) {
		g.Through = p.Pour.Verdict == model.Fit
		g.Drop = dropPath(gateX(p.TempC), g.Through)
	}
	return g
}

// dropPath is a drop that rests on the line, or hangs through it.
func dropPath(x float64, through bool) string {
	bottom := gateLine - 2
	if through {
		bottom = gateLine + 9
	}
	var p pen
	p.move(x, bottom-15)
	p.to('C', x+2, bottom-11)
	p.WriteString(" " + short(x+6) + " " + short(bottom-8) + " " + short(x+6) + " " + short(bottom-5))
	p.WriteString("A6 6 0 0 1 " + short(x-6) + " " + short(bottom-5))
	p.to('C', x-6, bottom-8)
	p.WriteString(" " + short(x-2) + " " + short(bottom-11) + " " + short(x) + " " + short(bottom-15))
	p.close()
	return p.String()
}
