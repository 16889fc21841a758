package metrics

import "pourward/model"

// Names of what tells of the record.
const (
	JournalLastSync = "pourward_journal_last_sync_timestamp_seconds"
	JournalWaiting  = "pourward_journal_waiting_readings"
	JournalFailing  = "pourward_journal_failing"
	JournalReadings = "pourward_journal_readings_total"
	JournalMarks    = "pourward_journal_marks_total"
)

func journalTable() []Metric {
	return []Metric{
		moment(JournalLastSync, "When readings were last made safe on disk, by the shop clock; 0 when they never were."),
		plain(JournalWaiting, Amount, "Readings not yet safe on disk; a power cut would lose them."),
		plain(JournalFailing, Flag, "1 when the last write of the record failed, 0 when it did not."),
		plain(JournalReadings, Count, "Readings put on record since the daemon started."),
		plain(JournalMarks, Count, "Marks of the maker put on record since the daemon started."),
	}
}

func collectJournal(to sink, j model.JournalHealth) {
	to.put(JournalLastSync, unixSeconds(j.LastSync))
	to.put(JournalWaiting, float64(j.Waiting))
	to.flag(JournalFailing, j.Err != "")
	to.put(JournalReadings, float64(j.Readings))
	to.put(JournalMarks, float64(j.Marks))
}
