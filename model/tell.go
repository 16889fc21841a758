package model

import (
	"fmt"
	"time"
)

// teller puts the state of the shop into words at one instant.
type teller struct {
	shop   *Shop
	now    int64
	ahead  map[*place]*ahead // made when first asked for
	doubt  map[*mold]*Doubt  // likewise
	builds map[Build]int     // molds that cure now, by build

	prospects map[prospectKey]prospect // made when first asked for
	patches   []PatchOutlook           // nil until asked for
	trusts    map[*mold]trust          // made when first asked for
}

// judged is the judgement of what was touched of a mold; nil where there is none.
func (t *teller) judged(m *mold) *Doubt {
	d, ok := t.doubt[m]
	if !ok {
		d = t.judge(m)
		t.doubt[m] = d
	}
	return d
}

// sight is how the air of a place may go from now on; nil where nothing was ever measured.
func (t *teller) sight(p *place) *ahead {
	a, ok := t.ahead[p]
	if !ok {
		a = lookAhead(p, t.shop.newest-keep.Milliseconds())
		t.ahead[p] = a
	}
	return a
}

// step tells of one step.
func (t *teller) step(m *mold, st *step) Step {
	out := Step{
		Mark: st.mark.ID, Kind: st.kind, Name: st.name, Title: st.title, Material: st.of.Name,
		Begun: st.mark.At, Ended: instant(st.end), Cautions: append(t.batchCautions(st), st.of.Cautions...), Sources: sources(st),
	}
	switch {
	case st.end != 0 && st.end <= t.now:
		out.Projection = st.past()
	case st.coat != nil:
		out.Projection, out.Recoat = t.coat(m, st), t.recoat(m, st.coat)
	case st.kind == LayerWindow:
		out.Projection, out.Closes = t.layer(m, st)
	default:
		out.Projection = t.cure(m, st)
	}
	return out
}

// past tells of a step that the maker has gone on from: what it came to, if it came to it.
func (st *step) past() Projection {
	if st.kind == LayerWindow {
		return st.pastLayer()
	}
	p := Projection{Standing: Closed}
	var crossed [quantiles]int64
	if st.coat != nil {
		crossed = st.coat.crossed
		p.Share, p.RoomTime, p.Why = st.coat.share(), st.of.Coat.Ref, st.coat.remarks()
		if crossed[late] == 0 {
			p.Why = append(p.Why, "covered before it was dry for certain")
		}
	} else {
		crossed = st.cure.crossed
		p.Share, p.RoomTime, p.Why = st.cure.share(), st.cure.event.Ref, append(st.cure.remarks(st.of), st.batchRemarks()...)
	}
	if crossed[late] != 0 {
		p.Band = band(crossed)
	}
	return p
}

// sources lists where the numbers of a step are from.
func sources(st *step) []string {
	if st.coat != nil {
		return []string{"dry time: " + st.of.Coat.Source.String()}
	}
	if st.kind == LayerWindow {
		return layerSources(st)
	}
	e := st.cure.event
	return append([]string{"reference time: " + e.Source.String(), "activation energy: " + e.EaFrom.String(), "lowest temperatures: " + st.of.DoubtFrom.String()}, st.batchSources()...)
}

// felt returns what is assumed from now on of what the mold feels: its surface if that speaks, else
// the air. ok is false where nothing was ever measured.
func (t *teller) felt(m *mold) (a *ahead, ok bool) {
	if m.surf != nil && m.surf.fresh(t.now) {
		if a := t.sight(m.surf); a != nil {
			return a, true
		}
	}
	a = t.sight(m.air)
	return a, a != nil
}

// silent says why a mold's readings cannot be gone by, or nothing.
func (t *teller) silent(m *mold) string {
	switch p := m.air.believed(t.now); {
	case p == nil:
		return fmt.Sprintf("no probe sits at %s", m.air.name)
	case !p.heard:
		return fmt.Sprintf("probe %s has not said anything yet", p.Name)
	case !p.fresh(t.now):
		return fmt.Sprintf("probe %s is silent", p.Name)
	}
	return ""
}

// gapWords says how long readings were missing.
func gapWords(gap time.Duration) []string {
	if gap == 0 {
		return nil
	}
	return []string{fmt.Sprintf("no readings for %s of the time", SpanText(gap))}
}

// SpanText writes a span as a person would say it, to the minute: "40 min", "4 h", "16 h 27 min".
func SpanText(d time.Duration) string {
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
