package model_test

import (
	"math"
	"slices"

	"pourward/model"
	"pourward/model/material"
	"pourward/sensors"
)

// A second reckoning of what the model tells, to hold the first against: plain loops over all readings and all
// marks, nothing kept from one reading to the next, written from the rules in DEVELOPERS.md, the documentation of
// the packages and the published laws named beside each formula, and sharing no code with the model's own.

// history is everything that a shop was told.
type history struct {
	setup    model.Setup
	readings []sensors.Reading
	marks    []model.Mark // taken, in order of their numbers
}

// heard is what one place was like at an instant.
type heard struct {
	at        int64 // Unix milliseconds
	temp, hum float64
}

// stay is a time at one place; face is where its pattern is measured, or empty.
type stay struct {
	from, to  int64
	air, face string
}

// span is a time in which everything ran linearly. Temperatures °C, humidity a ratio, NaN = not known.
type span struct {
	a, b             int64
	air, face, humid [2]float64
	gap              bool
}

func (s span) felt() (from, to float64) {
	if math.IsNaN(s.face[0]) {
		return s.air[0], s.air[1]
	}
	return s.face[0], s.face[1]
}

func (s span) seconds() float64 { return float64(s.b-s.a) / 1000 }

const (
	minute     = 60_000
	forever    = math.MaxInt64
	gapStrayK  = 5
	longestGap = 6 * 60 * minute
)

func (h *history) probe(name string) model.Probe {
	i := slices.IndexFunc(h.setup.Probes, func(p model.Probe) bool { return p.Name == name })
	return h.setup.Probes[i]
}

// silence is how long a probe may say nothing before the next one listed is believed.
func silence(p model.Probe) int64 { return max(3*p.Every.Milliseconds(), 2*minute) }

// gapOf is how long readings of a place may lie apart before what was between them is a guess.
func (h *history) gapOf(place string) int64 {
	gap := int64(15 * minute)
	for _, p := range h.setup.Probes {
		if p.Place == place {
			gap = max(gap, p.Every.Milliseconds()*5/2)
		}
	}
	return gap
}

// airOf is what a place was like, in order of time.
func (h *history) airOf(place string) []heard {
	var out []heard
	for _, r := range h.readings {
		p := h.probe(r.Probe)
		if p.Place != place || !r.Temp.OK() || h.outranked(p, r.At.UnixMilli()) {
			continue
		}
		x := heard{r.At.UnixMilli(), r.Temp.Value, h.humidity(r)}
		out = append(out, x)
	}
	slices.SortFunc(out, func(a, b heard) int { return int(a.at - b.at) })
	return out
}

// outranked reports whether a probe that is listed before this one spoke so lately that it is believed.
func (h *history) outranked(p model.Probe, at int64) bool {
	for _, o := range h.setup.Probes {
		if o.Name == p.Name {
			return false
		}
		if o.Place == p.Place && at-h.lastOf(o, at).at < silence(o) {
			return true
		}
	}
	return false
}

// lastOf is what a probe said last up to an instant; long ago where it said nothing.
func (h *history) lastOf(p model.Probe, at int64) heard {
	last := heard{at: -1e15}
	for _, r := range h.readings {
		if t := r.At.UnixMilli(); r.Probe == p.Name && r.Temp.OK() && t <= at && t > last.at {
			last = heard{t, r.Temp.Value, math.NaN()}
			if r.Humidity.OK() {
				last.hum = r.Humidity.Value
			}
		}
	}
	return last
}

// humidity at a reading: its own, else the moisture that another probe of the place measured lately.
func (h *history) humidity(r sensors.Reading) float64 {
	if r.Humidity.OK() {
		return r.Humidity.Value
	}
	at, mine := r.At.UnixMilli(), h.probe(r.Probe)
	for _, o := range h.setup.Probes {
		l := h.lastOf(o, at)
		if o.Name != mine.Name && o.Place == mine.Place && at-l.at < silence(o) && !math.IsNaN(l.hum) {
			return min(1, l.hum*saturation(l.temp)/saturation(r.Temp.Value))
		}
	}
	return math.NaN()
}

