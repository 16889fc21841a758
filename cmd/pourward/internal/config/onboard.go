package config

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"periph.io/x/conn/v3/onewire"

	"pourward/cmd/pourward/internal/keyed"
	"pourward/sensors/kernel"
)

const (
	bridgedExample = `{bridge: ` + bridgeExample + `, rom: "28-0000072431d7"}`
	bridgeExample  = `{bus: "/dev/i2c-1", address: 0x18}`
	w1Example      = `{id: "28-0000072431d7"}`
	hwmonExample   = `{name: sht4x}`
	iioExample     = `{name: bme280}`
)

// ds18b20AccuracyK is the accuracy to expect of a 1-wire thermometer, in kelvin: -10..85 °C, Maxim data
// sheet of the DS18B20, thermometer error.
const ds18b20AccuracyK DiffK = 0.5

// ChipKind is a chip that can be read on an I²C bus; its text is the key in the file.
type ChipKind string

// The chips there are.
const (
	AHT20   ChipKind = "aht20"
	AM2320  ChipKind = "am2320"
	BME280  ChipKind = "bme280" // or BMP280, which measures no humidity
	HDC302x ChipKind = "hdc302x"
	MCP9808 ChipKind = "mcp9808"
	SCD4x   ChipKind = "scd4x"
	SHT3x   ChipKind = "sht3x"
	SHT4x   ChipKind = "sht4x"
	TMP102  ChipKind = "tmp102"
)

// chipModel is what is to be known of a chip to read its keys.
type chipModel struct {
	kind      ChipKind
	addresses []uint16 // that it can be wired to, by its data sheet
	accuracyK DiffK    // to expect when the file says nothing
	every     time.Duration
	dry       bool
}

// chipModels are all chips. The accuracies are those that the data sheets promise or, where only that is
// told, call typical: Bosch BST-BME280-DS002, 0 to 65 °C; Sensirion SHT3x-DIS (SHT30), SHT4x (SHT40) and
// SCD4x, 15 to 35 °C; Texas Instruments SNAS778 and SBOS397; Aosong AHT20 and AM2320; Microchip DS25095.
func chipModels() []chipModel {
	return []chipModel{
		{kind: AHT20, addresses: []uint16{0x38}, accuracyK: 0.3},
		{kind: AM2320, addresses: []uint16{0x5C}, accuracyK: 0.5},
		{kind: BME280, addresses: []uint16{0x76, 0x77}, accuracyK: 1.0},
		{kind: HDC302x, addresses: []uint16{0x44, 0x45, 0x46, 0x47}, accuracyK: 0.1},
		{kind: MCP9808, addresses: []uint16{0x18, 0x19, 0x1A, 0x1B, 0x1C, 0x1D, 0x1E, 0x1F}, accuracyK: 0.5, dry: true},
		{kind: SCD4x, addresses: []uint16{0x62}, accuracyK: 0.8, every: 30 * time.Second}, // it holds the bus for up to 5 s
		{kind: SHT3x, addresses: []uint16{0x44, 0x45}, accuracyK: 0.3},
		{kind: SHT4x, addresses: []uint16{0x44, 0x45, 0x46}, accuracyK: 0.2},
		{kind: TMP102, addresses: []uint16{0x48, 0x49, 0x4A, 0x4B}, accuracyK: 0.5, dry: true},
	}
}

// Chips are the kinds of chips on an I²C bus.
func Chips() []ChipKind {
	var out []ChipKind
	for _, m := range chipModels() {
		out = append(out, m.kind)
	}
	return out
}

func chipProbes() []probeKind {
	var out []probeKind
	for _, m := range chipModels() {
		k := probeKind{key: string(m.kind), example: m.example(), every: m.every, accuracyK: m.accuracyK, dry: m.dry,
			read: func(p *Probe, g *group) { p.Chip = readChip(g, m) }}
		if k.every == 0 {
			k.every = often
		}
		out = append(out, k)
	}
	return out
}

func (m chipModel) example() string {
	if len(m.addresses) == 1 {
		return `{bus: "/dev/i2c-1"}`
	}
	return fmt.Sprintf(`{bus: "/dev/i2c-1", address: %#x}`, m.addresses[0])
}

func readChip(g *group, m chipModel) *Chip {
	defer g.Done()
	return &Chip{readI2C(g, m.addresses...), m.kind}
}

// readI2C reads where a chip sits that can have one of the addresses.
func readI2C(g *group, addresses ...uint16) I2C {
	a := I2C{
		Bus: required(g, "bus", absolute("/dev/i2c-1")),
		Sys: optional(g, "sys", path(g.dir, "/sys"), "/sys"),
	}
	if len(addresses) == 1 {
		a.Address = optional(g, "address", address(addresses), addresses[0])
	} else {
		a.Address = required(g, "address", address(addresses))
	}
	return a
}

