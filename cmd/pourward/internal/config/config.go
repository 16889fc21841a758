// Package config reads, checks and explains the daemon's YAML file.
package config

import (
	"log/slog"
	"time"

	"periph.io/x/conn/v3/onewire"

	"pourward/cmd/pourward/internal/access"
	"pourward/model/doubt"
	"pourward/model/plan"
	"pourward/sensors"
	"pourward/sensors/kernel"
	"pourward/sensors/network"
)

// Config is a file that passed every check. All quantities are in the unit their field names.
type Config struct {
	Shop      Shop
	Listen    string     // host:port; a port of 0 lets the system choose one
	Access    *Access    // nil: nobody is asked, and only this board can connect
	Hosts     []string   // names the page answers to, besides localhost and addresses
	Materials string     // the maker's own file of materials; empty for none
	Work      plan.Hours // in which somebody is there to go on; nil when the file does not say
	Journal   Journal
	Places    []Place       // at least one
	Brokers   []Broker      // of MQTT messages, each with a name of its own
	Servers   []Server      // with the query API of Prometheus, each with a name of its own
	PushToken string        // file with the token that may speak for every pushed probe; empty for none
	Probes    []Probe       // at least one; of those at one place the first is believed until it is silent
	Alerts    Alerts        // who is told of alerts
	Pour      *Window       // nil: the shop sets no window of its own
	Scale     *Scale        // nil: not told
	Rates     *doubt.Priors // nil: the built-in ones
	// PatchesVouchFor is how long a test patch that passed vouches; 0 when the file does not say.
	PatchesVouchFor time.Duration
	Log             Log
}

// Shop is what the page calls itself and how it shows time and temperature.
type Shop struct {
	Name string
	Zone *time.Location
	Unit TempUnit // for display only
}

// Access is who may come in.
type Access struct {
	WebFile    string                 // web configuration file, with users and TLS
	Roles      map[string]access.Role // by user of that file
	WithoutTLS string                 // why passwords may cross the network in clear; empty where they may not
	Network    bool                   // hosts beyond this one can connect
}

// Journal is where readings and marks are kept.
type Journal struct {
	File  string        // path, resolved against the config file's folder
	Flush time.Duration // readings wait at most this long before they are durable, 1 s..60 s

	// AskBack is how far back readings are asked for at the start, 3 d..400 d; the journal then keeps marks
	// alone. 0 where it keeps readings, too.
	AskBack time.Duration
}

// Place is a spot of the shop whose temperature matters.
type Place struct {
	Name   string
	Heated *Heated // nil: not told
}

// Probe is one measuring device, or a record of one. Exactly one of the pointers is set: it says of what
// kind the probe is.
type Probe struct {
	Name  string
	Place string // the name of one of Config.Places

	// Every is how often the probe is asked, 1 s..10 min, or how far apart it sends, 1 s..1 h. For a
	// recorded probe it is how far apart the file's rows are, so that a gap can be told from them, and 0
	// when the file does not say.
	Every time.Duration

	AccuracyK float64            // kelvin, half-width of the error to expect; above 0, at most 10
	Correct   sensors.Correction // passed its own check
	Limits    sensors.Limits     // zero where the usual ones hold

	Chip       *Chip
	Bridged    *Bridged
	W1         *W1
	Hwmon      *Hwmon
	IIO        *IIO
	MQTT       *MQTT
	Pushed     *Pushed
	Prometheus *Prometheus
	Recorded   *Recorded
}

// I2C is where a chip sits that is reached through an I²C bus of the board.
type I2C struct {
	Bus     string // absolute path of the bus device
	Address uint16 // one of those the chip can have
	Sys     string // root of sysfs, to see whether a kernel driver holds the chip
}

// Chip is a chip on an I²C bus.
type Chip struct {
	I2C
	Kind ChipKind
}

// Bridged is a 1-wire thermometer behind a bridge on an I²C bus.
type Bridged struct {
	Bridge I2C
	ROM    onewire.Address // checksum included
}

// W1 is a 1-wire thermometer that the kernel drives.
type W1 struct {
	Root string // folder that holds one folder a device
	ID   string // family code and serial as the kernel writes them
}

// Hwmon is a chip under the kernel's hardware monitoring.
type Hwmon struct {
	Root string // folder that holds one folder a chip
	Name string // of the chip's driver, with @ and the device where several have it
}

// IIO is a chip under the kernel's industrial I/O.
type IIO struct {
	Root     string // folder that holds one folder a chip
	Name     string // as that of a [Hwmon]
	Humidity kernel.IIOHumidity
}

// Broker is an MQTT broker. Its secrets are in files of their own.
type Broker struct {
	Name         string
	URL          string // tcp://host:port or tls://host:port
	User         string // empty when the broker asks for none
	PasswordFile string // empty when there is no password
	ClientID     string // empty: the broker chooses
	KeepFor      time.Duration
	TLS          network.TLSFiles
}

// MQTT is a probe that sends messages to a broker.
type MQTT struct {
	Broker       string // the name of one of Config.Brokers
	Topic        string
	Format       network.Format
	TrustTime    bool // stamped by the time in its messages
	Availability network.Availability
}

// Pushed is a probe whose readings are posted to the daemon.
type Pushed struct {
	TokenFile    string           // file with a token for it alone; empty where the shared one is enough
	TempUnit     network.TempUnit // zero: told in every request
	HumidityUnit network.HumidityUnit
	TrustTime    bool // stamped by the time in its requests
}

// Server is a server with the query API of Prometheus. Its secrets are in files of their own.
type Server struct {
	Name         string
	URL          string
	User         string
	PasswordFile string
	TokenFile    string
	TLS          network.TLSFiles
}

// Prometheus is a probe that a server has samples of.
type Prometheus struct {
	Server       string // the name of one of Config.Servers
	Temp         string // PromQL expression; empty when it is not measured
	TempUnit     network.TempUnit
	Humidity     string // PromQL expression; empty when it is not measured
	HumidityUnit network.HumidityUnit
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
