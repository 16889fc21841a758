package model

import "pourward/model/doubt"

// touches is what was found of a patch and its cup up to now.
type touches struct {
	patch, cup         Finding // newest; empty = not touched
	patchAt, cupFirmAt int64   // of the newest touch of the patch; since when the cup is firm, 0 = it is not
	newest             int64   // of the newest touch of either
	spoiled            bool    // the patch was seen spoiled
	patchLate, cupLate bool    // found soft past the time by which nine in ten are firm
	behindCup          bool    // the patch was soft when its cup was firm
	judged             bool    // the judgement holds: the material can be inhibited
	judgement          doubt.Judgement
}

func (t *teller) touches(m *mold, st *step) touches {
	var x touches
	late := st.cure.crossed[late]
	for _, c := range m.marks[1:] {
		at := c.At.UnixMilli()
		if at > t.now {
			break
		}
		past := c.Found.Soft() && late != 0 && at >= late
		x.newest = at
		if c.Of == Cup {
			x.cup, x.cupLate = c.Found, x.cupLate || past
			x.cupFirmAt = firmSince(x.cupFirmAt, c)
			continue
		}
		x.patch, x.patchAt, x.patchLate = c.Found, at, x.patchLate || past
		x.spoiled = x.spoiled || c.Found == Spoiled
	}
	for _, c := range m.marks[1:] {
		at := c.At.UnixMilli()
		x.behindCup = x.behindCup || c.Of == Patch && c.Found.Soft() && at <= t.now && x.cupFirmAt != 0 && at >= x.cupFirmAt
	}
	x.judgement, x.judged = t.judgePatch(m, st)
	return x
}

// firmSince is since when a thing is firm, after one more touch of it.
func firmSince(since int64, c Mark) int64 {
	switch {
	case c.Found != Firm:
		return 0
	case since == 0:
		return c.At.UnixMilli()
	}
	return since
}

// judgePatch weighs what was touched of a patch; ok is false where there is nothing to weigh, or nothing to
// weigh it by.
func (t *teller) judgePatch(m *mold, st *step) (j doubt.Judgement, ok bool) {
	if !st.of.Inhibitable || !st.cure.event.Known() {
		return j, false
	}
	c, ok := t.doubtCase(m, st)
	if !ok {
		return j, false
	}
	j, err := c.Judge()
	return j, err == nil
}

// verdict is what the weighing came to.
func (x touches) verdict() doubt.Verdict {
	if !x.judged {
		return doubt.CannotSay
	}
	return x.judgement.Verdict
}

// state is where the patch stands, and why in words; nothing decided leaves it to time.
//
// The weighing has the first word, the rules of the bench the second: what is spoiled, tacky while its cup is
// firm, or tacky past its time with no tacky cup beside it has failed, also where the weighing is not sure yet.
// A touch that finds it firm passes it, unless something was soft past its time or behind its cup and the
// weighing does not clear that.
func (x touches) state(byTime PatchState) (PatchState, string) {
	soft := x.patch.Soft()
	switch v := x.verdict(); {
	case x.newest == 0:
		return byTime, ""
	case v == doubt.BadBatch:
		return PatchBadBatch, x.judgement.Words().Said
	case x.spoiled:
		return PatchFailed, "its face was found spoiled where it met the surface: the surface inhibits"
	case v == doubt.Inhibited:
		return PatchFailed, x.judgement.Words().Said
	case x.judged && x.judgement.Contradicts:
		return PatchUnsure, x.judgement.Words().Said
	case !x.judged && soft && x.cupLate:
		return PatchBadBatch, "patch and cup were tacky past their time: the batch is bad"
	case x.patch == Firm && (v == doubt.Fine || !x.patchLate && !x.cupLate && !x.behindCup):
		return PatchPassed, "it was found firm: this surface lets this material cure, as cold as it was"
	case x.patch == Firm:
		return PatchUnsure, "it was found firm, but something was tacky past its time before: make a new one"
	case soft && x.cup == Firm && x.cupFirmAt <= x.patchAt:
		return PatchFailed, "it was tacky while its cup was firm: the surface inhibits"
	case x.cupLate:
		return PatchUnsure, "its cup was tacky past its time: the batch is in doubt, and it says nothing of the surface"
	case x.patchLate:
		return PatchFailed, "it was tacky past the time by which nine in ten are firm, and its cup was not: taken for the surface until its cup is found tacky too"
	}
	return byTime, ""
}

// advice is what to do about a state, and the cautions of that.
func (x touches) advice(s PatchState) doubt.Words {
	switch {
	case s == PatchFailed:
		return doubt.Judgement{Verdict: doubt.Inhibited}.Words()
	case s == PatchBadBatch && x.judged:
		return x.judgement.Words()
	case s == PatchBadBatch:
		return doubt.Words{Do: []string{"Do not pour more of it. Try a weighed small cup before the next batch."}}
	case s == PatchUnsure && x.patch != Firm && x.patch != "":
		return doubt.Words{Do: []string{"Touch the patch and its cup again, and enter both."}}
	case s == PatchUnsure:
		return doubt.Words{Do: []string{"Set a new patch, with its own cup."}}
	case s == PatchDue:
		return doubt.Words{Do: []string{"Touch the patch and its cup, and enter both."}}
	}
	return doubt.Words{}
}
