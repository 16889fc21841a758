package kernel

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// device puts a chip's files in a folder of a class; where is its bus address.
func device(t *testing.T, root, folder, where string, files map[string]string) {
	t.Helper()
	dir := filepath.Join(root, folder)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text+"\n"), 0o644))
	}
	require.NoError(t, os.Symlink("../../../devices/platform/i2c-1/"+where, filepath.Join(dir, "device")))
}

func measure(t *testing.T, open sensors.Opener) (sensors.Sample, error) {
	p, err := open(t.Context())
	if err != nil {
		return sensors.Sample{}, err
	}
	defer p.Close()
	return p.Sense(t.Context())
}

// Files and units as in the kernel documentation, hwmon/sysfs-interface.
func TestHwmon(t *testing.T) {
	root := t.TempDir()
	device(t, root, "hwmon0", "cooling", map[string]string{"name": "cpu_thermal", "temp1_input": "48312"})
	device(t, root, "hwmon1", "1-0044", map[string]string{"name": "sht4x", "temp1_input": "20512", "humidity1_input": "47300"})
	device(t, root, "hwmon2", "1-0045", map[string]string{"name": "sht4x", "temp1_input": "-3250", "humidity1_input": "91000"})
	device(t, root, "hwmon3", "1-0018", map[string]string{"name": "jc42", "temp1_input": "19875", "temp1_fault": "0"})
	device(t, root, "hwmon4", "1-0048", map[string]string{"name": "tmp102", "temp1_input": "19875", "temp1_fault": "1"})
	device(t, root, "hwmon5", "1-0038", map[string]string{"name": "aht20", "temp1_input": "", "humidity1_input": "1"})

	for chip, want := range map[string]sensors.Sample{
		"sht4x@1-0044": {TempC: 20.512, Humidity: 0.473},
		"sht4x@1-0045": {TempC: -3.25, Humidity: 0.91},
	} {
		s, err := measure(t, Hwmon(root, chip))
		require.NoError(t, err)
		require.InDelta(t, want.TempC, s.TempC, 1e-12)
		require.InDelta(t, want.Humidity, s.Humidity, 1e-12)
	}
	s, err := measure(t, Hwmon(root, "jc42"))
	require.NoError(t, err)
	require.Equal(t, 19.875, s.TempC)
	require.True(t, math.IsNaN(s.Humidity))

	_, err = measure(t, Hwmon(root, "sht4x"))
	require.ErrorContains(t, err, "sht4x@1-0045", "it says which there are")
	for chip, kind := range map[string]sensors.Fault{"tmp102": sensors.BusError, "aht20": sensors.Malformed, "sht3x": sensors.NoResponse} {
		_, err = measure(t, Hwmon(root, chip))
		require.Equal(t, kind, sensors.FaultOf(err), "%s: %v", chip, err)
	}
}

func TestHwmonChipThatGoesAway(t *testing.T) {
	root := t.TempDir()
	device(t, root, "hwmon1", "1-0044", map[string]string{"name": "sht4x", "temp1_input": "20512"})
	p, err := Hwmon(root, "sht4x")(t.Context())
	require.NoError(t, err)
	require.NoError(t, os.RemoveAll(filepath.Join(root, "hwmon1")))
	_, err = p.Sense(t.Context())
	require.Equal(t, sensors.NoResponse, sensors.FaultOf(err))
	_, err = Hwmon(filepath.Join(root, "none"), "sht4x")(t.Context())
	require.Equal(t, sensors.NoResponse, sensors.FaultOf(err))
}

func TestIIO(t *testing.T) {
	root := t.TempDir()
	// Linux commit 13399ff25f17: the same humidity before and after the correction of its unit.
	device(t, root, "iio:device0", "1-0076", map[string]string{"name": "bme280", "in_temp_input": "25080", "in_humidityrelative_input": "46333"})
	device(t, root, "iio:device1", "1-0077", map[string]string{"name": "bme280", "in_temp_input": "25080", "in_humidityrelative_input": "46.333007812"})
	// Linux driver hdc100x: 165000/65536 and −40 °C as offset, 100000/65536; both raw values 0x6666.
	device(t, root, "iio:device2", "1-0040", map[string]string{"name": "hdc1008",
		"in_temp_raw": "26214", "in_temp_offset": "-15887.515151", "in_temp_scale": "2.517700195",
		"in_humidityrelative_raw": "26214", "in_humidityrelative_scale": "1.525878906"})
	device(t, root, "iio:device3", "1-0048", map[string]string{"name": "tmp117", "in_temp_raw": "3200", "in_temp_scale": "7.8125"})

	for _, c := range []struct {
		chip            string
		unit            IIOHumidity
		tempC, humidity float64
		tolerance       float64
	}{
		{"bme280@1-0076", MilliPercent, 25.08, 0.46333, 1e-9},
		{"bme280@1-0077", WholePercent, 25.08, 0.46333007812, 1e-9},
		{"hdc1008", MilliPercent, 25.99899, 0.3999939, 1e-5},
	} {
		s, err := measure(t, IIO(root, c.chip, c.unit))
		require.NoError(t, err, c.chip)
		require.InDelta(t, c.tempC, s.TempC, c.tolerance, c.chip)
		require.InDelta(t, c.humidity, s.Humidity, c.tolerance, c.chip)
	}
	s, err := measure(t, IIO(root, "tmp117", MilliPercent))
	require.NoError(t, err)
	require.Equal(t, 25.0, s.TempC, "TMP117 data sheet: 7.8125 m°C a step, 0x0C80 is 25 °C")
	require.True(t, math.IsNaN(s.Humidity))

	_, err = measure(t, IIO(root, "bme280@1-0077", MilliPercent))
	require.ErrorContains(t, err, "gives percent with decimals")
	_, err = measure(t, IIO(root, "bme280@1-0076", WholePercent))
	require.ErrorContains(t, err, "gives thousandths")
}

// Under iio a device's folder is itself a link into the folder of its bus address.
func TestIIODeviceThatIsALink(t *testing.T) {
	top := t.TempDir()
	real := filepath.Join(top, "devices", "i2c-1", "1-0076", "iio:device0")
	require.NoError(t, os.MkdirAll(real, 0o755))
	for name, text := range map[string]string{"name": "bme280", "in_temp_input": "20000", "in_humidityrelative_input": "50000"} {
		require.NoError(t, os.WriteFile(filepath.Join(real, name), []byte(text), 0o644))
	}
	root := filepath.Join(top, "bus")
	require.NoError(t, os.MkdirAll(root, 0o755))
	require.NoError(t, os.Symlink(real, filepath.Join(root, "iio:device0")))
	p, err := IIO(root, "bme280@1-0076", MilliPercent)(t.Context())
	require.NoError(t, err)
	s, err := p.Sense(t.Context())
	require.NoError(t, err)
	require.Equal(t, sensors.Sample{TempC: 20, Humidity: 0.5}, s)
	require.NoError(t, os.RemoveAll(real))
	_, err = p.Sense(t.Context())
	require.Equal(t, sensors.NoResponse, sensors.FaultOf(err))
}

func TestNumbersThatAreNone(t *testing.T) {
	for _, text := range []string{"", "abc", "NaN", "Inf", strings.Repeat("9", 400)} {
		path := filepath.Join(t.TempDir(), "temp1_input")
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		_, _, err := readNumber(path)
		require.Equal(t, sensors.Malformed, sensors.FaultOf(err), text)
	}
}
