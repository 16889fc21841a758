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

	Delivery []DeliveryHealth // of everyone who is told of alerts, in the order of the daemon's file

	Refused      map[string]uint64 // what came over the network and was not taken, by kind of refusal; nil = nothing can
	ClockTrusted bool              // whether the time of day is known to be right
	Shifts       []sensors.Shift   // of this run, in order: instants that were told before are to be moved by them
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
	Stand    RecordStand
}

// DeliveryHealth is how what one target must hear of alerts stands.
type DeliveryHealth struct {
	Target  string        // its name
	Channel string        // alertmanager, mail or webhook
	Waiting int           // alerts and ends of alerts it must still hear, without those held back
	Held    int           // those that quiet hours hold back
	Oldest  time.Duration // for how long it has not heard what it must; 0 = it has
	Sent    uint64        // alerts, ends and messages it took in this run
	Failed  uint64        // attempts that failed in this run
	Given   uint64        // alerts and ends given up untold in this run
	Err     string        // why the last attempt failed; empty when it did not
}
