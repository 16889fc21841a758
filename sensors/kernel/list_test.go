package kernel

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every name that is listed opens what it stands for.
func TestListedChipsOpen(t *testing.T) {
	root := t.TempDir()
	device(t, root, "hwmon0", "cooling", map[string]string{"name": "cpu_thermal", "temp1_input": "48312"})
	device(t, root, "hwmon1", "1-0044", map[string]string{"name": "sht4x", "temp1_input": "20512", "humidity1_input": "47300"})
	device(t, root, "hwmon2", "1-0045", map[string]string{"name": "sht4x", "temp1_input": "-3250", "humidity1_input": "91000"})
	device(t, root, "hwmon3", "fan", map[string]string{"name": "pwmfan", "fan1_input": "900"})
	got, err := ListHwmon(root)
	require.NoError(t, err)
	require.Equal(t, []Listed{{Name: "cpu_thermal"}, {Name: "sht4x@1-0044"}, {Name: "sht4x@1-0045"}}, got)
	for _, l := range got {
		_, err := measure(t, Hwmon(root, l.Name))
		require.NoError(t, err, l.Name)
	}
}

// Linux commit 13399ff25f17: the same humidity before and after the correction of its unit.
func TestListedIIOChipsTellTheirUnit(t *testing.T) {
	root := t.TempDir()
	device(t, root, "iio:device0", "1-0076", map[string]string{"name": "bme280", "in_temp_input": "25080", "in_humidityrelative_input": "46333"})
	device(t, root, "iio:device1", "1-0077", map[string]string{"name": "bme280", "in_temp_input": "25080", "in_humidityrelative_input": "46.333007812"})
	device(t, root, "iio:device2", "1-0048", map[string]string{"name": "tmp117", "in_temp_raw": "3200", "in_temp_scale": "7.8125"})
	device(t, root, "iio:device3", "1-0010", map[string]string{"name": "veml7700", "in_illuminance_raw": "3"})
	got, err := ListIIO(root)
	require.NoError(t, err)
	require.Equal(t, []Listed{{"bme280@1-0076", MilliPercent}, {"bme280@1-0077", WholePercent}, {"tmp117", MilliPercent}}, got)
	for _, l := range got {
		_, err := measure(t, IIO(root, l.Name, l.Humidity))
		require.NoError(t, err, l.Name)
	}
}

func TestListedThermometers(t *testing.T) {
	root := t.TempDir()
	for _, name := range []string{"28-000005e2fdc3", "10-000801b5c2f1", "26-000001d8e7a1", "w1_bus_master1"} {
		require.NoError(t, os.MkdirAll(filepath.Join(root, name), 0o755))
	}
	got, err := ListW1(root)
	require.NoError(t, err)
	require.Equal(t, []string{"10-000801b5c2f1", "28-000005e2fdc3"}, got, "a battery monitor and the bus itself are none")
}

func TestClassThatIsNotThere(t *testing.T) {
	root := filepath.Join(t.TempDir(), "none")
	_, err := ListW1(root)
	require.ErrorIs(t, err, fs.ErrNotExist)
	_, err = ListHwmon(root)
	require.ErrorIs(t, err, fs.ErrNotExist)
	_, err = ListIIO(root)
	require.ErrorIs(t, err, fs.ErrNotExist)
}
