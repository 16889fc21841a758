package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"pourward/alerts"
	"pourward/model"
)

// narrator writes a line at each event: a mark that was made, an alert that began or ended.
type narrator struct {
	out   io.Writer
	zone  *time.Location
	known map[int64]bool // marks told already; nil before the first snapshot
}

func newNarrator(out io.Writer, zone *time.Location) *narrator {
	return &narrator{out: out, zone: zone}
}

// watch is told of every snapshot. What is on record when it begins is no event any more.
func (n *narrator) watch(s *model.Snapshot, changes []alerts.Change) {
	begins := n.known == nil
	if begins {
		n.known = map[int64]bool{}
	}
	for i := range s.Outlook.Patches {
		n.marks(s.Outlook.Patches[i].Marks, begins, func(model.Mark) string { return "" })
	}
	for i := range s.Outlook.Molds {
		m := &s.Outlook.Molds[i]
		n.marks(m.Marks, begins, func(mark model.Mark) string { return n.promise(m, mark) })
	}
	for _, c := range changes {
		what := "ALERT " + c.Alert.Name
		if c.Ended {
			what = "ended " + c.Alert.Name
		}
		n.line(c.At, what+labelText(c.Alert.Labels)+": "+c.Alert.Description)
	}
}

// marks tells those not told yet, each with what more there is to say of it; none of them at the beginning.
func (n *narrator) marks(all []model.Mark, begins bool, more func(model.Mark) string) {
	for _, mark := range all {
		if !n.known[mark.ID] {
			n.known[mark.ID] = true
			if !begins {
				n.line(mark.At, mark.String()+more(mark))
			}
		}
	}
}

// promise is what was projected when a mark started something.
func (n *narrator) promise(m *model.MoldOutlook, mark model.Mark) string {
	for _, s := range m.Steps {
		if s.Mark == mark.ID && s.Standing != model.Closed {
			return "; " + bandText(s, n.zone)
		}
	}
	return ""
}

func (n *narrator) line(t time.Time, text string) {
	fmt.Fprintf(n.out, "%s  %s\n", at(t, n.zone), text)
}

func labelText(labels map[string]string) string {
	var b strings.Builder
	for _, k := range []string{"mold", "step", "place", "probe"} {
		if v := labels[k]; v != "" {
			b.WriteString(" " + v)
		}
	}
	return b.String()
}

// waits says what the end of a step is called.
func waits(k model.StepKind) string {
	switch k {
	case model.WorkingLife:
		return "working life ends"
	case model.LayerWindow:
		return "takes the next layer"
	case model.DemoldTime:
		return "demold"
	}
	return "dry"
}

// bandText tells a step's band in a line: the likely time, then the end that matters for what to do next.
func bandText(s model.Step, zone *time.Location) string {
	if !s.Band.Told() {
		return cannotText(s, zone)
	}
	b := s.Band
	early, late := "one in ten before "+at(b.Earliest, zone), "nine in ten by "+at(b.Latest, zone)
	if s.Kind == model.WorkingLife {
		return fmt.Sprintf("%s likely %s, %s, %s", waits(s.Kind), at(b.Likely, zone), early, late)
	}
	text := fmt.Sprintf("%s likely %s, %s, %s", waits(s.Kind), at(b.Likely, zone), late, early)
	if c := s.Closes; c.Told() {
		text += fmt.Sprintf("; one in ten no longer does from %s, likely from %s", at(c.Earliest, zone), at(c.Likely, zone))
	}
	return text
}

func cannotText(s model.Step, zone *time.Location) string {
	text := "cannot say"
	if !s.NotBefore.IsZero() {
		text += ", but not before " + at(s.NotBefore, zone)
	}
	if len(s.Why) > 0 {
		text += ": " + strings.Join(s.Why, "; ")
	}
	return text
}
