package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
	"pourward/sensors/recorded"
	"pourward/sensors/simulated"
)

// shopText is a config file of one place with probes, and keys of the file before them.
func shopText(before string, probes ...string) []byte {
	text := "shop: {name: Annex, zone: UTC}\njournal: {file: annex.journal}\nplaces: [{name: bench}]\n" + before + "probes:\n"
	for i, p := range probes {
		text += fmt.Sprintf("  - {name: p%d, place: bench, %s}\n", i, p)
	}
	return []byte(text)
}

// liveOf is what a daemon with such a file makes its sources with.
func liveOf(t testing.TB, dir, before string, probes ...string) *live {
	t.Helper()
	c, err := config.Parse(filepath.Join(dir, "annex.yml"), shopText(before, probes...))
	require.NoError(t, err)
	return newLive(c, slog.New(slog.DiscardHandler))
}

// never is the journal of a shop that has none.
func never(context.Context, string) (time.Time, error) { return time.Time{}, nil }

// heard are readings that a test collects.
type heard struct {
	mu   sync.Mutex
	all  []sensors.Reading
	stop func() // ends the sources and waits for them
}

// hear runs sources until the test ends.
func hear(t *testing.T, sources []sensors.Source) *heard {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	h := &heard{}
	out := make(chan sensors.Reading)
	var running, taking sync.WaitGroup
	for _, s := range sources {
		running.Go(func() { require.ErrorIs(t, s.Run(ctx, out), context.Canceled) })
	}
	taking.Go(func() {
		for r := range out {
			h.mu.Lock()
			h.all = append(h.all, r)
			h.mu.Unlock()
		}
	})
	h.stop = sync.OnceFunc(func() {
		cancel()
		running.Wait()
		close(out)
		taking.Wait()
	})
	t.Cleanup(h.stop)
	return h
}

// of returns the readings of a probe.
func (h *heard) of(probe string) (out []sensors.Reading) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, r := range h.all {
		if r.Probe == probe {
			out = append(out, r)
		}
	}
	return out
}

// good returns the first trusted temperature of a probe.
func (h *heard) good(probe string) (sensors.Reading, bool) {
	for _, r := range h.of(probe) {
		if r.Temp.OK() {
			return r, true
		}
	}
	return sensors.Reading{}, false
}

var benchAir = simulated.Air{TempC: 18.5, Humidity: 0.47}

// wiredBus is a bus with one chip of every kind and a bridge to two thermometers.
func wiredBus() *simulated.Bus {
	air := func() simulated.Air { return benchAir }
	celsius := func() float64 { return benchAir.TempC }
	line := simulated.NewLine(sensors.RealClock{})
	line.Attach(simulated.NewDS18B20(simulated.ROM(0x51D4A7), celsius), simulated.NewDS18B20(simulated.ROM(0x51D4A8), celsius))
	bus := simulated.NewBus("/dev/i2c-1")
	for addr, c := range map[uint16]simulated.Chip{
		0x18: simulated.NewBridge(line), 0x1C: simulated.NewMCP9808(celsius), 0x38: simulated.NewAHT20(air),
		0x44: simulated.NewSHT3x(1, air), 0x45: simulated.NewSHT4x(2, air), 0x46: simulated.NewHDC302x(3, air),
		0x48: simulated.NewTMP102(celsius), 0x5C: simulated.NewAM2320(air), 0x62: simulated.NewSCD4x(4, air), 0x76: simulated.NewBME280(air),
	} {
		bus.Attach(addr, c)
	}
	return bus
}

// everyChip names every chip of [wiredBus].
func everyChip() []string {
	on := func(kind, more string) string { return fmt.Sprintf("%s: {bus: /dev/i2c-1%s}", kind, more) }
	return []string{
		on("aht20", ""), on("am2320", ""), on("bme280", ", address: 0x76"), on("hdc302x", ", address: 0x46"), on("mcp9808", ", address: 0x1c"),
		on("scd4x", ""), on("sht3x", ", address: 0x44"), on("sht4x", ", address: 0x45"), on("tmp102", ", address: 0x48"),
		"ds18b20: {bridge: {bus: /dev/i2c-1, address: 0x18}, rom: 28-00000051d4a7}", "ds18b20: {bridge: {bus: /dev/i2c-1, address: 0x18}, rom: 28-00000051d4a8}",
	}
}

// Every chip that a file can name is read through its real driver, all of them by one poller, and the
// thermometers behind the bridge by one conversion.
func TestEveryChipCanBeNamed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := liveOf(t, "/", "", everyChip()...)
		bus := wiredBus()
		l.open = func(path, sys string) (i2c.Bus, error) {
			require.Equal(t, "/dev/i2c-1 /sys", path+" "+sys)
			return bus, nil
		}
		sources, err := l.all(t.Context(), sensors.RealClock{}, never)
		require.NoError(t, err)
		require.Len(t, sources, 1)
		h := hear(t, sources)
		time.Sleep(30 * time.Second)
		synctest.Wait()
		for _, p := range l.config.Probes {
			r, ok := h.good(p.Name)
			require.True(t, ok, "%v: %v", p.Chip, h.of(p.Name))
			require.InDelta(t, benchAir.TempC, r.Temp.Value, p.AccuracyK, "%v", p.Chip)
			require.Equal(t, p.Bridged != nil || p.Chip.Kind == config.MCP9808 || p.Chip.Kind == config.TMP102, !r.Humidity.OK(), "%v", p.Chip)
		}
		shared := 0
		for _, r := range h.of("p9") {
			if slices.ContainsFunc(h.of("p10"), func(o sensors.Reading) bool { return o.At.Equal(r.At) }) {
				shared++
			}
		}
		require.Greater(t, shared, 1, "one conversion serves both")
		h.stop()
	})
	kinds := slices.Sorted(maps.Keys(chipOpeners()))
	require.Equal(t, kinds, config.Chips())
}

