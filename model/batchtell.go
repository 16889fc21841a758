package model

import (
	"fmt"
	"math"
	"slices"
	"time"

	"pourward/model/doubt"
	"pourward/model/material"
	"pourward/model/mix"
)

// batchReasons is what speaks against the batch of a mold not yet poured: the one mixed, or before that the
// one to be mixed.
func (t *teller) batchReasons(m *mold) []Reason {
	of, err := t.shop.setup.Shelf.Find(m.rubber(t.now))
	if err != nil {
		return nil
	}
	if st := m.mixedStep(t.now); st != nil {
		return t.shop.weighedReasons(st)
	}
	var out []Reason
	if from := t.lastFrom(); from != "" {
		out = append(out, t.shop.coldParts(of, []string{from}, t.now)...)
	}
	if want, ok := plannedBatch(of, m.begin.Design, t.shop.setup.Scale); ok {
		out = append(out, coarseReasons(WeighOut(of, want))...)
	}
	return append(out, oldLots(of, instant(t.now))...)
}

// mixedStep is the open batch in the cup; nil where there is none.
func (m *mold) mixedStep(now int64) *step {
	for _, st := range slices.Backward(m.steps) {
		if st.kind == WorkingLife && (st.end == 0 || st.end > now) {
			return st
		}
	}
	return nil
}

// lastFrom is where parts last stood, by any mold's marks up to now; empty where nobody told.
func (t *teller) lastFrom() string {
	var last Mark
	for _, m := range t.shop.molds {
		for _, k := range m.marks {
			newer := k.At.After(last.At) || k.At.Equal(last.At) && k.ID > last.ID
			if k.Batch.From != "" && k.At.UnixMilli() <= t.now && newer {
				last = k
			}
		}
	}
	return last.Batch.From
}

// plannedBatch is what a mold's design asks to mix; ok is false where it does not say.
func plannedBatch(of material.Material, d Design, scale mix.Scale) (want BatchWant, ok bool) {
	ml, _, err := d.BatchML()
	if err != nil || scale == (mix.Scale{}) || len(of.Mixing.Parts) == 0 {
		return want, false
	}
	return BatchWant{MilliLiters: ml, Scale: scale}, true
}

// weighedReasons is what speaks against the batch of a step as it was marked.
func (s *Shop) weighedReasons(st *step) []Reason {
	b, at := st.mixing.Batch, st.mixing.At
	out := s.coldParts(st.of, b.places(), at.UnixMilli())
	if off, beyond, ok := Off(st.of, b); ok && beyond {
		out = append(out, Reason{Code: ReasonRatio, Caution: true, Text: fmt.Sprintf(
			"The parts were weighed %.2g %% off their ratio, more than the product tolerates: mix anew if you can, and touch the cup before the mold.", 100*off)})
	} else if scale := s.setup.Scale; ok && scale != (mix.Scale{}) {
		grams := 0.0
		for _, p := range b.Parts {
			grams += p.Grams
		}
		out = append(out, coarseReasons(WeighOut(st.of, BatchWant{Grams: grams, Scale: scale}))...)
	}
	return append(out, oldLot(st.of, b.Lot, at)...)
}

// coarseReasons is what the scale cannot hold.
func coarseReasons(w ToWeigh, err error) []Reason {
	switch {
	case err == nil && w.Coarse != nil:
		return []Reason{{Code: ReasonCoarse, Caution: true, Text: "A batch this small is too little for the scale: " + w.Coarse.Error() + "."}}
	case err != nil:
		return []Reason{{Code: ReasonCoarse, Caution: true, Text: "The scale cannot weigh this batch: " + err.Error() + "."}}
	}
	return nil
}

