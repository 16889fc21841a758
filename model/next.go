package model

import (
	"fmt"
	"strings"
	"time"
)

// nextThing is the one thing to do next, and when, as far as that is known.
func nextThing(o *MoldOutlook, now time.Time) (what string, at time.Time) {
	if !o.Open() {
		return "Done.", time.Time{}
	}
	if len(o.Steps) == 0 {
		if len(o.Coming) > 0 && o.Coming[0].Mark != CoatOn {
			return "Put the first seal coat or the release agent on.", time.Time{}
		}
		return o.doNext("Put the first seal coat on."), time.Time{}
	}
	last := o.Steps[len(o.Steps)-1]
	switch last.Kind {
	case CoatDry, ReleaseDry:
		return afterCoat(o, last, now)
	case WorkingLife:
		return afterMixing(o, last)
	}
	if w, ok := o.openWindow(); ok && last.Standing != Doubtful {
		return afterLayer(o, w, last)
	}
	return afterPour(last)
}

// doNext names the coat or release that comes next by the design; otherwise says it where there is none.
func (o *MoldOutlook) doNext(otherwise string) string {
	c, ok := o.coming(CoatOn, ReleaseOn)
	switch {
	case !ok:
		return otherwise
	case c.Mark == ReleaseOn:
		return "Put the release agent on."
	}
	return "Put " + lower(c.Title) + " on."
}

func afterCoat(o *MoldOutlook, last Step, now time.Time) (string, time.Time) {
	switch {
	case last.Standing == CannotSay:
		return "Touch " + lower(last.Title) + " before going on: its dryness cannot be told.", time.Time{}
	case last.Standing != Ready:
		return "Let " + lower(last.Title) + " dry.", last.Band.Latest
	case last.Kind == CoatDry:
		return o.afterSealer(last, now)
	case o.Pour.Verdict == Fit:
		if c, ok := o.coming(LayerOn); ok {
			return "Fit to pour: mix, and brush " + lower(c.Title) + " on, " + c.How + ".", time.Time{}
		}
		return "Fit to pour: mix and pour.", time.Time{}
	}
	for _, r := range o.Pour.Reasons {
		if !r.Caution {
			return "Do not pour yet. " + r.Text, o.Pour.From
		}
	}
	return "Look before you pour.", time.Time{}
}

// afterSealer is what follows a seal coat that is dry: another one only inside the limits of its sheet.
func (o *MoldOutlook) afterSealer(last Step, now time.Time) (string, time.Time) {
	next, ok := o.coming(CoatOn, ReleaseOn)
	if ok && next.Mark == ReleaseOn {
		return o.doNext(""), time.Time{}
	}
	what := o.doNext("Put the next coat or the release agent on.")
	switch r := last.Recoat; {
	case !r.Until.IsZero() && !r.Until.After(now):
		return lastWords(last), time.Time{}
	case r.From.After(now):
		return "Wait with the next coat: its data sheet asks for more than dry.", r.From
	case !r.Until.IsZero():
		return strings.TrimSuffix(what, ".") + " before it no longer bonds.", r.Until
	}
	return what, time.Time{}
}

// lastWords is said of a coat that was left for too long.
func lastWords(s Step) string {
	return s.Title + " may take no further coat as it is: sand it first, or as its data sheet says."
}

func afterMixing(o *MoldOutlook, last Step) (string, time.Time) {
	do, over := "Pour", "do not pour this batch"
	if o.layered() {
		do, over = "Brush "+o.nextLayer()+" on", "do not brush this batch on"
	}
	switch last.Standing {
	case Over:
		return "The working life is over: " + over + ".", time.Time{}
	case Ending:
		return do + " now: the working life is ending.", time.Time{}
	}
	return do + " before the working life ends.", last.Band.Earliest
}

// layered reports whether the rubber of a mold goes on in layers, as planned or as it was done.
func (o *MoldOutlook) layered() bool {
	return o.Design.Method.Layered() || o.layersOn() > 0
}

func (o *MoldOutlook) layersOn() int {
	n := 0
	for _, m := range o.Marks {
		if m.Kind == LayerOn {
			n++
		}
	}
	return n
}

// nextLayer names the layer that goes on next.
func (o *MoldOutlook) nextLayer() string {
	return lower("Layer " + ofAll(o.layersOn()+1, o.Design.Layers))
}

// openWindow is the layer window that another layer is waited for in.
func (o *MoldOutlook) openWindow() (Step, bool) {
	for _, s := range o.Steps {
		if s.Kind == LayerWindow && s.Standing != Closed {
			return s, true
		}
	}
	return Step{}, false
}

// afterLayer says what to do about the next layer. Where nobody told how many there will be, the cure goes
// on being told once the window is over.
func afterLayer(o *MoldOutlook, w, cure Step) (string, time.Time) {
	next := o.nextLayer()
	mix := fmt.Sprintf("Mix, and brush %s on", next)
	switch w.Standing {
	case Running:
		return "Wait for " + next + ": " + lower(w.Title) + " has not set yet.", w.Band.Latest
	case Maybe:
		return "Touch " + lower(w.Title) + " with a gloved finger: set but tacky, it takes " + next + ".", w.Band.Latest
	case Ready:
		if w.Closes.Told() {
			return mix + " before the window closes.", w.Closes.Earliest
		}
		return mix + ".", time.Time{}
	case Ending:
		return mix + " now: the window is closing.", time.Time{}
	case Over:
		if o.Design.Layers == 0 {
			return afterPour(cure)
		}
		return "The bond of " + next + " is doubtful: abrade or clean as the data sheet says, or brush a test first.", time.Time{}
	}
	return "Go by the data sheet and a gloved finger for " + next + ": its window cannot be told.", w.NotBefore
}

func afterPour(last Step) (string, time.Time) {
	switch last.Standing {
	case Ready:
		return "Check the cup; if it is firm, demold.", time.Time{}
	case Doubtful:
		return "Do not demold or pour more: " + strings.TrimSuffix(last.Why[0], ".") + ".", time.Time{}
	case Maybe:
		return "Check the cup before touching the mold.", last.Band.Latest
	case CannotSay:
		return "Go by the cup: the demold time cannot be told.", last.NotBefore
	}
	return "Let it cure.", last.Band.Latest
}

// lower puts a title into a sentence.
func lower(title string) string {
	if title == "" {
		return title
	}
	return string(title[0]|0x20) + title[1:]
}
