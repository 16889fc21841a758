package model

import (
	"fmt"
	"time"
)

// RecordState is how the file stands in which the record should be kept.
type RecordState string

// The states. In all but the first three the record is kept elsewhere, or in memory alone.
const (
	RecordSound    RecordState = "sound"     // it is kept there; the empty state means the same
	RecordMarred   RecordState = "marred"    // it is, and what of it is damaged is left out
	RecordApart    RecordState = "apart"     // it is, but a rescue journal beside it holds what it does not
	RecordDamaged  RecordState = "damaged"   // what is whole of it was copied; it is not written to
	RecordNewer    RecordState = "newer"     // a newer version wrote it; it is not written to
	RecordForeign  RecordState = "foreign"   // it is no journal; it is not written to
	RecordReplaced RecordState = "replaced"  // another file was put in its place while it was kept
	RecordInUse    RecordState = "in use"    // another daemon keeps it
	RecordNoRoom   RecordState = "no room"   // its disk is full
	RecordReadOnly RecordState = "read-only" // it must not be written, or its folder
	RecordShut     RecordState = "shut"      // it cannot be opened for any other reason
)

// RecordStates lists them.
func RecordStates() []RecordState {
	return []RecordState{RecordSound, RecordMarred, RecordApart, RecordDamaged, RecordNewer, RecordForeign, RecordReplaced, RecordInUse, RecordNoRoom, RecordReadOnly, RecordShut}
}

// RecordStand is where the record is kept, and what is missing from it.
type RecordStand struct {
	State    RecordState
	Why      string // what is wrong with the file, and the way out; empty when it is sound
	File     string // in which it should be kept
	Rescue   string // file that is kept instead, or that lies apart; empty where there is none
	InMemory bool   // it is kept in no file: readings wait in memory, marks are not taken
	Blank    bool   // nothing of the former record could be read
	Lost     Lost
}

// Lost is what could not be read of a record.
type Lost struct {
	Spans   []LostSpan // in which readings are missing, by probe and time
	Marks   int        // numbers of marks that are missing
	Changed []LostMark // marks that are not as they were written, and left out
	More    bool       // beyond that something may be missing of which nobody knows
}

// Any reports whether anything is lost.
func (l Lost) Any() bool { return len(l.Spans) > 0 || l.Marks > 0 || len(l.Changed) > 0 || l.More }

// LostMark is a mark that was changed on disk by something else than the shop.
type LostMark struct {
	ID    int64
	Reads string // what it says now, in one line; empty where nothing can be made of it
}

// String names the mark, with what it says now.
func (m LostMark) String() string {
	if m.Reads == "" {
		return fmt.Sprintf("mark %d", m.ID)
	}
	return fmt.Sprintf("mark %d, which now reads %q", m.ID, m.Reads)
}

// LostSpan is a time for which a probe's readings are lost, whole hours UTC.
type LostSpan struct {
	Probe    string
	From, To time.Time
}
