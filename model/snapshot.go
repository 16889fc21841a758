package model

import (
	"time"

	"pourward/sensors"
)

// Snapshot is what the shop loop publishes: the outlook, which follows from the record alone, and the
// health of the machinery, which does not. Readers share it; nobody changes it.
type Snapshot struct {
	Outlook *Outlook
	Health  Health
}

// Health is what the loop saw of its own machinery since it started.
type Health struct {
	Started time.Time // of this run, by the shop clock
	Probes  []ProbeHealth
	Journal JournalHealth

	Refused      map[string]uint64 // what came over the network and was not taken, by kind of refusal; nil = nothing can
	ClockTrusted bool              // whether the time of day is known to be right
}

// ProbeHealth counts what a probe delivered in this run.
type ProbeHealth struct {
	Name      string
	Reads     uint64                   // attempts
	Faults    map[sensors.Fault]uint64 // attempts that gave no trusted value, by kind
	LastError string                   // of the last failed attempt; empty after a trusted one
}

// JournalHealth is how the record stands.
type JournalHealth struct {
	LastSync time.Time // when readings were last made safe; zero = never
	Waiting  int       // readings not yet safe
	Readings uint64    // recorded in this run
	Marks    uint64    // recorded in this run
	Err      string    // why the last write failed; empty when it did not
}