// coldParts tells of parts colder than the material may be poured, or than it is to be kept, at an instant.
func (s *Shop) coldParts(of material.Material, places []string, at int64) []Reason {
	for _, name := range places {
		p := s.places[name]
		if p == nil {
			continue
		}
		x, ok := p.track.upTo(at)
		switch {
		case !ok || at-x.at > p.track.gap:
		case x.temp < of.Pour.MinC:
			return []Reason{{Code: ReasonPartsCold, Caution: true,
				Text: "The parts stand too cold at " + name + " to pour: they mix badly, and the cure drags. Warm them first, closed, as their data sheet allows."}}
		case of.Storage.Temp != (material.Window{}) && x.temp < of.Storage.Temp.MinC:
			return []Reason{{Code: ReasonPartsCold, Caution: true, Text: "The parts stand colder at " + name + " than they are to be kept: look whether they have thickened or parted."}}
		}
	}
	return nil
}

// oldLots tells where every container at hand is past its time.
func oldLots(of material.Material, at time.Time) []Reason {
	for _, l := range of.Lots {
		if until, ok := of.UseBy(l); !ok || at.Before(until) {
			return nil
		}
	}
	if len(of.Lots) == 0 {
		return nil
	}
	return []Reason{{Code: ReasonLotOld, Caution: true, Text: "Every container of this rubber at hand is past its use-by: try a cup of it before you risk the pattern."}}
}

// oldLot tells of a lot that was past its time when it was mixed. A lot that is not in the file is taken at
// the maker's word: the file need not list any.
func oldLot(of material.Material, number string, at time.Time) []Reason {
	for _, l := range of.Lots {
		if until, ok := of.UseBy(l); l.Number == number && ok && !at.Before(until) {
			return []Reason{{Code: ReasonLotOld, Caution: true, Text: "Lot " + number + " was past its use-by when it was mixed: an old part cures late or never, so touch the cup before the mold."}}
		}
	}
	return nil
}

// lotRemark says that nothing is known of a lot, or nothing.
func lotRemark(of material.Material, number string) []string {
	if number == "" || len(of.Lots) == 0 || slices.ContainsFunc(of.Lots, func(l material.Lot) bool { return l.Number == number }) {
		return nil
	}
	return []string{"lot " + number + " is not in the file of materials, so its age is not known"}
}

// batchCautions are the reasons against a batch, for the step that waits for it.
func (t *teller) batchCautions(st *step) []string {
	if st.cure == nil || !st.mixing.Batch.Told() {
		return nil
	}
	var out []string
	for _, r := range t.shop.weighedReasons(st) {
		out = append(out, r.Text)
	}
	return out
}

// priors are the rates a judgement begins with: those of the shop, but a batch weighed off its ratio, or of an
// old lot, is likelier to be bad. Nil = the built-in ones.
func (s *Shop) priors(st *step) *doubt.Priors {
	_, beyond, _ := Off(st.of, st.mixing.Batch)
	old := len(oldLot(st.of, st.mixing.Batch.Lot, st.mixing.At)) > 0
	if !beyond && !old {
		return s.setup.Rates
	}
	p := doubt.DefaultPriors()
	if s.setup.Rates != nil {
		p = *s.setup.Rates
	}
	p = p.Weighed(beyond, old)
	return &p
}

// cupTouch says when the leftover in the cup, the control of a poured mold, is first worth a touch: by then
// nine in ten like it are firm, so that a tacky one tells something. The age is that of the air alone: a
// thin leftover does not lag.
func (t *teller) cupTouch(m *mold, o *MoldOutlook) {
	st := m.curing()
	if !o.Open() || st == nil || st.end != 0 && st.end <= t.now {
		return
	}
	if c, ok := m.lastCheck(st.mark.At.UnixMilli(), Cup); ok && c.At.UnixMilli() <= t.now {
		return
	}
	f := st.cure
	if !f.event.Known() {
		return
	}
	o.Cup = "Touch the cup's leftover: it is the control. By then nine in ten like it are firm; tacky while it should be firm means the mix, firm while the mold is tacky means the surface."
	a, known := t.felt(m)
	need := f.need(late, f.lnSD(f.likely)) - f.likely.Age
	switch {
	case t.broken(st.mark.At.UnixMilli(), 0):
	case need <= 0:
		o.CupAt = instant(t.now)
	case known && a.paths != nil && t.silent(m) == "" && !f.tooFar():
		if hours := a.meanFinish(f.law, need); !math.IsInf(hours, 1) {
			o.CupAt = instant(a.from + int64(hours*3600e3))
		}
	}
}
