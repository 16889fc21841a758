// Package config reads, checks and explains the daemon's YAML file.
package config

import (
	"log/slog"
	"time"
)

// Config is a file that passed every check. All quantities are in the unit their field names.
type Config struct {
	Shop          Shop
	Listen        string // host:port; a port of 0 lets the system choose one
	NetworkReason string // why hosts beyond this one may connect; empty when only loopback may
	Journal       Journal
	Places        []Place // at least one
	Probes        []Probe // at least one, at most one a place
	Pour          *Window // nil: the shop sets no window of its own
	Log           Log
}

// Shop is what the page calls itself and how it shows time and temperature.
type Shop struct {
	Name string
	Zone *time.Location
	Unit TempUnit // for display only
}

// Journal is where readings and marks are kept.
type Journal struct {
	File  string        // path, resolved against the config file's folder
	Flush time.Duration // readings wait at most this long before they are durable, 1 s..60 s
}

// Place is a spot of the shop whose temperature matters.
type Place struct{ Name string }

// Probe is one measuring device, or a record of one. Exactly one of BME280, W1 and Recorded is set.
type Probe struct {
	Name  string
	Place string // the name of one of Config.Places

	// Every is how often the probe is read, 1 s..10 min. For a recorded probe it is how far apart the
	// file's rows are, so that a gap can be told from them, and 0 when the file does not say.
	Every time.Duration

	OffsetK   float64 // kelvin, added to every measured temperature; -10..10
	AccuracyK float64 // kelvin, half-width of the error to expect; above 0, at most 10

	BME280   *BME280
	W1       *W1
	Recorded *Recorded
}

// BME280 is a temperature and humidity chip on an I²C bus of the board.
type BME280 struct {
	Bus     string // absolute path of the bus device
	Address uint16 // 0x76 or 0x77
	Sys     string // root of sysfs, to see whether a kernel driver holds the chip
}

// W1 is a 1-Wire thermometer that the kernel drives.
type W1 struct {
	Root string // folder that holds one folder a device
	ID   string // family code and serial as the kernel writes them
}

// Recorded is a CSV file with a header row, played back as if it were measured now.
type Recorded struct {
	File        string // path, resolved against the config file's folder
	Time        TimeColumn
	Temperature TempColumn
	Humidity    *HumidityColumn // nil: the file holds none
	Speed       float64         // 1 is real time; +Inf is as fast as it goes; never 0 or less
}

// LayoutUnix is the layout of a [TimeColumn] that counts seconds since 1970-01-01 00:00 UTC; any other
// layout is in the form of package time.
const LayoutUnix = "unix"

// TimeColumn says where a row's instant stands and how it is written.
type TimeColumn struct {
	Column string
	Layout string         // LayoutUnix or a layout of package time
	Zone   *time.Location // of local times; UTC when the layout names its own zone or needs none
}

// TempColumn says where a row's temperature stands.
type TempColumn struct {
	Column string
	Unit   TempUnit
}

// HumidityColumn says where a row's relative humidity stands.
type HumidityColumn struct {
	Column  string
	Percent bool // true: 0..100; false: a ratio 0..1
}

// Window is the range of air temperatures, in °C, in which the shop pours. MinC is below MaxC.
type Window struct{ MinC, MaxC float64 }

// Log is how the daemon writes about itself.
type Log struct {
	Level slog.Level
	JSON  bool // false: text
}