// address is one of those a chip can be wired to.
func address(of []uint16) keyed.Want[uint16] {
	names := make([]string, len(of))
	for i, a := range of {
		names[i] = fmt.Sprintf("%#x", a)
	}
	never := "none of " + strings.Join(names, ", ")
	switch len(of) {
	case 1:
		never = "not " + names[0] + ", the only one this chip has"
	case 2:
		never = "neither " + names[0] + " nor " + names[1]
	}
	return keyed.Want[uint16]{Example: names[0], Read: func(n *keyed.Node) (uint16, error) {
		if n.Kind != keyed.NumberKind {
			return 0, keyed.IsNot(n, keyed.NumberKind)
		}
		v, err := strconv.ParseUint(strings.ToLower(n.Text), 0, 16)
		if err != nil || !slices.Contains(of, uint16(v)) {
			return 0, keyed.Wrongf("%s is %s", n.Text, never)
		}
		return uint16(v), nil
	}}
}

func readBridged(g *group) *Bridged {
	defer g.Done()
	bridge := g.group("bridge", bridgeExample)
	defer bridge.Done()
	return &Bridged{
		Bridge: readI2C(bridge, 0x18, 0x19),
		ROM:    required(g, "rom", keyed.Then(keyed.Text("28-0000072431d7"), parseROM)),
	}
}

// bridgedFamily is the family code of the DS18B20 (data sheet, "64-bit lasered ROM code").
const bridgedFamily = 0x28

// parseROM reads the number in the ROM of a DS18B20: as the kernel names the chip's folder, family and
// serial; or as all 16 digits, in the order in which the chip sends them, family first, or as a number,
// family last. The checksum tells which of the two it is.
func parseROM(s string) (onewire.Address, error) {
	if serial, ok := strings.CutPrefix(strings.ToLower(s), "28-"); ok && len(serial) == 12 {
		if v, err := strconv.ParseUint(serial, 16, 48); err == nil {
			return withChecksum(v<<8 | bridgedFamily), nil
		}
	}
	v, err := strconv.ParseUint(strings.TrimPrefix(strings.ToLower(s), "0x"), 16, 64)
	if err != nil || len(strings.TrimPrefix(strings.ToLower(s), "0x")) != 16 {
		return 0, keyed.Wrongf("%q is neither 28- and 12 of 0-9 and a-f, nor all 16 of them", s)
	}
	var sent uint64 // the other way round
	for i := range 8 {
		sent = sent<<8 | v>>(8*i)&0xFF
	}
	for _, number := range [...]uint64{v, sent} {
		if rom := withChecksum(number & (1<<56 - 1)); number&0xFF == bridgedFamily && uint64(rom) == number {
			return rom, nil
		}
	}
	return 0, keyed.Wrongf("%q is not the number of a DS18B20: family (28) or checksum do not fit", s)
}

// withChecksum completes the number of a chip.
func withChecksum(number uint64) onewire.Address {
	var bytes [7]byte
	for i := range bytes {
		bytes[i] = byte(number >> (8 * i))
	}
	return onewire.Address(number | uint64(onewire.CalcCRC(bytes[:]))<<56)
}

// w1ID is a thermometer as the kernel names its folder: family code (the five that Linux,
// Documentation/w1/slaves/w1_therm.rst, lists) and 48-bit serial.
var w1ID = regexp.MustCompile(`^(10|22|28|3b|42)-[0-9a-f]{12}$`)

func readW1(g *group) *W1 {
	defer g.Done()
	return &W1{
		Root: root(g, kernel.W1Root),
		ID:   required(g, "id", matching(w1ID, "a thermometer's family (10, 22, 28, 3b or 42), - and 12 of 0-9 and a-f", "28-0000072431d7")),
	}
}

func readHwmon(g *group) *Hwmon {
	defer g.Done()
	return &Hwmon{Root: root(g, kernel.HwmonRoot), Name: driverName(g, "sht4x")}
}

func readIIO(g *group) *IIO {
	defer g.Done()
	units := map[string]kernel.IIOHumidity{"milli-percent": kernel.MilliPercent, "percent": kernel.WholePercent}
	return &IIO{
		Root:     root(g, kernel.IIORoot),
		Name:     driverName(g, "bme280"),
		Humidity: optional(g, "humidity", choice("milli-percent", units), kernel.MilliPercent),
	}
}

func root(g *group, usual string) string { return optional(g, "root", path(g.dir, usual), usual) }

// driverName is a chip's name as the kernel gives it.
func driverName(g *group, example string) string {
	return required(g, "name", matching(regexp.MustCompile(`^[^\s/@]+(@[^\s/@]+)?$`),
		"the name of a driver, with @ and the device where several chips have it", example))
}
