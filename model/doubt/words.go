package doubt

import (
	"fmt"
	"math"
	"strings"
)

// Words is a judgement put to the maker, without clock times.
type Words struct {
	Said     string   // what was found and what it means
	Do       []string // what to do, in order
	Cautions []string // of those steps
}

// Words puts the judgement to the maker.
func (j Judgement) Words() Words {
	w := Words{Said: join(j.found(), j.meaning()), Do: j.steps()}
	switch j.Verdict {
	case Inhibited:
		w.Cautions = Routes()[0].Cautions
	case BadBatch:
		w.Cautions = []string{CautionCleaning}
	}
	if j.Unvouched {
		w.Do = append(w.Do, "The patch that passed was warmer than this: it does not vouch here. Make a new one.")
	}
	return w
}

func join(found, meaning string) string {
	if found == "" {
		return meaning + "."
	}
	return found + ": " + meaning + "."
}

// found tells the last finding of every thing. Things found alike share a phrase when both are before
// their time.
func (j Judgement) found() string {
	if j.bothEarly() {
		return fmt.Sprintf("%s tacky, %s before the earliest time", j.names(), map[bool]string{true: "both", false: "all"}[j.touched() == 2])
	}
	var parts []string
	for of := range Thing(things) {
		if s := j.Seen[of]; s.Touched {
			parts = append(parts, of.String()+" "+s.words())
		}
	}
	return strings.Join(parts, ", ")
}

func (j Judgement) touched() (n int) {
	for _, s := range j.Seen {
		if s.Touched {
			n++
		}
	}
	return n
}

func (j Judgement) bothEarly() bool {
	for _, s := range j.Seen {
		if s.Touched && (s.Found != Tacky || s.Due != BeforeTime || s.Spoiled) {
			return false
		}
	}
	return j.touched() > 1
}

func (j Judgement) names() string {
	var names []string
	for of := range Thing(things) {
		if j.Seen[of].Touched {
			names = append(names, of.String())
		}
	}
	if last := len(names) - 1; last > 0 {
		return strings.Join(names[:last], ", ") + " and " + names[last]
	}
	return strings.Join(names, "")
}

// words tells a finding and, where it is not firm, at how many times its time.
func (s Seen) words() string {
	word := s.Found.String()
	if s.Spoiled && s.Found != Spoiled {
		word += " with its surface spoiled"
	}
	if !s.Found.soft() {
		return word
	}
	if s.Due == BeforeTime {
		return word + " before its earliest time"
	}
	return fmt.Sprintf("%s at %.1f times its time", word, math.Exp(s.LnAge))
}

// meaning tells the verdict.
func (j Judgement) meaning() string {
	switch j.Verdict {
	case Wait:
		return "wait"
	case Inhibited:
		return "the surface inhibits"
	case BadBatch:
		return "the batch is bad"
	case Fine:
		return "nothing speaks against it"
	}
	return j.uncertainty()
}

// uncertainty tells why nothing can be said yet.
func (j Judgement) uncertainty() string {
	switch {
	case j.failedPatch && !j.Contradicts && j.P.Batch() < 0.5:
		return "an earlier patch failed on this surface, and no firm edge clears it"
	case j.touched() == 0:
		return "nothing was touched yet"
	case j.Contradicts:
		return "these findings contradict one another; touch again and correct what was entered wrong"
	case j.P.Wrong() >= Condemned && !j.Seen[Cup].Touched:
		return "something is wrong, the surface or the batch; only the cup can tell which"
	case j.P.Wrong() >= Condemned:
		return "something is wrong, the surface or the batch; touch again to tell which"
	case j.P.Likeliest() == OnlyCup:
		return "the cup's leftover may be off alone, by scrapings or by its wall; go by what was poured"
	case j.Seen[Cup].Touched && !j.Seen[Patch].Touched && !j.Seen[Mold].Touched && j.Seen[Cup].Found == Firm:
		return "the batch cures; what was poured was not touched yet"
	case j.P.Surface() > j.P.Batch():
		return "cannot say yet; the surface is in doubt"
	}
	return "cannot say yet; the batch is in doubt"
}

// steps tells what to do.
func (j Judgement) steps() []string {
	switch j.Verdict {
	case Wait:
		return []string{"Leave it, keep it warm as its sheet allows, and touch again later."}
	case Inhibited:
		return []string{
			"Clean off, seal, release, patch again.",
			"If a patch fails again: another material, or the two-step route by a pattern of resin.",
			NoListIsComplete,
		}
	case BadBatch:
		return []string{
			"Do not pour more of it. It does not come right by waiting, and heat does not mend it.",
			"Look at: " + strings.Join(j.causes, "; ") + ".",
			"Clean off, and try a weighed small cup before the next batch; whether the surface inhibits is not known yet.",
		}
	case Fine:
		return []string{"Demold when its time says so; a firm edge does not show the face."}
	}
	return []string{"Do not scrape off, do not pour on it, do not demold; touch again."}
}

// Words puts the next touch to the maker; the caller adds the clock time.
func (n Next) Words() string {
	return fmt.Sprintf("Touch the %v at %.1f times its time: if tacky, %s; if firm, %s.",
		n.Of, math.Exp(n.LnAge), n.Tacky.Verdict.would(), n.Firm.Verdict.would())
}

// would tells what a verdict would be.
func (v Verdict) would() string {
	switch v {
	case Wait:
		return "wait on"
	case Inhibited:
		return "the surface inhibits"
	case BadBatch:
		return "the batch is bad"
	case Fine:
		return "nothing is wrong"
	}
	return "it stays open"
}
