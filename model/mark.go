package model

import (
	"fmt"
	"strings"
	"time"
)

// MarkKind is what the maker did. The words are stored and shown.
type MarkKind string

const (
	Begun     MarkKind = "begun"      // a mold is begun: pattern on the bench, nothing on it yet
	CoatOn    MarkKind = "coat on"    // a seal coat went on
	ReleaseOn MarkKind = "release on" // the release agent went on
	Mixed     MarkKind = "mixed"      // the two parts met; the working life runs
	Poured    MarkKind = "poured"     // the rubber is on the pattern; the cure that counts runs
	LayerOn   MarkKind = "layer on"   // a layer of rubber was brushed on; its layer window and the cure run
	Moved     MarkKind = "moved"      // the mold was carried to another place
	PatchOn   MarkKind = "patch on"   // a test patch was set on a surface, apart from any mold
	Checked   MarkKind = "checked"    // something was touched, and found tacky or firm
	Demolded  MarkKind = "demolded"   // the mold came off
	Withdrawn MarkKind = "withdrawn"  // an earlier mark never happened
)

// MarkKinds lists the kinds in the order of the work.
func MarkKinds() []MarkKind {
	return []MarkKind{Begun, CoatOn, ReleaseOn, Mixed, Poured, LayerOn, Moved, PatchOn, Checked, Demolded, Withdrawn}
}

// ParseMarkKind accepts a kind as written, with a space, a dash or an underscore between its words.
func ParseMarkKind(s string) (MarkKind, error) {
	want := MarkKind(strings.NewReplacer("-", " ", "_", " ").Replace(strings.ToLower(strings.TrimSpace(s))))
	names := make([]string, 0, len(MarkKinds()))
	for _, k := range MarkKinds() {
		if k == want {
			return k, nil
		}
		names = append(names, string(k))
	}
	return "", fmt.Errorf("%q is not a mark; there are: %s", s, strings.Join(names, ", "))
}

// Subject is what was checked.
type Subject string

const (
	Cup   Subject = "cup"   // leftover of the batch: the control
	Patch Subject = "patch" // test patch on the surface
	Mold  Subject = "mold"  // the mold itself, at an edge
	Coat  Subject = "coat"  // the last coat or release agent
)

// Finding is what a check found.
type Finding string

const (
	Firm    Finding = "firm"
	Tacky   Finding = "tacky"           // sticks, or takes a print
	Liquid  Finding = "liquid"          // still flows
	Spoiled Finding = "surface spoiled" // cured, but gummy, cratered or stained where it met the surface
)

// Findings lists what a check may find.
func Findings() []Finding { return []Finding{Firm, Tacky, Liquid, Spoiled} }

// Soft reports whether the finding is of something that has not cured.
func (f Finding) Soft() bool { return f == Tacky || f == Liquid }

// Mark is one entry the maker makes. Marks are never changed or deleted: a correction is a new mark
// that replaces an earlier one, so the history stays.
type Mark struct {
	ID       int64     // given by the journal, rising; 0 = not recorded yet
	Kind     MarkKind  //
	Mold     string    // short name of the mold, or of the patch
	At       time.Time // when it happened, UTC
	Entered  time.Time // when it was entered, UTC
	Corrects int64     // ID of the mark this one replaces; 0 = none

	EnteredBy string // user who entered it; empty where nobody is asked who he is

	Title    string   // begun: the mold's name for people; may be empty
	Place    string   // begun, patch on: where it stands; moved: where to
	Surface  string   // begun, moved: the place of a probe on the pattern; may be empty
	Material string   // begun: the rubber planned; coat on, release on, mixed, patch on: what was used
	Of       Subject  // checked
	Found    Finding  // checked
	Build    Build    // begun: what the mold is made of, as far as known
	Design   Design   // begun: how it is to be made, and how large it is
	Face     string   // begun, patch on: what the face is that the rubber meets, in the maker's words
	Prep     []string // patch on: coats and release on that face, by material, in order; empty = bare
	Batch    Batch    // mixed, patch on: what was weighed
	FilmUM   float64  // coat on, release on: thickness of the dry film it makes, µm; 0 = not told
	Note     string   // anything the maker wants kept
}

// String tells the mark in a line, without times.
func (m Mark) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s", m.Mold, m.Kind)
	if m.Kind == Checked {
		fmt.Fprintf(&b, ": %s %s", m.Of, m.Found)
	}
	if m.Material != "" {
		fmt.Fprintf(&b, " (%s)", m.Material)
	}
	if m.Corrects != 0 {
		fmt.Fprintf(&b, ", instead of mark %d", m.Corrects)
	}
	return b.String()
}

// Rounded returns the mark with its instants as they are recorded: whole milliseconds, UTC.
func (m Mark) Rounded() Mark {
	m.At = time.UnixMilli(m.At.UnixMilli()).UTC()
	m.Entered = time.UnixMilli(m.Entered.UnixMilli()).UTC()
	return m
}
