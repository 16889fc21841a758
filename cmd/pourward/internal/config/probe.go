package config

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

const (
	probeExample  = `{name: bench-air, place: bench, w1: {id: "28-0000072431d7"}}`
	bme280Example = `{bus: "/dev/i2c-1", address: 0x76}`
	w1Example     = `{id: "28-0000072431d7"}`
)

// Accuracies to expect when the file gives none, in kelvin.
const (
	bme280AccuracyK   = 1.0 // 0..65 °C: Bosch data sheet BST-BME280-DS002, temperature parameters; from memory
	w1AccuracyK       = 0.5 // -10..85 °C: Maxim data sheet of the DS18B20, thermometer error
	recordedAccuracyK = 1.0 // assumption: the instrument is unknown
)

const (
	defaultEvery = 10 * time.Second
	farthestOffK = 10 // beyond it a probe is broken, not off
)

func readProbes(groups []*group, declared []named) []Probe {
	var probes []Probe
	var names, places, devices []named
	for _, g := range groups {
		p := readProbe(g)
		probes = append(probes, p)
		names = append(names, g.named("name"))
		places = append(places, g.named("place"))
		devices = append(devices, g.device(p))
	}
	reportTwins(names, "probe", "every probe needs a name of its own")
	reportTwins(places, "a probe at place", "one probe per place; add a place of its own")
	reportTwins(devices, "device", "two probes cannot be one device")
	reportDangling(places, declared)
	return probes
}

func readProbe(g *group) Probe {
	defer g.done()
	p := Probe{
		Name:  required(g, "name", slug("bench-air")),
		Place: required(g, "place", text("bench")),
	}
	usual := p.readKind(g)
	p.Every = optional(g, "every", duration("10 s", time.Second, 10*time.Minute, "1 s to 10 min"), usual.every)
	p.OffsetK = float64(optional(g, "offset", measured(ParseTempDiff, "-0.3 K", -farthestOffK, farthestOffK, "-10 K to 10 K"), 0))
	p.AccuracyK = float64(optional(g, "accuracy", accuracy(), usual.accuracyK))
	return p
}

func accuracy() want[DiffK] {
	const finest = 1e-3
	return measured(ParseTempDiff, "0.5 K", finest, farthestOffK, "0.001 K to 10 K")
}

// usual is what holds for a kind of probe when the file says nothing.
type usual struct {
	every     time.Duration
	accuracyK DiffK
}

// readKind reads the one group that says what the probe is.
func (p *Probe) readKind(g *group) (u usual) {
	kinds := 0
	is := func(key, example string, read func(*group)) {
		if sub := g.optionalGroup(key, example); sub != nil {
			read(sub)
			if kinds++; kinds == 2 {
				g.report(sub.node.at, "the probe is of two kinds", "keep one and write a second probe at a place of its own")
			}
		}
	}
	is("bme280", bme280Example, func(g *group) {
		p.BME280, u = readBME280(g), usual{defaultEvery, bme280AccuracyK}
	})
	is("w1", w1Example, func(g *group) {
		p.W1, u = readW1(g), usual{defaultEvery, w1AccuracyK}
	})
	is("recorded", recordedExample, func(g *group) {
		p.Recorded, u = readRecorded(g), usual{0, recordedAccuracyK}
	})
	if kinds == 0 {
		g.report(g.node.at, "the probe has no kind: bme280, w1 or recorded", "write e.g. w1: "+w1Example)
	}
	return u
}

func readBME280(g *group) *BME280 {
	defer g.done()
	return &BME280{
		Bus:     required(g, "bus", absolute("/dev/i2c-1")),
		Address: required(g, "address", want[uint16]{"0x76", bme280Address}),
		Sys:     optional(g, "sys", path(g.dir, "/sys"), "/sys"),
	}
}

// bme280Address is one of the two the chip can be wired to.
func bme280Address(n *node) (uint16, error) {
	if n.kind != numberKind {
		return 0, isNot(n, numberKind)
	}
	v, err := strconv.ParseUint(strings.ToLower(n.text), 0, 16)
	if err != nil || v != 0x76 && v != 0x77 {
		return 0, wrongf("%s is neither 0x76 nor 0x77", n.text)
	}
	return uint16(v), nil
}

// w1ID is a thermometer as the kernel names its folder: family code (the five that Linux,
// Documentation/w1/slaves/w1_therm.rst, lists) and 48-bit serial.
var w1ID = regexp.MustCompile(`^(10|22|28|3b|42)-[0-9a-f]{12}$`)

func readW1(g *group) *W1 {
	defer g.done()
	return &W1{
		Root: optional(g, "root", path(g.dir, "/sys/bus/w1/devices"), "/sys/bus/w1/devices"),
		ID:   required(g, "id", matching(w1ID, "a thermometer's family (10, 22, 28, 3b or 42), - and 12 of 0-9 and a-f", "28-0000072431d7")),
	}
}

// device names what a live probe sits on; a recorded one has no name here, for a file may hold several.
func (g *group) device(p Probe) named {
	switch {
	case p.BME280 != nil && p.BME280.Bus != "" && p.BME280.Address != 0:
		return named{g, fmt.Sprintf("%s 0x%x", p.BME280.Bus, p.BME280.Address), g.at("bme280")}
	case p.W1 != nil && p.W1.ID != "":
		return named{g, filepath.Join(p.W1.Root, p.W1.ID), g.at("w1")}
	}
	return named{}
}
