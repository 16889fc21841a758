package page

import (
	"strings"
	"time"

	"pourward/model"
)

// told is a step's standing in words.
type told struct {
	Head  string // in a word or two
	Tail  string // when, as a sentence; empty where the head says it all
	Class string // for the style sheet
}

// stand words what a projection tells. Where it cannot be said, no time is named but a bound.
func (v voice) stand(s model.Step) told {
	t := told{Head: headOf(s.Kind, s.Standing), Class: classOf(s.Standing)}
	switch s.Standing {
	case model.CannotSay:
		t.Tail = v.cannotSay(s.Projection)
	case model.Doubtful:
		t.Tail = sentence(strings.Join(s.Why, "; "))
	case model.Closed:
		t.Tail = sentence(v.at(s.Begun), "to", v.near(s.Ended, s.Begun))
		if s.Kind == model.LayerWindow && len(s.Why) > 0 {
			t.Tail += " " + sentence(s.Why[len(s.Why)-1]) // how the next layer met its window
		}
	default:
		t.Tail = v.bandOf(s)
	}
	return t
}

// bandOf words the band of a step that has one.
func (v voice) bandOf(s model.Step) string {
	switch {
	case s.Kind == model.LayerWindow:
		return v.windowOf(s)
	case !s.Band.Told():
		return ""
	case s.Kind == model.WorkingLife:
		return v.usable(s.Band)
	case s.Standing == model.Ready:
		return sentence("nine in ten say so since", v.at(ceil(s.Band.Latest, time.Minute)))
	}
	return v.readyBy(s.Band)
}

// cannotSay gives the reasons, and the bound where there is one.
func (v voice) cannotSay(p model.Projection) string {
	text := sentence(strings.Join(p.Why, "; "))
	if !p.NotBefore.IsZero() {
		text += " " + sentence("not before", v.at(ceil(p.NotBefore, time.Minute)))
	}
	return strings.TrimSpace(text)
}

// readyBy words the band of something awaited: the likely time first, then how long it stays unsure,
// then how early it may be.
func (v voice) readyBy(b model.Band) string {
	b = rounded(b)
	word := "likely"
	if !b.Likely.After(v.now) {
		word = "likely since"
	}
	text := word + " " + v.at(b.Likely) + ", not sure until " + v.near(b.Latest, b.Likely)
	if b.Earliest.After(v.now) {
		text += "; may be as early as " + v.near(b.Earliest, b.Likely)
	}
	return sentence(text)
}

// usable words the band of a working life: the earliest end first, since that is the one to act on.
func (v voice) usable(b model.Band) string {
	b = rounded(b)
	if !b.Latest.After(v.now) {
		return sentence("over since", v.at(b.Latest))
	}
	if !b.Earliest.After(v.now) {
		return sentence("may be over since "+v.at(b.Earliest)+"; likely over by", v.near(b.Likely, b.Earliest)+", almost surely by", v.near(b.Latest, b.Earliest))
	}
	return sentence("use it before "+v.at(b.Earliest)+"; likely over by", v.near(b.Likely, b.Earliest)+", almost surely by", v.near(b.Latest, b.Earliest))
}

// rounded puts a band on a grid no finer than its width deserves, outward: never earlier than the
// latest, never later than the earliest.
func rounded(b model.Band) model.Band {
	grid := time.Minute
	switch width := b.Latest.Sub(b.Earliest); {
	case width >= 3*time.Hour:
		grid = 10 * time.Minute
	case width >= 30*time.Minute:
		grid = 5 * time.Minute
	}
	return model.Band{Earliest: b.Earliest.Truncate(grid), Likely: b.Likely.Round(grid), Latest: ceil(b.Latest, grid)}
}

func ceil(t time.Time, grid time.Duration) time.Time {
	if down := t.Truncate(grid); !down.Equal(t) {
		return down.Add(grid)
	}
	return t
}

// classOf names a standing for the style sheet.
func classOf(s model.Standing) string {
	if s == model.CannotSay {
		return "cannot"
	}
	return string(s)
}

// headOf names a standing in the words of the step.
func headOf(k model.StepKind, s model.Standing) string {
	switch k {
	case model.WorkingLife:
		return cupHead(s)
	case model.LayerWindow:
		return layerHead(s)
	case model.DemoldTime:
		return cureHead(s)
	}
	switch s {
	case model.Running:
		return "drying"
	case model.Maybe:
		return "may be dry: touch it"
	case model.Ready:
		return "dry"
	case model.Doubtful:
		return "tacky past its time"
	case model.Closed:
		return "covered"
	}
	return string(s)
}

func cupHead(s model.Standing) string {
	switch s {
	case model.Running:
		return "workable"
	case model.Ending, model.Maybe:
		return "ending: pour now"
	case model.Over:
		return "over: do not pour"
	case model.Closed:
		return "used"
	}
	return string(s)
}

func cureHead(s model.Standing) string {
	switch s {
	case model.Running:
		return "curing"
	case model.Maybe:
		return "may be cured: check the cup"
	case model.Ready:
		return "may be demolded"
	case model.Doubtful:
		return "not late but wrong"
	case model.Closed:
		return "done"
	}
	return string(s)
}
