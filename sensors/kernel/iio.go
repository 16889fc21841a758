package kernel

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"pourward/sensors"
)

// IIORoot is where the kernel lists the chips of its industrial input drivers.
const IIORoot = "/sys/bus/iio/devices"

// IIOHumidity is the unit in which a driver gives processed humidity.
type IIOHumidity uint8

// Units of in_humidityrelative_input.
const (
	MilliPercent IIOHumidity = iota // as the kernel's interface demands
	WholePercent                    // as the BME280 driver did before Linux 4.18, with decimals
)

// IIO opens a chip under iio by its driver's name ("bme280", or "bme280@1-0076" where there are
// several); root is [IIORoot] when empty. Values are in_*_input, or else (raw + offset) × scale (kernel
// documentation, ABI/testing/sysfs-bus-iio: thousandths of °C and of percent).
func IIO(root, chip string, unit IIOHumidity) sensors.Opener {
	if root == "" {
		root = IIORoot
	}
	return func(context.Context) (sensors.Probe, error) {
		folder, err := chipFolder(root, chip)
		if err != nil {
			return nil, err
		}
		return &iio{folder: folder, unit: unit}, nil
	}
}

type iio struct {
	folder string
	unit   IIOHumidity
}

// Sense reads the driver's files, each of which may make a measurement.
func (p *iio) Sense(context.Context) (s sensors.Sample, err error) {
	milli, _, err := p.channel("in_temp")
	if err != nil {
		return s, err
	}
	humidity, text, err := p.channel("in_humidityrelative")
	if err != nil {
		return s, err
	}
	if humidity, err = p.percent(humidity, text); err != nil {
		return s, err
	}
	return sensors.Sample{TempC: milli / 1000, Humidity: humidity / 100}, nil
}

// Close does nothing: the files are opened for each measurement.
func (p *iio) Close() error { return nil }

// channel returns a value and its text, NaN when the chip does not measure it.
func (p *iio) channel(name string) (float64, string, error) {
	file := func(suffix string) string { return filepath.Join(p.folder, name+suffix) }
	if exists(file("_input")) {
		return readNumber(file("_input"))
	}
	if !exists(file("_raw")) {
		if !exists(p.folder) {
			return 0, "", found(sensors.NoResponse, "read %s: the chip is gone; check the wiring", p.folder)
		}
		return math.NaN(), "", nil
	}
	raw, _, err := readNumber(file("_raw"))
	if err != nil {
		return 0, "", err
	}
	offset, scale := 0.0, 1.0
	if exists(file("_offset")) {
		if offset, _, err = readNumber(file("_offset")); err != nil {
			return 0, "", err
		}
	}
	if exists(file("_scale")) {
		if scale, _, err = readNumber(file("_scale")); err != nil {
			return 0, "", err
		}
	}
	return (raw + offset) * scale, "", nil
}

// percent returns the humidity in percent. A processed value that does not fit the unit is refused:
// the two differ by a thousand, and no value tells by itself which it is.
func (p *iio) percent(v float64, text string) (float64, error) {
	whole := strings.Contains(text, ".")
	switch {
	case text == "":
		return v / 1000, nil
	case p.unit == MilliPercent && whole:
		return 0, fmt.Errorf("read humidity %q in %s: this driver gives percent with decimals, not thousandths; say so in the settings", text, p.folder)
	case p.unit == WholePercent && !whole:
		return 0, fmt.Errorf("read humidity %q in %s: this driver gives thousandths of a percent, not percent with decimals; say so in the settings", text, p.folder)
	case p.unit == WholePercent:
		return v, nil
	}
	return v / 1000, nil
}
