package model

import (
	"math"
	"slices"
	"time"

	"pourward/model/dry"
	"pourward/model/heat"
	"pourward/model/material"
)

// Warmer is what holding a place warmer from now on would bring.
type Warmer struct {
	TempC float64   // held from now on until the cure is half done, °C
	From  time.Time // when it would be fit to pour
}

// pourRoomC is the warmth that is compared with, where the rubber allows it, °C; the middle of 21 to 24.
const pourRoomC = 22

// prospect is how a rubber would fare when poured at the mold's place, by the forecast; nil where nothing
// is forecast.
func (t *teller) prospect(m *mold, of material.Material) (p prospect, from int64) {
	sky := t.sky(m)
	if sky.air == nil || sky.air.paths == nil {
		return nil, 0
	}
	key := prospectKey{sky.air, sky.surf, of.Name}
	p, ok := t.prospects[key]
	if !ok {
		p = prospectOf(needsOf(of), sky.air, sky.surf)
		t.prospects[key] = p
	}
	return p, sky.air.from
}

type prospectKey struct {
	air, surf *ahead
	of        string
}

// slot is the first slot not before an instant.
func slot(from, at int64) int {
	return max(0, int(math.Ceil(float64(at-from)/3600e3/pourSlot)))
}

// aheadReasons is what speaks against pouring now because of what is to come. now are the reasons that
// speak against it already.
func (t *teller) aheadReasons(m *mold, of material.Material, now []Reason) []Reason {
	p, from := t.prospect(m, of)
	g := slot(from, t.now)
	if p == nil || g >= len(p) {
		return nil
	}
	has := func(code ReasonCode) bool {
		return slices.ContainsFunc(now, func(r Reason) bool { return r.Code == code })
	}
	var out []Reason
	say := func(share float64, code ReasonCode, likely, maybe string) {
		switch {
		case share >= 0.5:
			out = append(out, Reason{Code: code, Text: likely})
		case share >= oneInTen:
			out = append(out, Reason{Code: code, Text: maybe, Caution: true})
		}
	}
	if !has(ReasonCold) {
		say(max(p[g].cold, p[g].chill), ReasonColdAhead,
			"By the forecast the air turns too cold before this would be half cured: pour later, or keep the place warm.",
			"The air may turn too cold before this would be half cured: keep the place warm.")
	}
	if !has(ReasonWarm) {
		say(p[g].warm, ReasonWarmAhead,
			"By the forecast the air turns too warm before the working life would be over.",
			"The air may turn too warm before the working life would be over.")
	}
	return out
}

// passes reports whether a reason may pass by waiting, as far as the forecast and the coats tell.
func passes(r Reason) bool {
	return slices.Contains([]ReasonCode{ReasonCold, ReasonWarm, ReasonDamp, ReasonDry, ReasonDew, ReasonCoat, ReasonRelease,
		ReasonColdAhead, ReasonWarmAhead}, r.Code)
}

// onlyFor reports whether every reason that decides is of a kind.
func (f Fitness) onlyFor(is func(Reason) bool) bool {
	return !slices.ContainsFunc(f.Reasons, func(r Reason) bool { return !r.Caution && !is(r) })
}

// turnsFit is when a pour that is not fit now will be, nine in ten: the coats dry for certain, then air and
// pattern fit by the forecast. Zero = not within the forecast, or something stands against it that waiting
// does not mend.
func (t *teller) turnsFit(m *mold, of material.Material, f Fitness, steps []Step) time.Time {
	if f.Verdict != NotFit {
		return time.Time{}
	}
	if !f.onlyFor(passes) {
		return time.Time{}
	}
	at := t.now
	for _, s := range wet(steps) {
		if !s.Band.Told() {
			return time.Time{}
		}
		at = max(at, s.Band.Latest.UnixMilli())
	}
	p, from := t.prospect(m, of)
	for g := slot(from, at); g < len(p); g++ {
		if p[g].fit >= nineInTen {
			return instant(max(at, from+int64(float64(g)*pourSlot*3600e3)))
		}
	}
	return time.Time{}
}

// warmer is what it would bring to hold the place at room warmth from now on; nil where that is not sooner
// or cannot be told.
func (t *teller) warmer(m *mold, of material.Material, f Fitness, place PlaceOutlook) *Warmer {
	warmC := min(max(pourRoomC, of.Pour.MinC), of.Pour.MaxC)
	if f.Verdict != NotFit || math.IsNaN(place.TempC) || place.TempC > warmC-1 {
		return nil
	}
	if !f.onlyFor(func(r Reason) bool { return passes(r) && r.Code != ReasonWarm && r.Code != ReasonWarmAhead }) {
		return nil
	}
	course, ok := t.warmed(m, warmC)
	if !ok {
		return nil
	}
	hours := 0.0
	for _, st := range m.steps {
		if st.coat == nil || st.end != 0 || st.coat.crossed[late] != 0 {
			continue
		}
		h, ok := dries(st.coat.coat[late], st.coat.done[late], course)
		if !ok {
			return nil
		}
		hours = max(hours, h)
	}
	h, ok := free(course, place.DewPointC)
	if !ok {
		return nil
	}
	w := &Warmer{TempC: warmC, From: instant(t.now + int64(max(hours, h)*3600e3))}
	if !f.From.IsZero() && !w.From.Before(f.From.Add(-15*time.Minute)) {
		return nil
	}
	return w
}

// warmed is the air at the mold an hour apart when the place is held at a temperature from now on. The
// pattern follows as its material and thickness let it; ok is false where it is measured and neither is told.
func (t *teller) warmed(m *mold, warmC float64) (course []dry.Air, ok bool) {
	sky := t.sky(m)
	if sky.air == nil {
		return nil, false
	}
	course = make([]dry.Air, coatHorizon+1)
	for k := range course {
		course[k] = dry.Air{AirC: warmC, SurfaceC: math.NaN(), Humidity: sky.air.hum(warmC)}
	}
	if m.surf == nil || !m.surf.fresh(t.now) {
		return course, true
	}
	l, _ := m.surf.track.last()
	layers, rubber := m.begin.Build.layers()
	if rubber == 0 {
		return nil, false
	}
	body, err := heat.NewBody(heat.Build{Layers: layers[:1], RightH: stillAirH})
	if err != nil {
		return nil, false
	}
	state, err := heat.NewState(body, []float64{l.temp})
	for k := range course {
		if err != nil {
			return nil, false
		}
		course[k].SurfaceC = state.TempC(body.Cells() - 1)
		err = state.Leap(warmC, 3600)
	}
	return course, true
}

// free returns after how many hours of a course the pattern is far enough above a dew point; ok is false
// where it never is. A pattern that is not measured is not judged.
func free(course []dry.Air, dewC float64) (hours float64, ok bool) {
	if math.IsNaN(dewC) || math.IsNaN(course[0].SurfaceC) {
		return 0, true
	}
	for k, a := range course {
		over := a.SurfaceC - dewC - dewMarginK
		switch {
		case over < 0:
		case k == 0:
			return 0, true
		default:
			was := course[k-1].SurfaceC - dewC - dewMarginK
			return float64(k-1) + was/(was-over), true
		}
	}
	return 0, false
}
