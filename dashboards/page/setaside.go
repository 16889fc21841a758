package page

import (
	"fmt"
	"path/filepath"
	"strings"

	"pourward/model"
)

// inMemory says what it means that the record is kept in no file.
func (v voice) inMemory(j model.JournalHealth) string {
	text := []string{sentence("the record cannot be kept in its file:", j.Stand.Why)}
	switch {
	case j.Waiting == 1:
		text = append(text, "Measuring goes on in memory: one reading is lost if power fails now.")
	case j.Waiting > 1:
		text = append(text, fmt.Sprintf("Measuring goes on in memory: %d readings are lost if power fails now.", j.Waiting))
	default:
		text = append(text, "Measuring goes on in memory.")
	}
	if j.Stand.State == model.RecordInUse {
		text = append(text, "Marks are not taken here, and nobody is told of alerts from here: go to the page of the pourward that keeps the record. What it records from now on is not shown here.")
	} else {
		text = append(text, "Marks are not taken, for none would be safe: write them down, with the time.")
	}
	text = append(text, v.former(j.Stand), "As soon as the file can be kept, what was read meanwhile goes there by itself.")
	return strings.Join(text, " ")
}

// setAside says that the record is kept in another file, or that readings are lost in its own; empty where
// all is well.
func (v voice) setAside(s model.RecordStand) string {
	mend := fmt.Sprintf("To bring it together, stop the daemon, run pourward mend %s, and do what it says.", filepath.Base(s.File))
	switch {
	case s.State == model.RecordApart:
		return fmt.Sprintf("Beside the record lies %s: what was entered while the record could not be used may be there alone, and is not shown. %s",
			filepath.Base(s.Rescue), mend)
	case s.Rescue != "":
		return strings.Join([]string{sentence("the file of the record cannot be used:", s.Why),
			fmt.Sprintf("Readings and marks are kept in %s, and are safe there.", filepath.Base(s.Rescue)), v.former(s), mend}, " ")
	case s.Lost.Any():
		return strings.Join([]string{"Part of the record is damaged, and left out.", v.lost(s.Lost),
			"Enter again what you know of it, or restore a backup. Until then it is told here; a journal without it is made so:", mend}, " ")
	}
	return ""
}

// former says what there is of the record of before.
func (v voice) former(s model.RecordStand) string {
	switch {
	case s.Blank:
		return "Nothing of the former record could be read, so nothing of it is shown."
	case s.Lost.Any():
		return "What could be read of the former record is shown. " + v.lost(s.Lost)
	}
	return "The former record could be read, and is shown."
}

// mostSpans is how many lost spans are named.
const mostSpans = 4

// lost says what is missing.
func (v voice) lost(l model.Lost) string {
	var parts []string
	for i, s := range l.Spans {
		if i == mostSpans {
			parts = append(parts, fmt.Sprintf("and %d times more", len(l.Spans)-i))
			break
		}
		parts = append(parts, fmt.Sprintf("readings of %s from %s to %s", s.Probe, v.at(s.From), v.near(s.To, s.From)))
	}
	if l.Marks > 0 {
		parts = append(parts, fmt.Sprintf("%d marks", l.Marks))
	}
	for i, m := range l.Changed {
		if i == mostSpans {
			parts = append(parts, fmt.Sprintf("and %d marks more", len(l.Changed)-i))
			break
		}
		parts = append(parts, m.String())
	}
	if l.More {
		parts = append(parts, "perhaps more of which nobody knows")
	}
	return sentence("lost are", strings.Join(parts, ", "))
}
