package kernel

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// lay writes a chip's folder and returns the root.
func lay(t *testing.T, folder string, files map[string]string) string {
	root := t.TempDir()
	dir := filepath.Join(root, folder)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	return root
}

// sane measures once: whatever the files say, a sample holds numbers that a driver can mean, or there is an
// error of a known kind.
func sane(t *testing.T, open sensors.Opener) {
	ctx := context.Background()
	p, err := open(ctx)
	if err != nil {
		return
	}
	s, err := p.Sense(ctx)
	if err != nil {
		require.NotEqual(t, sensors.NoFault, sensors.FaultOf(err))
		return
	}
	require.False(t, math.IsInf(s.TempC, 0) || math.IsInf(s.Humidity, 0))
}

func FuzzHwmon(f *testing.F) {
	for _, seed := range []string{"25875\n", "-5000", "", "x", "9223372036854775808", "0x10", "1e9", "NaN"} {
		f.Add(seed, seed, "0")
		f.Add(seed, "46000", "1")
	}
	f.Fuzz(func(t *testing.T, temp, humidity, fault string) {
		root := lay(t, "hwmon3", map[string]string{"name": "sht4x\n", "temp1_input": temp, "humidity1_input": humidity, "temp1_fault": fault})
		sane(t, Hwmon(root, "sht4x"))
	})
}

func FuzzIIO(f *testing.F) {
	for _, seed := range []string{"23450\n", "46.333007812", "46333", "", "-", "1e400", "NaN"} {
		f.Add(seed, seed, "1", "0")
		f.Add("26214", "26214", "2.517700195", "-15887.515151")
	}
	f.Fuzz(func(t *testing.T, temp, humidity, scale, offset string) {
		for _, files := range []map[string]string{
			{"name": "bme280\n", "in_temp_input": temp, "in_humidityrelative_input": humidity},
			{"name": "bme280\n", "in_temp_raw": temp, "in_temp_scale": scale, "in_temp_offset": offset, "in_humidityrelative_raw": humidity, "in_humidityrelative_scale": scale},
		} {
			root := lay(t, "iio:device0", files)
			sane(t, IIO(root, "bme280", MilliPercent))
			sane(t, IIO(root, "bme280", WholePercent))
		}
	})
}
