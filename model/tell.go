package model

import (
	"fmt"
	"math"
	"time"

	"pourward/model/dry"
)

// teller puts the state of the shop into words at one instant.
type teller struct {
	shop  *Shop
	now   int64
	ahead map[*track]*ahead // by track, where anything is known
}

// step tells of one step.
func (t *teller) step(m *mold, st *step) Step {
	out := Step{
		Mark: st.mark.ID, Kind: st.kind, Name: st.name, Title: st.title, Material: st.of.Name,
		Begun: st.mark.At, Ended: instant(st.end), Cautions: st.of.Cautions, Sources: sources(st),
	}
	if st.coat != nil {
		out.Projection = t.coat(m, st)
	} else {
		out.Projection = t.cure(m, st)
	}
	if st.end != 0 && st.end <= t.now {
		out.Standing, out.NotBefore = Closed, time.Time{}
		if out.Band.Latest.After(instant(st.end)) { // never reached, so never known
			out.Band = Band{}
		}
		if st.coat != nil && st.coat.crossed[late] == 0 {
			out.Why = append(out.Why, "covered before it was dry for certain")
		}
	}
	return out
}

// sources lists where the numbers of a step are from.
func sources(st *step) []string {
	if st.coat != nil {
		return []string{"dry time " + st.of.Coat.Source.String()}
	}
	e := st.cure.event
	return []string{"reference time " + e.Source.String(), "activation energy " + e.EaFrom.String(), "lowest temperatures " + st.of.DoubtFrom.String()}
}

// felt returns what is assumed from now on of what the mold feels: its surface if that speaks, else
// the air. ok is false where nothing was ever measured.
func (t *teller) felt(m *mold) (a *ahead, ok bool) {
	if m.surf != nil && m.surf.probe.fresh(t.now) {
		if a := t.ahead[&m.surf.track]; a != nil {
			return a, true
		}
	}
	a = t.ahead[&m.air.track]
	return a, a != nil
}

// silent says why a mold's readings cannot be gone by, or nothing.
func (t *teller) silent(m *mold) string {
	switch p := m.air.probe; {
	case p == nil:
		return fmt.Sprintf("no probe sits at %s", m.air.name)
	case !p.heard:
		return fmt.Sprintf("probe %s has not said anything yet", p.Name)
	case !p.fresh(t.now):
		return fmt.Sprintf("probe %s is silent", p.Name)
	}
	return ""
}

// cure tells of a working life or a demold time.
func (t *teller) cure(m *mold, st *step) Projection {
	f := st.cure
	p := Projection{Share: share(f.likely.Age / f.event.Ref.Seconds()), RoomTime: f.event.Ref}
	if !f.event.Known() {
		p.Standing, p.Why = CannotSay, []string{"no reference time is known for this material"}
		return p
	}
	p.Why = gapWords(f.gap)
	if f.below > 0 {
		p.Why = append(p.Why, fmt.Sprintf("colder than the material's floor for %s: not counted", spanWords(f.below)))
	}
	a, ok := t.felt(m)
	if !ok {
		p.Standing, p.Why = CannotSay, append(p.Why, t.silent(m))
		return p
	}
	ends, told := f.project(a, max(a.from, f.walk.front))
	switch why := t.silent(m); {
	case why != "" && f.crossed[late] == 0:
		p.Why, told = append(p.Why, why), false
	case !told:
		p.Why = append(p.Why, "at this temperature the end is too far to tell, or never: warm the place")
		p.NotBefore = notBefore(ends[early], t.now)
	}
	if f.coldest < st.of.DoubtBelowC {
		p.Why = append(p.Why, fmt.Sprintf("some products of this class do not cure at all below about %.0f °C: go by the cup, not by the clock", st.of.DoubtBelowC))
	}
	if told {
		p.Band = band(ends)
	}
	if why := m.doubt(st); why != "" && st.kind == DemoldTime {
		p.Why = append([]string{why}, p.Why...)
	}
	p.Standing = t.cureStanding(m, st, ends, told)
	return p
}

// notBefore is a bound still ahead, or no bound.
func notBefore(at, now int64) time.Time {
	if at <= now {
		return time.Time{}
	}
	return instant(at)
}

// project tells when the places of the band are reached; ok is false when one of them is not within
// the horizon.
func (f *cureFold) project(a *ahead, from int64) (ends [quantiles]int64, ok bool) {
	rest := time.Hour // a first guess of what is left, to choose the mean to hold
	for range 2 {
		mean, _ := a.over(rest)
		if end, ok := finish(f.law, f.likely.Age, f.event.Ref.Seconds(), path{from: from, step: 1, temps: []float64{mean.temp}}, from); ok {
			rest = time.Duration(end-from) * time.Millisecond
		} else {
			rest = horizon
		}
	}
	mean, stray := a.over(rest)
	hold := path{from: from, step: 1, temps: []float64{mean.temp}}
	sd := f.lnSDAtEnd(mean.temp, stray)
	ok = true
	for place, age := range f.ages() {
		if f.crossed[place] != 0 {
			ends[place] = f.crossed[place]
			continue
		}
		end, done := finish(f.law, age, max(age, f.need(place, sd)), hold, from)
		if !done {
			ok = false
			continue
		}
		ends[place] = end
	}
	inOrder(&ends)
	return ends, ok
}

// lnSDAtEnd is the spread of ln(time) when the cure will have ended, if it goes on at tempC.
func (f *cureFold) lnSDAtEnd(tempC, strayK float64) float64 {
	acc, ref := f.likely, f.event.Ref.Seconds()
	rest := max(0, ref-acc.Age)
	if rate := f.law.Rate(tempC); rate > 0 && rest > 0 {
		f.law.Add(&acc, tempC, tempC, rest/rate)
	}
	return f.lnSD(acc, strayK*rest/ref)
}

