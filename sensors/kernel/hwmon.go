package kernel

import (
	"context"
	"math"
	"path/filepath"

	"pourward/sensors"
)

// HwmonRoot is where the kernel lists the chips of its hardware monitoring drivers.
const HwmonRoot = "/sys/class/hwmon"

// Hwmon opens a chip under hwmon by its driver's name ("sht4x", or "sht4x@1-0044" where there are
// several); root is [HwmonRoot] when empty. Its first temperature is read, and its first humidity if
// it has one (kernel documentation, hwmon/sysfs-interface: thousandths of °C and of percent).
func Hwmon(root, chip string) sensors.Opener {
	if root == "" {
		root = HwmonRoot
	}
	return func(context.Context) (sensors.Probe, error) {
		folder, err := chipFolder(root, chip)
		if err != nil {
			return nil, err
		}
		return hwmon(folder), nil
	}
}

// hwmon is the chip's folder.
type hwmon string

// Sense reads the driver's files. A driver may answer from its memory if it was asked shortly before.
func (h hwmon) Sense(context.Context) (s sensors.Sample, err error) {
	if err = h.fault("temp1_fault"); err == nil {
		s.TempC, err = h.milli("temp1_input")
	}
	if err == nil {
		s.Humidity, err = h.milli("humidity1_input")
		s.Humidity /= 100
	}
	return s, err
}

// Close does nothing: the files are opened for each measurement.
func (h hwmon) Close() error { return nil }

// milli returns a thousandth of what a file says, NaN when the chip does not have it.
func (h hwmon) milli(file string) (float64, error) {
	path := filepath.Join(string(h), file)
	if !exists(path) && exists(string(h)) {
		return math.NaN(), nil
	}
	v, _, err := readNumber(path)
	return v / 1000, err
}

// fault returns an error when the driver itself says that the sensor is broken.
func (h hwmon) fault(file string) error {
	path := filepath.Join(string(h), file)
	if !exists(path) {
		return nil
	}
	v, _, err := readNumber(path)
	if err == nil && v != 0 {
		err = found(sensors.BusError, "read %s: the driver reports a broken or unconnected sensor", path)
	}
	return err
}
