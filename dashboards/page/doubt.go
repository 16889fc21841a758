package page

import (
	"fmt"
	"math"
	"strings"
	"time"

	"pourward/model"
)

// Verdicts that the page treats apart, as [model.Doubt] tells them.
const (
	verdictWait     = "wait"
	verdictInhibits = "surface inhibits"
	verdictBatchBad = "batch bad"
	verdictFine     = "fine"
)

// doubtView is the answer to "late, inhibited, or a bad batch?" in words.
type doubtView struct {
	*model.Doubt
	Word, Class string // of the stamp
	Pressing    bool   // to be told on the first page too
	Found       string // what the verdict rests on
	NextWhen    string // of the next touch; empty where no time is told
	Strip       []segment
	Odds        []odd  // worth a line each
	Hardly      string // the others, which share one
}

func (v voice) doubt(d *model.Doubt) *doubtView {
	if d == nil {
		return nil
	}
	out := &doubtView{Doubt: d, Pressing: d.Verdict != verdictWait && d.Verdict != verdictFine}
	out.Word, out.Class = stampOf(d.Verdict)
	out.Found = found(d.Says, out.Word)
	if d.NextAt.After(v.now) {
		at := ceil(d.NextAt, touchGrid)
		out.NextWhen = v.at(at) + ", " + v.until(at)
	}
	all := oddsOf(d)
	out.Strip = strip(all)
	var hardly []string
	for _, o := range all {
		if o.Words == exceptional {
			hardly = append(hardly, o.Name)
			continue
		}
		out.Odds = append(out.Odds, o)
	}
	if hardly != nil {
		out.Hardly = sentence(exceptional+":", strings.Join(hardly, ", "))
	}
	return out
}

// touchGrid is how finely the next touch is told: later rather than too early to tell anything.
const touchGrid = 5 * time.Minute

func stampOf(verdict string) (word, class string) {
	switch verdict {
	case verdictWait:
		return "wait", "wait"
	case verdictInhibits:
		return "the surface inhibits", "notfit"
	case verdictBatchBad:
		return "the batch is bad", "notfit"
	case verdictFine:
		return "fine so far", "fit"
	}
	return "cannot say yet", "cannot"
}

// found is what was found, as a sentence. What the stamp says already is left out of it.
func found(says, word string) string {
	says = strings.TrimRight(says, ".")
	says = strings.TrimSuffix(says, ": "+word)
	return sentence(strings.Replace(says, ": "+word+"; ", ": ", 1))
}

// nextWords is the next thing to do, without the finding that stands right under it.
func nextWords(m *model.MoldOutlook) string {
	if m.Doubt == nil || m.Doubt.Says == "" {
		return m.Next
	}
	if head, _, ok := strings.Cut(m.Next, ": "+strings.TrimRight(m.Doubt.Says, ".")); ok {
		return sentence(head)
	}
	return m.Next
}

// odd is how probable one explanation is.
type odd struct {
	Name, Words string
	Pattern     string  // id of its pattern; empty for nothing wrong, which is plain
	p           float64 // 0..1
}

// oddsOf lists the explanations, always in the same order.
func oddsOf(d *model.Doubt) []odd {
	out := []odd{
		{Name: "nothing wrong", p: d.NothingWrong},
		{Name: "the surface", Pattern: "odd-surface", p: d.SurfaceInhibits},
		{Name: "the batch", Pattern: "odd-batch", p: d.BatchBad},
		{Name: "both", Pattern: "odd-both", p: d.BothWrong},
		{Name: "only the cup", Pattern: "odd-cup", p: d.OnlyCup},
	}
	for i := range out {
		out[i].Words = chance(out[i].p)
	}
	return out
}

// exceptional is the word for one in a hundred and less.
const exceptional = "exceptionally unlikely"

// chance words a probability by the scale of Mastrandrea et al., Guidance Note on Consistent Treatment of
// Uncertainties (IPCC, 2010), table 1, with the number where the word does not say it.
func chance(p float64) string {
	word := "virtually certain"
	switch {
	case math.IsNaN(p):
		return "not known"
	case p <= 0.01:
		return exceptional
	case p <= 0.10:
		word = "very unlikely"
	case p <= 0.33:
		word = "unlikely"
	case p < 0.66:
		word = "about as likely as not"
	case p < 0.90:
		word = "likely"
	case p < 0.99:
		word = "very likely"
	default:
		return word
	}
	return fmt.Sprintf("%s, %.0f%sin%s100", word, 100*p, nbsp, nbsp)
}

// segment is one explanation in the strip: as wide as it is probable.
type segment struct {
	odd
	X, W, TextX float64
	Named       bool // the name fits in
}

const (
	stripWidth = 300.0 // units
	thinnest   = 0.5   // what is narrower is not drawn; it stands in the list
)

// strip lays the explanations end to end.
func strip(odds []odd) []segment {
	var out []segment
	x := 0.0
	for _, o := range odds {
		w := stripWidth * min(1, max(0, o.p))
		if w >= thinnest {
			out = append(out, segment{odd: o, X: tenth(x), W: tenth(w), TextX: tenth(x + w/2), Named: letter*float64(len(o.Name))+10 <= w})
		}
		x += w
	}
	return out
}
