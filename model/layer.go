package model

import (
	"fmt"
	"math"
	"slices"
)

// layersOn is how many layers have been brushed on.
func (m *mold) layersOn() int {
	n := 0
	for _, o := range m.marks {
		if o.Kind == LayerOn {
			n++
		}
	}
	return n
}

// dropLastWindow takes the window of the last layer out where it is known that no other follows it: what
// nobody waits for is not told.
func (m *mold) dropLastWindow() {
	all := m.begin.Design.Layers
	if all == 0 || m.layersOn() < all {
		return
	}
	for i, st := range slices.Backward(m.steps) {
		if st.kind == LayerWindow {
			if st.by != LayerOn {
				m.steps = slices.Delete(m.steps, i, i+1)
			}
			return
		}
	}
}

// buildWith is what a mold is made of once so many layers are on: where the thickness of one was told they
// lie on the pattern as one slab. 0 = it is poured.
func (m *mold) buildWith(layers int) Build {
	b := m.begin.Build
	if mm := m.begin.Design.LayerMM; b.Told() && layers > 0 && mm > 0 {
		b.RubberMM = min(mm*float64(layers), thickest)
	}
	return b
}

// mixedLayers reports whether a layer below the one a cure counts from is of another rubber.
func (m *mold) mixedLayers(cure *step) bool {
	return cure.layers > 1 && slices.ContainsFunc(m.steps, func(st *step) bool {
		return st.kind == DemoldTime && st.layers > 0 && st.layers < cure.layers && st.of.Name != cure.of.Name
	})
}

// ofAll counts a thing among all that are planned: "2 of 3", or "2" where that is not told or was exceeded.
func ofAll(n, all int) string {
	if n > all {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%d of %d", n, all)
}

// layer tells of a layer window: when it opens, and when it closes.
func (t *teller) layer(m *mold, st *step) (p Projection, closes Band) {
	opens, shuts := st.cure, st.shut
	p = Projection{Standing: CannotSay, Share: opens.share(), RoomTime: opens.event.Ref, Why: opens.remarks(st.of)}
	if !opens.event.Known() && !shuts.event.Known() {
		p.Why = []string{"no layer window is known for this material: follow its data sheet"}
		return p, closes
	}
	var open, shut reckoned
	for _, e := range []struct {
		fold *cureFold
		to   *reckoned
		none string
	}{
		{opens, &open, "no earliest time of the next layer is known for this material: follow its data sheet"},
		{shuts, &shut, "no latest time of the next layer is known for this material: follow its data sheet"},
	} {
		if !e.fold.event.Known() {
			p.Why = append(p.Why, e.none)
			continue
		}
		r, ok := t.reckon(m, st, e.fold)
		for _, why := range r.why {
			if !slices.Contains(p.Why, why) {
				p.Why = append(p.Why, why)
			}
		}
		if !ok {
			return p, closes
		}
		*e.to = r
	}
	if open.told {
		p.Band = band(open.ends)
	}
	if shut.told {
		closes = band(shut.ends)
	}
	p.NotBefore = open.notBefore
	p.Standing = t.layerStanding(st, open, shut)
	return p, closes
}

// layerStanding is conservative both ways: open when nine in ten say so, closing when one in ten says the
// latest time has come, which a silent probe does not hush.
func (t *teller) layerStanding(st *step, open, shut reckoned) Standing {
	reached := func(at int64) bool { return at != 0 && at <= t.now }
	switch {
	case open.broken || shut.broken:
		return CannotSay
	case reached(st.shut.crossed[late]) && st.shut.event.Known():
		return Over
	case reached(shut.ends[early]):
		return Ending
	case reached(st.cure.crossed[late]) && st.cure.event.Known() && !st.cure.tooFar():
		return Ready
	case !open.told:
		return CannotSay
	case reached(open.ends[early]):
		return Maybe
	}
	return Running
}

// pastLayer tells of a layer that the maker went on from: whether the next one went on inside its window.
func (st *step) pastLayer() Projection {
	p := Projection{Standing: Closed, Share: st.cure.share(), RoomTime: st.cure.event.Ref, Why: st.cure.remarks(st.of)}
	if st.cure.event.Known() && st.cure.crossed[late] != 0 {
		p.Band = band(st.cure.crossed)
	}
	if st.by == LayerOn {
		p.Why = append(p.Why, st.wentOn())
	}
	return p
}

// wentOn says how the next layer met the window of a step.
func (st *step) wentOn() string {
	opened, shut := st.cure.crossed, st.shut.crossed
	if !st.cure.event.Known() {
		opened = [quantiles]int64{}
	}
	if !st.shut.event.Known() {
		shut = [quantiles]int64{}
	}
	switch {
	case !st.cure.event.Known() && !st.shut.event.Known() || st.cure.tooFar():
		return "whether the next layer went on inside the window cannot be told"
	case shut[late] != 0:
		return "the next layer went on after the window was over: the bond is doubtful, test it where it does not show"
	case shut[early] != 0:
		return "the next layer went on late in the window: one in ten like it no longer bonds, test it where it does not show"
	case st.cure.event.Known() && opened[early] == 0:
		return "the next layer went on before the window was open: the layer below may have been dragged, look at the thin spots"
	case st.cure.event.Known() && opened[late] == 0:
		return "the next layer went on when the window may have been open, not for certain"
	case !st.cure.event.Known():
		return "the next layer went on before its latest time"
	}
	return "the next layer went on inside the window"
}

// layerSources lists where the numbers of a layer window are from.
func layerSources(st *step) []string {
	var out []string
	for _, e := range []struct {
		what string
		fold *cureFold
	}{{"earliest time of the next layer", st.cure}, {"latest time of the next layer", st.shut}} {
		if of := e.fold.event; of.Known() {
			out = append(out, e.what+": "+of.Source.String(), "its activation energy: "+of.EaFrom.String())
		}
	}
	if st.cure.mold.ok() {
		out = append(out, fmt.Sprintf("heat: assumption: what is on, %s mm of rubber, is one slab as warm as the air when this layer went on", trimmed(st.build.RubberMM)))
	}
	return append(out, "lowest temperatures: "+st.of.DoubtFrom.String())
}

// trimmed writes a length to a tenth, without a needless zero.
func trimmed(mm float64) string { return fmt.Sprint(math.Round(mm*10) / 10) }
