package main

import (
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/cmd/pourward/internal/config"
	"pourward/model"
	"pourward/sensors"
)

// A kernel's folder of 1-Wire chips with one DS18B20 in it. The bytes at 25.0625 °C are those of the
// chip's data sheet; those at 25.875 °C were read from a chip (google/periph issue 359).
const (
	w1Chip  = "28-000005e2fdc3"
	at25063 = "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n"
	at25875 = "9e 01 4b 46 7f ff 0c 10 8a : crc=8a YES\n9e 01 4b 46 7f ff 0c 10 8a t=25875\n"
)

// plug puts the chip into the folder, or other bytes into it where it is; they change at once, as a
// kernel's do.
func plug(t *testing.T, root, text string) {
	t.Helper()
	chip := filepath.Join(root, w1Chip)
	require.NoError(t, os.MkdirAll(chip, 0o755))
	fresh := filepath.Join(chip, "fresh")
	require.NoError(t, os.WriteFile(fresh, []byte(text), 0o644))
	require.NoError(t, os.Rename(fresh, filepath.Join(chip, "w1_slave")))
}

// liveConfig is a shop with that chip against the pattern, in a folder of its own.
func liveConfig(t *testing.T) (file, root string) {
	t.Helper()
	dir := t.TempDir()
	root = filepath.Join(dir, "w1")
	plug(t, root, at25875)
	file = filepath.Join(dir, "annex.yml")
	require.NoError(t, os.WriteFile(file, fmt.Appendf(nil, `
shop: {name: Annex, zone: Europe/Brussels}
listen: "127.0.0.1:0"
journal: {file: annex.journal, flush: "1 s"}
places: [{name: bench}]
probes:
  - {name: skin, place: bench, every: "1 s", w1: {root: w1, id: %s}}
`, w1Chip), 0o644))
	return file, root
}

// value finds a series in the text of /metrics.
func value(t *testing.T, text, series string) float64 {
	t.Helper()
	for line := range strings.Lines(text) {
		if number, ok := strings.CutPrefix(line, series+" "); ok {
			v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
			require.NoError(t, err, line)
			return v
		}
	}
	require.Fail(t, "no such series", series)
	return 0
}

// A thermometer whose folder vanishes, as the kernel has it when the plug is pulled, is silent after two
// minutes and called out after five more; both end when it is back.
func TestProbeThatVanishes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		file, root := liveConfig(t)
		c, err := config.Load(file)
		require.NoError(t, err)
		o, err := fromConfig(c, slog.New(slog.DiscardHandler))
		require.NoError(t, err)
		o.board, o.clock = nil, sensors.RealClock{} // the bubble's time; that since boot passes outside
		var told notes
		o.watch = func(_ *model.Snapshot, changes []alerts.Change) {
			for _, c := range changes {
				fmt.Fprintln(&told, c.Alert.Name, c.Alert.Labels["probe"], c.Ended)
			}
		}
		r := rehearse(t, o)
		number := func(series string) float64 { return value(t, r.get(t, "/metrics"), series) }
		silent := func() bool { return number(`pourward_probe_silent{probe="skin"}`) == 1 }

		within(t, 10*time.Second, "the probe speaks", func() bool { return !silent() })
		require.Equal(t, 25.875, number(`pourward_probe_temperature_celsius{probe="skin"}`))
		require.Zero(t, number(`pourward_probe_read_errors_total{fault="no-response",probe="skin"}`))

		require.NoError(t, os.RemoveAll(filepath.Join(root, w1Chip)))
		pulled := time.Now()
		within(t, 3*time.Minute, "the probe counts as silent", silent)
		require.GreaterOrEqual(t, time.Since(pulled), 2*time.Minute-2*time.Second)
		require.GreaterOrEqual(t, number(`pourward_probe_read_errors_total{fault="no-response",probe="skin"}`), 3.0)
		require.Contains(t, r.get(t, "/snapshot.json"), "w1_slave", "the last error names the file")
		within(t, 6*time.Minute, "someone is called", func() bool { return told.has("PourwardProbeSilent skin false") })

		plug(t, root, at25063)
		within(t, 2*time.Minute, "the probe is back", func() bool { return !silent() })
		require.InDelta(t, 25.0625, number(`pourward_probe_temperature_celsius{probe="skin"}`), 0.0005, "in millikelvin")
		within(t, 6*time.Minute, "the call ends", func() bool { return told.has("PourwardProbeSilent skin true") })
		require.NoError(t, r.end())
	})
}
