package model

import (
	"fmt"
	"math"

	"pourward/model/air"
	"pourward/model/dry"
	"pourward/model/material"
)

// Limits of air fit to pour in or to coat in.
const (
	dewMarginK  = 3.0 // surface above the dew point, ISO 8502-4 practice
	dampCeiling = dry.DampCeiling
)

// usualHumidity is what air to pour in may hold where no material says otherwise.
func usualHumidity() material.Humidities { return material.Humidities{Max: dampCeiling} }

// placeOutlook tells of one place.
func (s *Shop) placeOutlook(p *place, now int64) PlaceOutlook {
	o := PlaceOutlook{Name: p.name, TempC: math.NaN(), Humidity: math.NaN(), DewPointC: math.NaN()}
	w := s.pourWindow(p)
	o.PourMinC, o.PourMaxC = w.MinC, w.MaxC
	if b := p.believed(now); b != nil {
		o.Probe, o.Known = b.Name, b.fresh(now)
	}
	if off, with := p.disagreement(now); with != nil {
		o.OffK, o.OffProbe = off, with.Name
	}
	if l, ok := p.track.last(); ok {
		o.At, o.TempC, o.Humidity = instant(l.at), l.temp, l.hum
		o.DewPointC = air.DewPointC(l.temp, l.hum)
	}
	o.Pour = verdict(airReasons(o, w, usualHumidity()))
	return o
}

// pourWindow is the range of temperature to pour in at a place: what all rubbers planned there and not
// yet poured allow, within the shop's own.
func (s *Shop) pourWindow(p *place) material.Window {
	w := s.setup.Pour
	for _, m := range s.molds {
		if m.air != p || !m.open() || m.count(DemoldTime) > 0 {
			continue
		}
		if of, err := s.setup.Shelf.Find(m.rubber(math.MaxInt64)); err == nil {
			w.MinC, w.MaxC = max(w.MinC, of.Pour.MinC), min(w.MaxC, of.Pour.MaxC)
		}
	}
	return w
}

// airReasons is what speaks against pouring in the air of a place.
func airReasons(o PlaceOutlook, w material.Window, h material.Humidities) []Reason {
	if !o.Known {
		return []Reason{{Code: ReasonNoAir, Text: "No trusted reading of the air at " + o.Name + ": look at the probe."}}
	}
	var out []Reason
	switch {
	case o.TempC < w.MinC:
		out = append(out, Reason{Code: ReasonCold, Text: "The air is too cold: the cure drags and mild contaminants begin to inhibit."})
	case o.TempC > w.MaxC:
		out = append(out, Reason{Code: ReasonWarm, Text: "The air is too warm: the working life is short."})
	}
	switch {
	case o.Humidity > dampCeiling:
		out = append(out, Reason{Code: ReasonDamp, Text: "The air is damp, above 85 %: coats blush and dry late."})
	case o.Humidity > h.Max:
		out = append(out, Reason{Code: ReasonDamp, Text: fmt.Sprintf("The air is damper than the %.0f %% this material's data sheet allows.", 100*h.Max)})
	case o.Humidity < h.Min:
		out = append(out, Reason{Code: ReasonDry, Text: fmt.Sprintf("The air is drier than the %.0f %% this material's data sheet asks for.", 100*h.Min)})
	}
	return out
}

// verdict decides from the reasons. An unknown outranks everything but a sure no.
func verdict(reasons []Reason) Fitness {
	f := Fitness{Verdict: Fit, Reasons: reasons}
	for _, r := range reasons {
		switch {
		case r.Caution:
		case r.Code == ReasonNoAir || r.Code == ReasonSurface:
			if f.Verdict == Fit {
				f.Verdict = FitCannot
			}
		default:
			f.Verdict = NotFit
		}
	}
	return f
}

// moldFitness judges whether to pour on this mold now.
func (t *teller) moldFitness(m *mold, steps []Step) Fitness {
	place := t.shop.placeOutlook(m.air, t.now)
	window, humidity := t.shop.setup.Pour, usualHumidity()
	of, err := t.shop.setup.Shelf.Find(m.rubber(t.now))
	if err == nil {
		window, humidity = of.Pour, dampLimits(of)
	}
	reasons := airReasons(place, window, humidity)
	if err == nil {
		reasons = append(reasons, t.aheadReasons(m, of, reasons)...)
	}
	reasons = append(reasons, t.surfaceReasons(m, place, window)...)
	reasons = append(reasons, wetReasons(steps)...)
	reasons = append(reasons, t.patchReasons(m)...)
	reasons = append(reasons, t.riskReasons(m)...)
	reasons = append(reasons, t.batchReasons(m)...)
	f := verdict(reasons)
	if err == nil {
		f.From = t.turnsFit(m, of, f, steps)
		f.Warmer = t.warmer(m, of, f, place)
	}
	return f
}

// surfaceReasons judges the pattern's surface against the dew point of the air.
func (t *teller) surfaceReasons(m *mold, a PlaceOutlook, window material.Window) []Reason {
	if m.surf == nil {
		return []Reason{{Code: ReasonUnprobed, Caution: true,
			Text: "No probe sits on the pattern: a cold pattern in warm air may be wet with dew unseen."}}
	}
	l, ok := m.surf.track.last()
	if !ok || !m.surf.fresh(t.now) {
		return []Reason{{Code: ReasonSurface, Text: "The probe on the pattern is silent: look at it."}}
	}
	if margin := l.temp - a.DewPointC; margin < dewMarginK {
		return []Reason{{Code: ReasonDew, Text: "The pattern is less than 3 °C (5 °F) above the dew point: warm it or dry the air."}}
	}
	if l.temp < window.MinC && a.TempC >= window.MinC {
		return []Reason{{Code: ReasonColdFace, Caution: true, Text: "The pattern is colder than the rubber's window: its face cures late."}}
	}
	return nil
}

// wet are the coats that are not dry for certain. A coat that another went over had to be dry before that;
// only the last one of each kind decides.
func wet(steps []Step) []Step {
	var out []Step
	for _, s := range steps {
		if (s.Kind == CoatDry || s.Kind == ReleaseDry) && s.Standing != Ready && s.Standing != Closed {
			out = append(out, s)
		}
	}
	return out
}

// wetReasons names every coat that is not dry for certain.
func wetReasons(steps []Step) []Reason {
	var out []Reason
	for _, s := range wet(steps) {
		if s.Kind == ReleaseDry {
			out = append(out, Reason{Code: ReasonRelease, Text: "The release agent is not dry for certain."})
			continue
		}
		out = append(out, Reason{Code: ReasonCoat, Text: s.Title + " is not dry for certain."})
	}
	return out
}

// mold tells of one mold.
func (t *teller) mold(m *mold) MoldOutlook {
	o := MoldOutlook{
		Name: m.name, Title: m.begin.Title, Place: m.air.name,
		Rubber: m.rubber(t.now), Begun: m.begin.At, Demolded: instant(m.end),
		Poured: m.count(DemoldTime) > 0, Design: m.begin.Design, Coming: m.coming(), Marks: m.marks,
	}
	if m.surf != nil {
		o.Surface = m.surf.name
	}
	if o.Title == "" {
		o.Title = o.Name
	}
	for _, st := range m.steps {
		o.Steps = append(o.Steps, t.step(m, st))
	}
	if o.Open() {
		o.Doubt = t.judged(m)
	}
	t.tellFace(m, &o)
	if o.Open() && !o.Poured {
		o.Pour = t.moldFitness(m, o.Steps)
	}
	t.cupTouch(m, &o)
	o.Next, o.NextAt = nextThing(&o, instant(t.now))
	return o
}
