package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"pourward/model"
)

// teller writes an outlook as text.
type teller struct {
	out        io.Writer
	zone       *time.Location
	fahrenheit bool
}

func (t teller) outlook(o *model.Outlook) {
	fmt.Fprintf(t.out, "Outlook at %s\n", at(o.At, t.zone))
	for _, p := range o.Places {
		fmt.Fprintf(t.out, "  %s: %s\n", p.Name, t.air(p))
	}
	for _, m := range o.Molds {
		t.mold(m)
	}
}

func (t teller) air(p model.PlaceOutlook) string {
	if math.IsNaN(p.TempC) {
		return "nothing measured"
	}
	text := t.temp(p.TempC)
	if !math.IsNaN(p.Humidity) {
		text += fmt.Sprintf(", %.0f %% relative humidity, dew point %s", 100*p.Humidity, t.temp(p.DewPointC))
	}
	if !p.Known {
		text += ", silent since " + at(p.At, t.zone)
	}
	return text
}

func (t teller) temp(c float64) string {
	if t.fahrenheit {
		return fmt.Sprintf("%.1f °F", c*9/5+32)
	}
	return fmt.Sprintf("%.1f °C", c)
}

func (t teller) mold(m model.MoldOutlook) {
	fmt.Fprintf(t.out, "\n%s\n", m.Title)
	for _, s := range m.Steps {
		t.step(s)
	}
	if m.Open() && !m.Poured {
		fmt.Fprintf(t.out, "  pour: %s\n", m.Pour.Verdict)
		for _, r := range m.Pour.Reasons {
			fmt.Fprintf(t.out, "    %s\n", r.Text)
		}
	}
	next := m.Next
	if !m.NextAt.IsZero() {
		next += " (" + at(m.NextAt, t.zone) + ")"
	}
	fmt.Fprintf(t.out, "  next: %s\n", next)
}

func (t teller) step(s model.Step) {
	fmt.Fprintf(t.out, "  %s (%s), begun %s: %s\n", s.Title, s.Material, at(s.Begun, t.zone), s.Standing)
	if s.Band.Told() {
		fmt.Fprintf(t.out, "    %s\n", bandText(s, t.zone))
		took := s.Band.Likely.Sub(s.Begun)
		fmt.Fprintf(t.out, "    likely %s after it was begun; %s at room temperature\n", model.SpanText(took), model.SpanText(s.RoomTime))
	} else if s.Standing != model.Closed {
		fmt.Fprintf(t.out, "    %s\n", cannotText(s, t.zone))
		return
	}
	if len(s.Why) > 0 {
		fmt.Fprintf(t.out, "    %s\n", strings.Join(s.Why, "; "))
	}
}
