package model

import (
	"math"

	"pourward/model/air"
)

// place is one spot of the shop. What it is like follows from its probes: the temperature from the first
// listed that is not silent, the humidity from the first that measures it.
type place struct {
	name   string
	probes []*probe // in the order they are listed, which is the order they are believed in
	track  track
	past   past
}

// first is the probe the maker trusts most here; nil = none.
func (p *place) first() *probe {
	if len(p.probes) == 0 {
		return nil
	}
	return p.probes[0]
}

// believed is the probe whose temperature holds at an instant: the first that is not silent, else the
// one heard last, else the first.
func (p *place) believed(now int64) *probe {
	var heard *probe
	for _, pr := range p.probes {
		if pr.fresh(now) {
			return pr
		}
		if pr.heard && (heard == nil || pr.last.at > heard.last.at) {
			heard = pr
		}
	}
	if heard != nil {
		return heard
	}
	return p.first()
}

// fresh reports whether anything trusted was heard here lately.
func (p *place) fresh(now int64) bool {
	b := p.believed(now)
	return b != nil && b.fresh(now)
}

// take puts a sample of one of the probes into the place's own track and reports the worst that it did
// to it.
func (p *place) take(pr *probe, x sample) landing {
	if len(p.probes) == 1 {
		where := p.track.add(x)
		if where != nowhere {
			p.past.add(x)
		}
		return where
	}
	where := pr.own.add(x)
	if where == nowhere {
		return nowhere
	}
	return p.settle(x.at, x.at+p.longestSilence())
}

// settle works out the place's track anew from the probes' own between two instants: what a sample is
// worth depends on who else was heard just before it.
func (p *place) settle(from, to int64) landing {
	worst := nowhere
	for _, pr := range p.probes {
		for pos := pr.own.after(from - 1); pos < pr.own.end(); pos++ {
			x := *pr.own.get(pos)
			if x.at > to {
				break
			}
			worst = max(worst, p.put(pr, x))
		}
	}
	return worst
}

// put lets one sample into the track if it is to be believed, and takes it out if it is not any more.
func (p *place) put(pr *probe, x sample) landing {
	keep := p.outranked(pr, x.at) == nil
	if math.IsNaN(x.hum) {
		x.hum = p.borrowed(pr, x)
	}
	have, there := p.track.at(x.at)
	switch {
	case !keep && (!there || !p.holds(pr, x.at)):
		return nowhere
	case !keep:
		p.track.remove(x.at)
		p.past.remove(x.at, &p.track)
		return amid
	case there && same(have, x):
		return nowhere
	case there:
		p.track.remove(x.at)
		p.past.remove(x.at, &p.track)
		p.track.add(x)
		p.past.add(x)
		return amid
	}
	where := p.track.add(x)
	p.past.add(x)
	return where
}

// holds reports whether the track's sample at an instant came from this probe; where two probes spoke at
// one instant it is the higher one's.
func (p *place) holds(pr *probe, at int64) bool {
	for _, o := range p.probes {
		if _, there := o.own.at(at); there {
			return o == pr
		}
	}
	return false
}

// outranked returns the probe that is believed before pr at an instant, if one was heard.
func (p *place) outranked(pr *probe, at int64) *probe {
	for _, o := range p.probes {
		if o == pr {
			return nil
		}
		if l, ok := o.own.upTo(at); ok && at-l.at < o.silentAfter() {
			return o
		}
	}
	return nil
}

// borrowed is the humidity at a sample of a probe that measures none: the moisture that another one
// measured lately, at this one's temperature. NaN when there is none.
func (p *place) borrowed(pr *probe, x sample) float64 {
	for _, o := range p.probes {
		l, ok := o.own.upTo(x.at)
		if o == pr || !ok || math.IsNaN(l.hum) || x.at-l.at >= o.silentAfter() {
			continue
		}
		return min(1, air.VapourPa(l.temp, l.hum)/air.SaturationPa(x.temp))
	}
	return math.NaN()
}

func (p *place) longestSilence() int64 {
	longest := int64(0)
	for _, pr := range p.probes {
		longest = max(longest, pr.silentAfter())
	}
	return longest
}

func same(a, b sample) bool {
	return a.at == b.at && a.temp == b.temp && (a.hum == b.hum || math.IsNaN(a.hum) && math.IsNaN(b.hum))
}

// cut drops samples older than before.
func (p *place) cut(before int64) {
	p.track.cut(before)
	for _, pr := range p.probes {
		pr.own.cut(before)
	}
}

// agreeSpan is how long two probes are compared: a draft that reaches one first is over by then.
const agreeSpan = 30 // minutes

// gradientK is what two spots of one place may honestly differ by, K; an assumption.
const gradientK = 0.5

// disagreement is by how much the believed probe and the one furthest from it differ over the last half
// hour, K, when that is more than their accuracies explain; 0 when they agree.
func (p *place) disagreement(now int64) (worst float64, with *probe) {
	b := p.believed(now)
	if len(p.probes) < 2 || !b.fresh(now) {
		return 0, nil
	}
	mine, _ := b.own.recentMinutes(agreeSpan)
	for _, o := range p.probes {
		if o == b || !o.fresh(now) {
			continue
		}
		theirs, _ := o.own.recentMinutes(agreeSpan)
		off := mine.temp - theirs.temp
		allowed := math.Hypot(b.AccuracyK, o.AccuracyK) + gradientK
		if math.Abs(off) > allowed && math.Abs(off) > math.Abs(worst) {
			worst, with = off, o
		}
	}
	return worst, with
}
