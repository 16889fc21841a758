package deliver

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"pourward/alerts"
)

// Kind is why a message is sent.
type Kind string

// Kinds of messages.
const (
	News    Kind = "news"    // something began or ended
	Summary Kind = "summary" // of what the quiet hours held back
	Trial   Kind = "trial"   // somebody tries whether messages arrive
)

// Message is what one target is told at once: of one mold, of the shop as a whole, or of all that was held back.
// Its JSON form is the body of a webhook.
type Message struct {
	Key    string    `json:"key"` // stays the same when it is sent again
	Kind   Kind      `json:"kind"`
	Shop   string    `json:"shop"`
	Mold   string    `json:"mold,omitempty"` // what it tells of; empty for the shop as a whole
	At     time.Time `json:"at"`             // when it was made
	Title  string    `json:"title"`          // one line
	Text   string    `json:"text"`           // the whole in plain text, as a mail has it
	Began  []Told    `json:"began,omitempty"`
	Ended  []Told    `json:"ended,omitempty"`
	Passed []Told    `json:"passed,omitempty"` // began and ended before any of it could be told
}

// Told is one alert in a message.
type Told struct {
	Name        string            `json:"name"`
	Severity    alerts.Severity   `json:"severity"`
	Labels      map[string]string `json:"labels,omitempty"`
	Summary     string            `json:"summary"`
	Description string            `json:"description"`
	WhatToDo    string            `json:"what_to_do"`
	Since       time.Time         `json:"since"`
	Until       *time.Time        `json:"until,omitempty"` // only of what ended
}

// urgent reports whether the message is told in quiet hours as well.
func (m *Message) urgent() bool {
	return m.Kind == Trial || slices.ContainsFunc(m.Began, func(t Told) bool { return t.Severity == alerts.Critical })
}

// finish gives the message its key and its words; zone is that of the times in them.
func (m *Message) finish(target string, zone *time.Location) {
	h := sha256.New()
	fmt.Fprintf(h, "%s|%s|%s|", target, m.Kind, m.Shop)
	for part, list := range [][]Told{m.Began, m.Ended, m.Passed} {
		for _, t := range list {
			fmt.Fprintf(h, "%d|%s|%s|%d|", part, t.Name, alerts.Alert{Labels: t.Labels}.Key(), t.Since.UnixNano())
		}
	}
	m.Key = hex.EncodeToString(h.Sum(nil)[:16])
	m.Title = m.title()
	m.Text = m.text(zone)
}

func (m *Message) about() string {
	if m.Mold != "" {
		return m.Mold
	}
	return m.Shop
}

func (m *Message) title() string {
	switch began, ended := len(m.Began), len(m.Ended)+len(m.Passed); {
	case m.Kind == Trial:
		return m.Shop + ": a trial, nothing is wrong"
	case m.Kind == Summary:
		return fmt.Sprintf("%s: held back in the quiet hours: %s", m.Shop, counts(began, ended))
	case began == 1 && ended == 0:
		return m.about() + ": " + m.Began[0].Summary
	case began == 0 && ended == 1:
		return m.about() + ": ended: " + slices.Concat(m.Ended, m.Passed)[0].Summary
	default:
		return m.about() + ": " + counts(began, ended)
	}
}

func counts(began, ended int) string {
	switch {
	case ended == 0:
		return fmt.Sprintf("%d began", began)
	case began == 0:
		return fmt.Sprintf("%d ended", ended)
	}
	return fmt.Sprintf("%d began, %d ended", began, ended)
}

// dayTime is how messages write an instant.
const dayTime = "Mon 2 Jan 15:04"

func (m *Message) text(zone *time.Location) string {
	var b strings.Builder
	fmt.Fprintln(&b, m.title())
	if m.Kind == Trial {
		fmt.Fprintln(&b, "\nSomebody tried whether messages of this shop arrive. This one did.")
	}
	for _, t := range m.Began {
		fmt.Fprintf(&b, "\n%s, since %s%s\n%s\nWhat to do: %s\n", t.Severity, t.Since.In(zone).Format(dayTime), t.where(), t.Description, t.WhatToDo)
	}
	for _, t := range m.Ended {
		fmt.Fprintf(&b, "\nended %s%s\n%s\n", t.Until.In(zone).Format(dayTime), t.where(), t.Summary)
	}
	for _, t := range m.Passed {
		fmt.Fprintf(&b, "\nbegan %s and ended %s, while no message could be sent%s\n", t.Since.In(zone).Format(dayTime), t.Until.In(zone).Format(dayTime), t.where())
		io.WriteString(&b, t.Summary+"\n")
	}
	return b.String()
}

// where names what the alert is about, beyond what its words say.
func (t Told) where() string {
	for _, label := range []string{"mold", "place", "probe", "target"} {
		if name := t.Labels[label]; name != "" {
			return " (" + label + " " + name + ")"
		}
	}
	return ""
}
