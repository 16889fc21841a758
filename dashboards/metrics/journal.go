package metrics

import (
	"cmp"

	"pourward/model"
)

// Names of what tells of the record.
const (
	JournalLastSync = "pourward_journal_last_sync_timestamp_seconds"
	JournalWaiting  = "pourward_journal_waiting_readings"
	JournalFailing  = "pourward_journal_failing"
	JournalReadings = "pourward_journal_readings_total"
	JournalMarks    = "pourward_journal_marks_total"
	JournalState    = "pourward_journal_state"
	JournalMemory   = "pourward_journal_in_memory"
)

func journalTable() []Metric {
	return []Metric{
		moment(JournalLastSync, "When readings were last made safe on disk, by the shop clock; 0 when they never were."),
		plain(JournalWaiting, Amount, "Readings not yet safe on disk; a power cut would lose them."),
		plain(JournalFailing, Flag, "1 when the last write of the record failed, 0 when it did not."),
		plain(JournalReadings, Count, "Readings put on record since the daemon started."),
		plain(JournalMarks, Count, "Marks of the maker put on record since the daemon started."),
		states(JournalState, "How the journal's file stands: the state that holds is 1, the others are 0. Of a marred one the damaged readings and marks are left out. Damaged, newer, foreign and replaced files are left alone and the record is kept in a rescue journal beside; apart means that one lies beside a sound file."),
		plain(JournalMemory, Flag, "1 while the record is kept in no file, so that no mark is taken; 0 when it is in one."),
	}
}

func collectJournal(to sink, j model.JournalHealth) {
	to.put(JournalLastSync, unixSeconds(j.LastSync))
	to.put(JournalWaiting, float64(j.Waiting))
	to.flag(JournalFailing, j.Err != "")
	to.put(JournalReadings, float64(j.Readings))
	to.put(JournalMarks, float64(j.Marks))
	putStates(to, JournalState, model.RecordStates(), cmp.Or(j.Stand.State, model.RecordSound))
	to.flag(JournalMemory, j.Stand.InMemory)
}
