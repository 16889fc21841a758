package model

import (
	"time"

	"pourward/model/doubt"
)

// NoListIsComplete stands with every list of what a face is known to be poisoned by.
const NoListIsComplete = doubt.NoListIsComplete

// PatchState says where a test patch stands at the instant of the outlook.
type PatchState string

const (
	PatchCuring   PatchState = "curing"    // a touch tells little yet
	PatchDue      PatchState = "due"       // nine in ten like it are firm: touch it, and its cup
	PatchPassed   PatchState = "passed"    // found firm
	PatchFailed   PatchState = "failed"    // spoiled, or tacky while its cup is firm or past its time
	PatchBadBatch PatchState = "bad batch" // its cup is tacky too: it says nothing of the surface
	PatchUnsure   PatchState = "unsure"    // what was found leaves it open, or it was never read
)

// PatchStates lists all states; the list is closed and labels metrics.
func PatchStates() []PatchState {
	return []PatchState{PatchCuring, PatchDue, PatchPassed, PatchFailed, PatchBadBatch, PatchUnsure}
}

// Cold is how cold something was while it cured. Both are measured temperatures of the air at its place, °C;
// a stretch without readings counts as 5 K warmer than a line between its ends, so that nothing is called
// proven that was not measured.
type Cold struct {
	Known   bool    // false where the readings of more than six hours are missing, or time itself is not known
	LowestC float64 // the lowest it had, °C
	MeanC   float64 // the mean over the time, °C
}

// Risk is something that a face is known to be poisoned by.
type Risk struct{ Name, Why, Remedy string }

// PatchOutlook is everything told of one test patch.
type PatchOutlook struct {
	Name     string
	Face     string   // as the maker typed it
	Prep     []string // coats and release on it, by material, in order; empty = bare
	Material string
	Lot      string // of the rubber; empty = not told
	Place    string
	Set      time.Time
	State    PatchState
	ReadAt   time.Time // of a patch that passed: when it was first found firm; of one that failed: the newest touch
	Cold     Cold      // of a patch that passed: how cold it was until it was found firm
	Cure     Projection
	Says     string   // what was found and what it means, or when to touch it, in words without times
	Do       []string // what to do, in order
	Cautions []string // of that, and of the material
	Risks    []Risk   // of its face
	Sources  []string // of the numbers behind the projection
	Marks    []Mark   // in effect, in order of time
}

// TouchFrom is from when on a touch tells how the patch stands; zero where that is not known.
func (p *PatchOutlook) TouchFrom() time.Time { return p.Cure.Band.Latest }

// Open reports whether the patch still waits to be read.
func (p *PatchOutlook) Open() bool { return p.State == PatchCuring || p.State == PatchDue }

// TrialResult is what all patches of one face, prep and material say together.
type TrialResult string

const (
	TrialPassed   TrialResult = "passed"   // at least one passed, and none failed
	TrialFailed   TrialResult = "failed"   // one failed, and none passed after it
	TrialDisagree TrialResult = "disagree" // one failed, and another passed after it
	TrialOpen     TrialResult = "open"     // none has been read, or none for certain
)

// TrialResults lists all results; the list is closed and labels metrics.
func TrialResults() []TrialResult {
	return []TrialResult{TrialPassed, TrialFailed, TrialDisagree, TrialOpen}
}

// Trial is what was tried: one material on one face under one prep.
type Trial struct {
	Face     string // as typed for the newest patch
	Prep     []string
	Material string
	Result   TrialResult
	Cold     Cold      // of the patch that passed in the greatest cold
	At       time.Time // when that one was found firm; where none passed, when the newest was touched or set
	Lot      string    // of that one
	Old      bool      // everything that passed did so longer ago than a patch vouches
	Patches  []string  // newest first
}

// Vouch is the patch that vouches for a mold.
type Vouch struct {
	Patch string // empty = the mold's own, which was touched beside it
	Cold  Cold
	At    time.Time // when it was found firm
	Lot   string
}

// Patch returns the patch called name.
func (o *Outlook) Patch(name string) (*PatchOutlook, bool) {
	for i := range o.Patches {
		if o.Patches[i].Name == name {
			return &o.Patches[i], true
		}
	}
	return nil, false
}
