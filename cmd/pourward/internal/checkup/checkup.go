// Package checkup looks at everything that a daemon needs before it is started: its file, probes, clock, disk,
// record, and whom it is to reach. It changes nothing but a file of its own, which it deletes again, and asks
// nothing of a chip.
package checkup

import (
	"fmt"
	"io"
)

// Verdict is how bad a finding is.
type Verdict int

const (
	OK     Verdict = iota
	Look           // it works, or may; a person should look at it
	Broken         // it does not work as it is
)

func (v Verdict) String() string { return [...]string{"ok", "look", "broken"}[v] }

// Finding is one thing that was looked at.
type Finding struct {
	Verdict Verdict
	About   string // one word
	Found   string // what was found
	Do      string // what to do; empty where nothing is to be done
}

func ok(about, format string, args ...any) Finding {
	return Finding{Verdict: OK, About: about, Found: fmt.Sprintf(format, args...)}
}

func look(about, do, format string, args ...any) Finding {
	return Finding{Look, about, fmt.Sprintf(format, args...), do}
}

func broken(about, do, format string, args ...any) Finding {
	return Finding{Broken, about, fmt.Sprintf(format, args...), do}
}

// Tell writes findings for a person and returns how many are broken and how many to look at.
func Tell(w io.Writer, all []Finding) (bad, doubtful int, err error) {
	for _, f := range all {
		switch f.Verdict {
		case Broken:
			bad++
		case Look:
			doubtful++
		}
		if _, err := fmt.Fprintf(w, "%-8s%-9s%s\n", f.Verdict, f.About, f.Found); err != nil {
			return bad, doubtful, err
		}
		if f.Do == "" {
			continue
		}
		if _, err := fmt.Fprintf(w, "%17s-> %s\n", "", f.Do); err != nil {
			return bad, doubtful, err
		}
	}
	return bad, doubtful, nil
}