// inOrder keeps the band from crossing itself where a place was passed under an older spread.
func inOrder(ends *[quantiles]int64) {
	for i := 1; i < quantiles; i++ {
		if ends[i] != 0 && ends[i] < ends[i-1] {
			ends[i] = ends[i-1]
		}
	}
}

func band(ends [quantiles]int64) Band {
	return Band{Earliest: instant(ends[early]), Likely: instant(ends[likely]), Latest: instant(ends[late])}
}

// cureStanding judges a cure or a working life. A finding at the bench outranks any projection.
func (t *teller) cureStanding(m *mold, st *step, ends [quantiles]int64, told bool) Standing {
	crossed := st.cure.crossed
	if st.kind == WorkingLife {
		return t.workStanding(crossed, ends, told)
	}
	switch {
	case m.doubt(st) != "":
		return Doubtful
	case crossed[late] != 0 && crossed[late] <= t.now:
		return Ready
	case !told:
		return CannotSay
	case ends[early] <= t.now:
		return Maybe
	}
	return Running
}

// workStanding is early to warn: one in ten is enough, and a silent probe does not hush it.
func (t *teller) workStanding(crossed, ends [quantiles]int64, told bool) Standing {
	switch {
	case crossed[late] != 0 && crossed[late] <= t.now:
		return Over
	case ends[early] != 0 && ends[early] <= t.now:
		return Ending
	case !told:
		return CannotSay
	}
	return Running
}

// doubt says what a check found that no projection may override, or nothing: tacky past the time by
// which nine in ten are firm, or a surface tacky while its own cup is firm.
func (m *mold) doubt(st *step) string {
	from := st.mark.At.UnixMilli()
	cup, cupSeen := m.lastCheck(from, Cup)
	late := st.cure.crossed[late]
	if c, ok := m.lastCheck(from, Mold, Cup); ok && c.Found == Tacky && late != 0 && c.At.UnixMilli() >= late {
		return fmt.Sprintf("the %s was found tacky past the time by which nine in ten are firm", c.Of)
	}
	s, ok := m.lastCheck(from, Patch, Mold)
	if ok && s.Found == Tacky && cupSeen && cup.Found == Firm && !cup.At.After(s.At) {
		return fmt.Sprintf("the %s was found tacky while its cup is firm: the surface inhibits", s.Of)
	}
	return ""
}

// coat tells of a coat or release agent.
func (t *teller) coat(m *mold, st *step) Projection {
	f := st.coat
	p := Projection{Share: f.coat[likely].Share(f.done[likely]), RoomTime: st.of.Coat.Ref, Why: gapWords(f.gap)}
	if f.held > 0 {
		p.Why = append(p.Why, fmt.Sprintf("the air held it up for %s: not counted as drying", spanWords(f.held)))
	}
	if f.crossed[late] != 0 {
		p.Band = band(f.crossed)
		p.Standing = Ready
		return p
	}
	p.Standing = CannotSay
	if why := t.silent(m); why != "" {
		p.Why = append(p.Why, why)
		return p
	}
	ends, why := t.projectCoat(m, f)
	if why != "" {
		p.Why = append(p.Why, why)
		return p
	}
	p.Band = band(ends)
	p.Standing = Running
	if ends[early] <= t.now {
		p.Standing = Maybe
	}
	return p
}

// projectCoat tells when a coat reaches its places of the band in air like that of late; why says
// what forbids it.
func (t *teller) projectCoat(m *mold, f *coatFold) (ends [quantiles]int64, why string) {
	air, rest := dry.Air{}, time.Hour
	for range 2 {
		air = t.held(m, rest)
		secs, ok := f.coat[likely].Remaining(f.done[likely], air)
		if !ok {
			return ends, f.coat[likely].Gates(air).Hold.String()
		}
		rest = seconds(secs)
	}
	from := f.walk.front
	for place := range f.coat {
		if f.crossed[place] != 0 {
			ends[place] = f.crossed[place]
			continue
		}
		secs, ok := f.coat[place].Remaining(f.done[place], air)
		if !ok {
			return ends, f.coat[place].Gates(air).Hold.String()
		}
		ends[place] = from + int64(math.Ceil(secs*1000))
	}
	inOrder(&ends)
	return ends, ""
}

// held is the air to hold for a coat that still takes rest.
func (t *teller) held(m *mold, rest time.Duration) dry.Air {
	a := dry.Air{AirC: math.NaN(), SurfaceC: math.NaN(), Humidity: math.NaN()}
	if ah := t.ahead[&m.air.track]; ah != nil {
		mean, _ := ah.over(rest)
		a.AirC, a.Humidity = mean.temp, mean.hum
	}
	if m.surf != nil && m.surf.probe.fresh(t.now) {
		if ah := t.ahead[&m.surf.track]; ah != nil {
			mean, _ := ah.over(rest)
			a.SurfaceC = mean.temp
		}
	}
	return a
}

// gapWords says how long readings were missing.
func gapWords(gap time.Duration) []string {
	if gap == 0 {
		return nil
	}
	return []string{fmt.Sprintf("no readings for %s of the time", spanWords(gap))}
}

// spanWords tells a duration to the minute.
func spanWords(d time.Duration) string {
	d = d.Round(time.Minute)
	h, m := int(d.Hours()), int(d.Minutes())%60
	switch {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}

func share(x float64) float64 { return min(1, max(0, x)) }

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