// A bus that is not there when the daemon starts is opened when it is, and what is said of its probes
// until then is what to do.
func TestBusThatComesLate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := liveOf(t, "/", "", everyChip()[2])
		there := time.Now().Add(20 * time.Second)
		l.open = func(path, _ string) (i2c.Bus, error) {
			if time.Now().Before(there) {
				return nil, fmt.Errorf("open I²C bus %s: %w", path, fs.ErrNotExist)
			}
			return wiredBus(), nil
		}
		sources, err := l.all(t.Context(), sensors.RealClock{}, never)
		require.NoError(t, err)
		h := hear(t, sources)
		time.Sleep(time.Minute)
		synctest.Wait()
		require.ErrorContains(t, h.of("p0")[0].Err, "open I²C bus /dev/i2c-1")
		_, ok := h.good("p0")
		require.True(t, ok)
		h.stop()
	})
}

// The real opener says of a bus that this board does not have what to do.
func TestBoardWithoutBus(t *testing.T) {
	_, err := openBoard(filepath.Join(t.TempDir(), "i2c-1"), "/sys")
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.ErrorContains(t, err, "enable the bus in the board's settings")
}

// Chips of the kernel's drivers, with the units of its documentation (hwmon/sysfs-interface,
// ABI/testing/sysfs-bus-iio); each has a poller of its own.
func TestChipsOfTheKernel(t *testing.T) {
	dir := t.TempDir()
	layTree(t, dir, map[string]string{
		"hwmon/hwmon0/name": "sht4x", "hwmon/hwmon0/temp1_input": "20512", "hwmon/hwmon0/humidity1_input": "47300",
		"iio/iio:device0/name": "bme280", "iio/iio:device0/in_temp_input": "25080", "iio/iio:device0/in_humidityrelative_input": "46.333007812",
	})
	l := liveOf(t, dir, "", "hwmon: {root: hwmon, name: sht4x}", `offset: "0.5 K", iio: {root: iio, name: bme280, humidity: percent}`)
	synctest.Test(t, func(t *testing.T) {
		sources, err := l.all(t.Context(), sensors.RealClock{}, never)
		require.NoError(t, err)
		require.Len(t, sources, 2)
		h := hear(t, sources)
		time.Sleep(time.Second)
		synctest.Wait()
		monitored, _ := h.good("p0")
		industrial, _ := h.good("p1")
		require.Equal(t, []float64{20.512, 0.473}, []float64{monitored.Temp.Value, monitored.Humidity.Value})
		require.Equal(t, []float64{25.58, 0.4633}, []float64{industrial.Temp.Value, industrial.Humidity.Value})
		h.stop()
	})
}

// layTree writes files below a folder.
func layTree(t testing.TB, dir string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text+"\n"), 0o644))
	}
}

// sourceFunc is a source that does as the function does.
type sourceFunc func(ctx context.Context, out chan<- sensors.Reading) error

func (f sourceFunc) Run(ctx context.Context, out chan<- sensors.Reading) error { return f(ctx, out) }

func TestCorrectedSourceEndsAsItsOwn(t *testing.T) {
	probes := []config.Probe{{Name: "a", Correct: sensors.Correction{OffsetK: 1}}, {Name: "b"}}
	at := time.Date(2026, time.January, 14, 12, 0, 0, 0, time.UTC)
	of := func(probe string, c float64) sensors.Reading {
		return sensors.Reading{Probe: probe, At: at, Temp: sensors.GoodMeasure(c)}
	}
	failed := sensors.Failed("a", at, errors.New("gone"))
	for _, end := range []error{nil, errors.New("the file is torn")} {
		out := make(chan sensors.Reading, 3)
		s := correct(sourceFunc(func(_ context.Context, out chan<- sensors.Reading) error {
			for _, r := range []sensors.Reading{of("a", 20), of("b", 20), failed} {
				out <- r
			}
			return end
		}), probes)
		require.Equal(t, end, s.Run(t.Context(), out))
		require.Equal(t, []sensors.Reading{of("a", 21), of("b", 20), failed}, []sensors.Reading{<-out, <-out, <-out})
	}
	endless := sourceFunc(func(ctx context.Context, out chan<- sensors.Reading) error {
		for {
			select {
			case out <- of("a", 20):
			case <-ctx.Done():
				return ctx.Err()
			}
		}
	})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, correct(endless, probes).Run(ctx, make(chan sensors.Reading)), context.Canceled, "though nobody takes what it has")
}

// The offset of a recorded probe counts as that of a live one does.
func TestRecordingIsPutRight(t *testing.T) {
	dir := t.TempDir()
	layTree(t, dir, map[string]string{"annex.csv": "time,c\n2026-01-14T12:00:00Z,20\n2026-01-14T12:10:00Z,19.5"})
	l := liveOf(t, dir, "", `offset: "-0.5 K", recorded: {file: annex.csv, time: {column: time, layout: rfc3339}, temperature: {column: c, unit: C}, pace: "as fast as it goes"}`)
	tape := &tape{probes: l.config.Probes}
	sources, err := tape.play([]recorded.Options{recordedOptions(l.config.Probes[0])}, time.Time{})
	require.NoError(t, err)
	out := make(chan sensors.Reading, 2)
	require.NoError(t, sources[0].Run(t.Context(), out))
	require.Equal(t, []float64{19.5, 19}, []float64{(<-out).Temp.Value, (<-out).Temp.Value})
}
