package network

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	"pourward/sensors"
)

// Refusal is why something that arrived did not become a value. The list is closed: it is a label on
// metrics.
type Refusal uint8

// Refusals.
const (
	TooLarge     Refusal = iota + 1 // more bytes or readings than are taken at once
	Malformed                       // not the form that was agreed on
	NoValue                         // neither a temperature nor a humidity in it
	NotNumber                       // a value that is no finite number
	WrongUnit                       // a unit that is unknown, or that the value cannot be in
	NoTime                          // a time that is needed is missing or cannot be read
	Ahead                           // its time lies ahead of the shop's clock
	Late                            // its time is not after the reading before, or very long ago
	Retained                        // an old message that the broker kept, or delivers again
	Duplicate                       // taken before
	Unknown                         // of a topic or probe that is not set up here
	Off                             // word that the probe is gone
	Unauthorized                    // of someone who may not speak for the probe
	Full                            // more than the shop loop could take; the sender was told to try again
	refusalCount
)

var refusalNames = [refusalCount]string{"", "too-large", "malformed", "no-value", "not-a-number", "wrong-unit",
	"no-time", "ahead", "late", "retained", "duplicate", "unknown", "off", "unauthorized", "full"}

// String names the refusal in the form used for labels.
func (r Refusal) String() string {
	if r > 0 && r < refusalCount {
		return refusalNames[r]
	}
	return fmt.Sprintf("refusal(%d)", uint8(r))
}

// usual reports a refusal that is no sign of trouble.
func (r Refusal) usual() bool { return r == Retained || r == Duplicate }

// refused is one thing that was refused, with the reason in a sentence.
type refused struct {
	kind Refusal
	why  string
}

func (r *refused) Error() string { return r.why }

func refuse(kind Refusal, format string, args ...any) *refused {
	return &refused{kind, fmt.Sprintf(format, args...)}
}

// failure is the reading that tells of a refusal.
func (r *refused) failure(probe string, at time.Time) sensors.Reading {
	return sensors.Failed(probe, at.UTC(), &sensors.FaultError{
		Fault: sensors.Malformed, Doing: fmt.Sprintf("take a message of probe %q", probe), Cause: r})
}

// Count says how often something of one probe was refused for one reason. Of what belongs to no probe
// that is set up, the probe is "".
type Count struct {
	Probe   string
	Refusal Refusal
	N       uint64
}

// tellEvery is the least time between two lines on the same probe and refusal.
const tellEvery = time.Minute

// ledger counts refusals and logs them at a bounded rate.
type ledger struct {
	clock sensors.Clock
	log   *slog.Logger

	mu      sync.Mutex
	entries map[account]*entry
}

type account struct {
	probe string
	kind  Refusal
}

type entry struct {
	n, told uint64
	at      time.Time // when it was last told
}

// withDefaults returns what stands in for a clock and a log that were not given.
func withDefaults(clock sensors.Clock, log *slog.Logger) (sensors.Clock, *slog.Logger) {
	if clock == nil {
		clock = sensors.RealClock{}
	}
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return clock, log
}

func newLedger(clock sensors.Clock, log *slog.Logger) *ledger {
	return &ledger{clock: clock, log: log, entries: map[account]*entry{}}
}

// note counts a refusal. It reports whether it was also told, and so whether the probe's failure should be.
func (l *ledger) note(probe string, r *refused) bool {
	n, due := l.count(account{probe, r.kind})
	if !due {
		return false
	}
	level := slog.LevelWarn
	if r.kind.usual() {
		level = slog.LevelInfo
	}
	l.log.Log(context.Background(), level, "message refused", "probe", probe, "refusal", r.kind.String(), "times", n, "why", r.why)
	return true
}

// count adds one to an account. When it is due to be told, it returns how many came since it last was.
func (l *ledger) count(a account) (n uint64, due bool) {
	now := l.clock.Now()
	l.mu.Lock()
	defer l.mu.Unlock()
	e := l.entries[a]
	if e == nil {
		e = &entry{}
		l.entries[a] = e
	}
	e.n++
	if since := now.Sub(e.at); !e.at.IsZero() && since >= 0 && since < tellEvery {
		return 0, false
	}
	n = e.n - e.told
	e.told, e.at = e.n, now
	return n, true
}

// counts returns every account, by probe and refusal.
func (l *ledger) counts() []Count {
	l.mu.Lock()
	defer l.mu.Unlock()
	out := make([]Count, 0, len(l.entries))
	for a, e := range l.entries {
		out = append(out, Count{a.probe, a.kind, e.n})
	}
	slices.SortFunc(out, func(a, b Count) int {
		return cmp.Or(cmp.Compare(a.Probe, b.Probe), cmp.Compare(a.Refusal, b.Refusal))
	})
	return out
}