// inEffect are the marks that were neither corrected nor withdrawn, in order of time.
func (h *history) inEffect() []model.Mark {
	var out []model.Mark
	for _, m := range h.marks {
		replaced := slices.ContainsFunc(h.marks, func(o model.Mark) bool { return o.Corrects == m.ID })
		if !replaced && m.Kind != model.Withdrawn {
			out = append(out, m)
		}
	}
	slices.SortStableFunc(out, func(a, b model.Mark) int { return a.At.Compare(b.At) })
	return out
}

// stays lists where the mold stood. Of two moves at one instant the later mark counts; a move to where it stands
// already is none.
func (h *history) stays() []stay {
	var out []stay
	for _, m := range h.inEffect() {
		if m.Kind != model.Begun && m.Kind != model.Moved {
			continue
		}
		s := stay{from: m.At.UnixMilli(), to: forever, air: m.Place, face: m.Surface}
		if s.face == s.air {
			s.face = ""
		}
		n := len(out)
		switch {
		case n == 0:
			s.from = math.MinInt64
		case out[n-1].from == s.from:
			out = out[:n-1]
		case out[n-1].air == s.air && out[n-1].face == s.face:
			continue
		default:
			out[n-1].to = s.from
		}
		out = append(out, s)
	}
	return out
}

// spans is what was felt from one instant to another, as far as it is known by now. The cup of a working life
// stands in the air.
func (h *history) spans(from, until int64, cup bool) []span {
	var out []span
	stays := h.stays()
	if cup {
		stays = faceless(stays)
	}
	for i, s := range stays {
		if s.to <= from {
			continue
		}
		s.from = max(s.from, from)
		next, heardNext := h.firstLater(stays[i+1:])
		end := h.knownUpTo(s)
		if s.to != forever && (end >= s.to || heardNext) {
			end = h.comesAlong(stays[i:], end)
		}
		end = min(end, until)
		out = append(out, h.within(s, end, next)...)
		if end < s.to {
			break
		}
	}
	return out
}

// faceless are the stays of something that does not touch the pattern.
func faceless(stays []stay) []stay {
	var out []stay
	for _, s := range stays {
		s.face = ""
		if n := len(out); n > 0 && out[n-1].air == s.air {
			out[n-1].to = s.to
			continue
		}
		out = append(out, s)
	}
	return out
}

// firstLater is the first thing heard at a later stay, of the first that was heard.
func (h *history) firstLater(stays []stay) (heard, bool) {
	for _, s := range stays {
		for _, x := range h.airOf(s.air) {
			if x.at >= s.from {
				return x, true
			}
		}
	}
	return heard{}, false
}

// knownUpTo is how far the readings at a stay go. A probe on the pattern is waited for, but no longer than a gap.
func (h *history) knownUpTo(s stay) int64 {
	air := h.airOf(s.air)
	if len(air) == 0 {
		return math.MinInt64
	}
	end := air[len(air)-1].at
	if s.face != "" {
		if face := h.airOf(s.face); len(face) > 0 {
			if l := face[len(face)-1].at; l < end && end-l <= h.gapOf(s.face) {
				end = l
			}
		}
	}
	return end
}

// comesAlong is how far the first of some stays is known once a later one is heard: to its end, but that a probe
// on the pattern which the next stay names again is waited for as if the mold had stayed.
func (h *history) comesAlong(stays []stay, end int64) int64 {
	s := stays[0]
	face := h.airOf(s.face)
	if end >= s.to || s.face == "" || stays[1].face != s.face || len(face) == 0 {
		return s.to
	}
	newest := int64(math.MinInt64)
	for _, o := range stays {
		if o.face != s.face {
			break
		}
		if air := h.airOf(o.air); len(air) > 0 {
			newest = max(newest, air[len(air)-1].at)
		}
	}
	last := face[len(face)-1].at
	if last < s.to && last < newest && newest-last <= h.gapOf(s.face) {
		return last
	}
	return s.to
}

