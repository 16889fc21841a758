package kernel

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"pourward/sensors"
)

// W1Root is where the kernel lists the chips on its 1-wire buses.
const W1Root = "/sys/bus/w1/devices"

// W1 opens a 1-wire thermometer that the driver w1_therm owns, by the name of its folder
// ("28-00000a1b2c3d"); root is [W1Root] when empty. Each measurement takes about 0.75 s.
func W1(root, id string) sensors.Opener {
	if root == "" {
		root = W1Root
	}
	return func(context.Context) (sensors.Probe, error) {
		decode, err := w1Decoder(id)
		if err != nil {
			return nil, err
		}
		p := &w1{path: filepath.Join(root, id, "w1_slave"), decode: decode}
		if _, err := os.Stat(p.path); err != nil {
			return nil, unread(err, p.path, "check the wiring, and that the w1_therm module is loaded")
		}
		return p, nil
	}
}

type w1 struct {
	path   string
	decode func(pad [9]byte) (float64, error)
}

// Sense reads the file, which makes the kernel start a conversion and wait for it.
func (p *w1) Sense(context.Context) (sensors.Sample, error) {
	text, err := os.ReadFile(p.path)
	if err != nil {
		return sensors.Sample{}, unread(err, p.path, "check the wiring")
	}
	pad, err := parseW1(string(text))
	if err == nil {
		var t float64
		if t, err = p.decode(pad); err == nil {
			return sensors.Sample{TempC: t, Humidity: math.NaN()}, nil
		}
	}
	return sensors.Sample{}, fmt.Errorf("read %s: %w", p.path, err)
}

// Close does nothing: the file is opened for each measurement.
func (p *w1) Close() error { return nil }

// parseW1 returns the nine bytes of the scratchpad from the text of a w1_slave file:
//
//	9e 01 4b 46 7f ff 0c 10 8a : crc=8a YES
//	9e 01 4b 46 7f ff 0c 10 8a t=25875
//
// The kernel's own verdict is not enough: all zeros pass it. A text without any byte is how current
// kernels say that nothing answered or that the checksum was wrong (kernel documentation, w1_therm).
func parseW1(text string) (pad [9]byte, err error) {
	if strings.TrimSpace(text) == "" {
		return pad, found(sensors.NoResponse, "the file is empty: the chip did not answer or its checksum was wrong five times")
	}
	first, _, _ := strings.Cut(text, "\n")
	fields := strings.Fields(first)
	if len(fields) < len(pad)+3 || fields[9] != ":" || !strings.HasPrefix(fields[10], "crc=") {
		return pad, found(sensors.Malformed, "want nine bytes and a checksum, found %.60q", first)
	}
	for i := range pad {
		v, err := strconv.ParseUint(fields[i], 16, 8)
		if err != nil {
			return pad, found(sensors.Malformed, "byte %d of %.60q is not hexadecimal", i+1, first)
		}
		pad[i] = byte(v)
	}
	switch {
	case pad == [9]byte{}:
		return pad, found(sensors.BusError, "all bytes are zero: the data line is shorted or the chip has no supply")
	case fields[11] != "YES" || crc8(pad[:8]) != pad[8]:
		return pad, found(sensors.BadChecksum, "scratchpad % x", pad)
	}
	return pad, nil
}

// crc8 is the checksum of 1-wire chips: polynomial x⁸+x⁵+x⁴+1, least significant bit first (Maxim
// application note 27).
func crc8(b []byte) (crc byte) {
	for _, v := range b {
		crc ^= v
		for range 8 {
			low := crc & 1
			crc >>= 1
			if low != 0 {
				crc ^= 0x8C
			}
		}
	}
	return crc
}

// w1Decoder returns the formula for the family that the name begins with.
func w1Decoder(id string) (func([9]byte) (float64, error), error) {
	family, _, _ := strings.Cut(strings.ToLower(id), "-")
	switch family {
	case "22", "28", "3b", "42":
		return decodeSixteenths, nil
	case "10":
		return decodeHalves, nil
	}
	return nil, fmt.Errorf("open 1-wire probe %q: want the name of a folder in %s that begins with 10-, 22-, 28-, 3b- or 42-", id, W1Root)
}

// unmeasured is what byte 6 holds while the temperature is no measurement: its power-on value.
const unmeasured = 0x0C

// decodeSixteenths is for DS18B20, DS1822, DS1825 and DS28EA00: 1/16 °C a step.
func decodeSixteenths(pad [9]byte) (float64, error) {
	raw := int16(binary.LittleEndian.Uint16(pad[:2]))
	switch {
	case raw == 0x0550 && pad[6] == unmeasured:
		return 0, found(sensors.PowerOn, "the chip restarted while it converted (scratchpad % x): check its supply and the pull-up resistor", pad)
	case raw == 0x07FF:
		return 0, found(sensors.PowerOn, "the chip's supply broke down while it converted (scratchpad % x): power it by three wires or strengthen the pull-up", pad)
	}
	return float64(raw) / 16, nil
}

// decodeHalves is for DS18S20: 1/2 °C a step, refined by the rest of its counter (data sheet, "to
// obtain greater than 9-bit resolution").
func decodeHalves(pad [9]byte) (float64, error) {
	raw := int16(binary.LittleEndian.Uint16(pad[:2]))
	remain, perC := float64(pad[6]), float64(pad[7])
	switch {
	case raw == 0x00AA && pad[6] == unmeasured:
		return 0, found(sensors.PowerOn, "the chip restarted while it converted (scratchpad % x): check its supply and the pull-up resistor", pad)
	case perC == 0:
		return float64(raw) / 2, nil
	}
	return float64(raw>>1) - 0.25 + (perC-remain)/perC, nil
}
