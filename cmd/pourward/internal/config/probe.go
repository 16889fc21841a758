package config

import (
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"pourward/cmd/pourward/internal/keyed"
)

const probeExample = `{name: bench-air, place: bench, w1: ` + w1Example + `}`

// farthestOffK is the largest offset, in kelvin: beyond it a probe is broken, not off.
const farthestOffK = 10

// probeKind is one of the groups that say what a probe is, and what holds for such a probe when the file
// says nothing else.
type probeKind struct {
	key, example string
	every        time.Duration // 0: nothing is usual
	sends        bool          // by itself, and perhaps rarely, to spare its battery
	accuracyK    DiffK
	dry          bool // measures no humidity
	bare         bool // there may be nothing in the group
	read         func(*Probe, *group)
}

// probeKinds are all kinds there are.
func probeKinds() []probeKind {
	return append(chipProbes(), []probeKind{
		{key: "ds18b20", example: bridgedExample, every: often, accuracyK: ds18b20AccuracyK, dry: true,
			read: func(p *Probe, g *group) { p.Bridged = readBridged(g) }},
		{key: "w1", example: w1Example, every: often, accuracyK: ds18b20AccuracyK, dry: true,
			read: func(p *Probe, g *group) { p.W1 = readW1(g) }},
		{key: "hwmon", example: hwmonExample, every: often, accuracyK: unknownAccuracyK,
			read: func(p *Probe, g *group) { p.Hwmon = readHwmon(g) }},
		{key: "iio", example: iioExample, every: often, accuracyK: unknownAccuracyK,
			read: func(p *Probe, g *group) { p.IIO = readIIO(g) }},
		{key: "mqtt", example: mqttExample, every: time.Minute, sends: true, accuracyK: unknownAccuracyK,
			read: func(p *Probe, g *group) { p.MQTT = readMQTT(g) }},
		{key: "push", example: pushedExample, every: time.Minute, sends: true, accuracyK: unknownAccuracyK, bare: true,
			read: func(p *Probe, g *group) { p.Pushed = readPushed(g) }},
		{key: "prometheus", example: prometheusExample, every: 30 * time.Second, accuracyK: unknownAccuracyK,
			read: func(p *Probe, g *group) { p.Prometheus = readPrometheus(g) }},
		{key: "recorded", example: recordedExample, accuracyK: unknownAccuracyK,
			read: func(p *Probe, g *group) { p.Recorded = readRecorded(g) }},
	}...)
}

// often is how often a probe is asked that does not mind.
const often = 10 * time.Second

// unknownAccuracyK is what to expect, in kelvin, of an instrument that is not known: an assumption.
const unknownAccuracyK DiffK = 1.0

func readProbes(groups []*group, d declared) []Probe {
	var probes []Probe
	for _, g := range groups {
		probes = append(probes, readProbe(g))
	}
	checkProbes(groups, probes, d)
	return probes
}

func readProbe(g *group) Probe {
	defer g.Done()
	p := Probe{
		Name:  required(g, "name", slug("bench-air")),
		Place: required(g, "place", keyed.Text("bench")),
	}
	k := p.readKind(g)
	p.Every = optional(g, "every", k.interval(), k.every)
	p.AccuracyK = float64(optional(g, "accuracy", accuracy(), k.accuracyK))
	p.Correct = readCorrection(g, k.dry || p.dry())
	p.Limits = readLimits(g.optionalGroup("limits", limitsExample))
	return p
}

// interval is how often such a probe is asked, or how far apart it sends.
func (k probeKind) interval() keyed.Want[time.Duration] {
	if k.sends {
		return duration("5 min", time.Second, time.Hour, "1 s to 1 h")
	}
	return duration("10 s", time.Second, 10*time.Minute, "1 s to 10 min")
}

func accuracy() keyed.Want[DiffK] {
	const finest = 1e-3
	return measured(ParseTempDiff, "0.5 K", finest, farthestOffK, "0.001 K to 10 K")
}

// readKind reads the one group that says what the probe is.
func (p *Probe) readKind(g *group) (is probeKind) {
	kinds := 0
	var keys []string
	for _, k := range probeKinds() {
		keys = append(keys, k.key)
		sub := g.kindGroup(k)
		if sub == nil {
			continue
		}
		k.read(p, sub)
		is = k
		if kinds++; kinds == 2 {
			g.Report(sub.Node.At, "the probe is of two kinds", "keep one and write a second probe")
		}
	}
	if kinds == 0 {
		g.Report(g.Node.At, "the probe is none of "+strings.Join(keys, ", "), "write e.g. w1: "+w1Example)
	}
	return is
}

// kindGroup opens the group of a kind, nil when there is none.
func (g *group) kindGroup(k probeKind) *group {
	if f := g.Find(k.key); k.bare && f != nil && f.Value.Kind == keyed.GroupKind {
		return g.open(g.Path(k.key), f.Value)
	}
	return g.optionalGroup(k.key, k.example)
}

// dry reports that what the file says of the probe leaves out the humidity.
func (p *Probe) dry() bool {
	switch {
	case p.MQTT != nil:
		return p.MQTT.Format.Humidity.Path == ""
	case p.Prometheus != nil:
		return p.Prometheus.Humidity == ""
	case p.Recorded != nil:
		return p.Recorded.Humidity == nil
	}
	return false
}

// device names what a probe sits on, so that two probes on one can be told; empty where several may share.
func (p *Probe) device() string {
	switch {
	case p.Chip != nil:
		return p.Chip.I2C.String()
	case p.Bridged != nil && p.Bridged.ROM != 0:
		return fmt.Sprintf("%s %016x", p.Bridged.Bridge, uint64(p.Bridged.ROM))
	case p.W1 != nil && p.W1.ID != "":
		return filepath.Join(p.W1.Root, p.W1.ID)
	case p.Hwmon != nil && p.Hwmon.Name != "":
		return filepath.Join(p.Hwmon.Root, p.Hwmon.Name)
	case p.IIO != nil && p.IIO.Name != "":
		return filepath.Join(p.IIO.Root, p.IIO.Name)
	case p.MQTT != nil && p.MQTT.Topic != "":
		f := p.MQTT.Format
		return strings.TrimSpace(p.MQTT.Broker + " " + p.MQTT.Topic + " " + f.Temp.Path + " " + f.Humidity.Path)
	case p.Prometheus != nil && p.Prometheus.Server != "":
		return strings.TrimSpace(p.Prometheus.Server + " " + p.Prometheus.Temp + " " + p.Prometheus.Humidity)
	}
	return ""
}

// String names the spot; empty when the file does not say it.
func (a I2C) String() string {
	if a.Bus == "" || a.Address == 0 {
		return ""
	}
	return fmt.Sprintf("%s 0x%x", a.Bus, a.Address)
}