// within cuts a stay at every reading and tells what was felt between.
func (h *history) within(s stay, end int64, later heard) []span {
	air, gap := h.airOf(s.air), h.gapOf(s.air)
	var face []heard
	if s.face != "" {
		face = h.airOf(s.face)
	}
	cuts := []int64{s.from, end}
	for _, x := range slices.Concat(air, face) {
		if x.at > s.from && x.at < end {
			cuts = append(cuts, x.at)
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	var out []span
	for i := 1; i < len(cuts) && end > s.from; i++ {
		p := span{a: cuts[i-1], b: cuts[i]}
		p.airBetween(air, gap, s.from, later)
		p.faceBetween(face, h.gapOf(s.face))
		out = append(out, p)
	}
	return out
}

// around are the readings on both sides of a span.
func around(all []heard, p *span) (before, after *heard) {
	for i := range all {
		if all[i].at <= p.a {
			before = &all[i]
		} else if after == nil {
			after = &all[i]
		}
	}
	return before, after
}

// airBetween is the air of a span: the straight line between its neighbours. What was before the mold came is not
// known of longer than a gap; what was not measured is held from the neighbour that was.
func (p *span) airBetween(air []heard, gap, came int64, later heard) {
	before, after := around(air, p)
	if before != nil && before.at < came-gap {
		before = nil
	}
	switch {
	case before != nil && after != nil:
		p.gap = after.at-before.at > gap
		p.air, p.humid = line(*before, *after, p, temp), line(*before, *after, p, hum)
		return
	case before != nil:
		p.gap = p.b-before.at > gap
		later = *before
	case after != nil:
		p.gap = after.at-p.a > gap
		later = *after
	default:
		p.gap = true
	}
	p.air, p.humid = [2]float64{later.temp, later.temp}, [2]float64{later.hum, later.hum}
}

// faceBetween is the pattern of a span, not known in a gap of its own probe.
func (p *span) faceBetween(face []heard, gap int64) {
	p.face = [2]float64{math.NaN(), math.NaN()}
	if before, after := around(face, p); before != nil && after != nil && after.at-before.at <= gap {
		p.face = line(*before, *after, p, temp)
	}
}

func temp(x heard) float64 { return x.temp }
func hum(x heard) float64  { return x.hum }

// line is a value at both ends of a span on the line between two readings.
func line(a, b heard, p *span, of func(heard) float64) [2]float64 {
	value := func(at int64) float64 {
		share := float64(at-a.at) / float64(b.at-a.at)
		return of(a)*(1-share) + of(b)*share
	}
	return [2]float64{value(p.a), value(p.b)}
}

// waited is one thing a mold waits for, by the marks.
type waited struct {
	mark      model.Mark
	kind      model.StepKind
	of        material.Material
	from, end int64 // end = forever while it is open
}

// waits lists them: each ends with the work that makes it pointless.
func (h *history) waits() []waited {
	var out []waited
	ends := map[model.MarkKind][]model.StepKind{
		model.CoatOn:    {model.CoatDry, model.ReleaseDry},
		model.ReleaseOn: {model.CoatDry, model.ReleaseDry},
		model.Mixed:     {model.CoatDry, model.ReleaseDry, model.WorkingLife},
		model.Poured:    {model.CoatDry, model.ReleaseDry, model.WorkingLife, model.DemoldTime},
		model.LayerOn:   {model.CoatDry, model.ReleaseDry, model.WorkingLife, model.LayerWindow, model.DemoldTime},
		model.Demolded:  {model.CoatDry, model.ReleaseDry, model.WorkingLife, model.LayerWindow, model.DemoldTime},
	}
	begins := map[model.MarkKind][]model.StepKind{
		model.CoatOn: {model.CoatDry}, model.ReleaseOn: {model.ReleaseDry}, model.Mixed: {model.WorkingLife},
		model.Poured: {model.DemoldTime}, model.LayerOn: {model.LayerWindow, model.DemoldTime},
	}
	rubber := ""
	for _, m := range h.inEffect() {
		at := m.At.UnixMilli()
		for i := range out {
			if out[i].end == forever && slices.Contains(ends[m.Kind], out[i].kind) {
				out[i].end = at
			}
		}
		name := m.Material
		if m.Kind == model.Begun || m.Kind == model.Mixed && name != "" {
			rubber = name
		}
		if m.Kind != model.CoatOn && m.Kind != model.ReleaseOn {
			name = rubber
		}
		of, _ := h.setup.Shelf.Find(name)
		for _, kind := range begins[m.Kind] {
			out = append(out, waited{m, kind, of, at, forever})
		}
	}
	return out
}
