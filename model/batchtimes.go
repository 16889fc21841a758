package model

import (
	"fmt"
	"math"
	"slices"
	"time"

	"pourward/model/cure/fit"
	"pourward/model/material"
)

// startBatch looks up the batch of a cure or working life.
func (s *Shop) startBatch(m *mold, st *step) {
	st.mixing = mixingOf(m.marks, st)
	st.parts = s.partsOf(st.of, st.mixing)
}

// walkOf is the way of a cure or working life: a cup stands in the air, and not on the pattern.
func (m *mold) walkOf(st *step) pieces {
	if st.kind == WorkingLife {
		return m.cupWalk(st.mark)
	}
	return m.walk(st.mark)
}

// cupWalk is the way of a cup from the mark by which it was mixed.
func (m *mold) cupWalk(from Mark) pieces {
	w := pieces{legs: airLegs(m.legs), from: from.At.UnixMilli(), reach: m.reach()}
	w.start()
	return w
}

// slowed is an event of a plain batch as the additives of this one make it.
func (st *step) slowed(e material.Event) material.Event {
	e.Ref = time.Duration(math.Round(float64(e.Ref) * st.mixing.Batch.TimeFactor()))
	return e
}

// plainBatch is the history that a batch without additives would have needed for the same: times go with
// the factor, whatever the temperature.
func plainBatch(h fit.History, factor float64) fit.History {
	out := slices.Clone(h)
	for i := range out {
		out[i].Seconds /= factor
	}
	return out
}

// batchSources says where what a batch does to the times is from.
func (st *step) batchSources() []string {
	var out []string
	factor, several := st.mixing.Batch.TimeFactor(), 0
	for _, a := range st.mixing.Batch.Additives {
		if a.Factor > 0 {
			several++
		}
	}
	switch {
	case several == 1:
		out = append(out, fmt.Sprintf("additive: times %.3g-fold, as its maker gives it", factor))
	case several > 1:
		out = append(out, fmt.Sprintf("additives: times %.3g-fold together; each as its maker gives it, that they multiply is an assumption", factor))
	}
	if st.cure != nil && st.cure.cup.ok() {
		out = append(out, "temperature in the cup: heat balance of the parts, then one lump in still air, as tall as it is wide; an assumption")
	}
	return out
}

// batchRemarks are what a maker should know of a batch: how warm it began, and of its lot.
func (st *step) batchRemarks() []string {
	return append(st.partsRemarks(), lotRemark(st.of, st.mixing.Batch.Lot)...)
}

func (st *step) partsRemarks() []string {
	f := st.cure
	switch {
	case st.parts == nil:
		return nil
	case !st.parts.known():
		return []string{"nothing was measured where the parts stood when they met, so they are taken to be as warm as the air"}
	case st.kind == WorkingLife && f.cup.apartK >= noticedK:
		return []string{"the parts were warmer than the air: that shortens the working life"}
	case st.kind == WorkingLife && f.cup.apartK <= -noticedK:
		return []string{"the parts were colder than the air: it may last longer, but the warning does not count on that"}
	case st.kind == DemoldTime && !f.mold.ok():
		return []string{"how warm the parts were is not counted, since the build of the mold is not told"}
	}
	return nil
}

// noticedK is the difference between parts and air from which on it is told, K; an assumption.
const noticedK = 2.0
