package main

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
	"pourward/model"
	"pourward/model/journal"
	"pourward/sensors"
)

// stillClock is a clock that stands still.
type stillClock struct{ at time.Time }

func (s stillClock) Now() time.Time { return s.at }

func (s stillClock) Wait(ctx context.Context, _ time.Time) error {
	<-ctx.Done()
	return ctx.Err()
}

// roomAt is the air of an invented shop: cold nights, each shop by a few degrees colder than the one before.
func roomAt(shop int, at time.Time) (tempC, humidity float64) {
	turn := 2 * math.Pi * float64(at.Unix()%86400) / 86400
	c := 17 - 3*float64(shop) - 4*math.Cos(turn) + 0.5*math.Sin(7*turn)
	return math.Round(c*100) / 100, math.Round((0.55+0.1*math.Cos(turn))*1000) / 1000
}

// shops are those that one daemon looks after from afar.
func shops() []string { return []string{"annex", "foundry", "yard"} }

// storeOf starts a real Prometheus that has long known what the probes of every shop measured, minute by
// minute.
func storeOf(t *testing.T, from, to time.Time) *prometheus {
	t.Helper()
	dir := t.TempDir()
	var text strings.Builder
	for _, metric := range []string{"room_celsius", "room_humidity_ratio"} {
		fmt.Fprintf(&text, "# TYPE %s gauge\n", metric)
		for i, shop := range shops() {
			for at := from; !at.After(to); at = at.Add(time.Minute) {
				v, rh := roomAt(i, at)
				if metric == "room_humidity_ratio" {
					v = rh
				}
				fmt.Fprintf(&text, "%s{shop=%q} %g %d\n", metric, shop, v, at.Unix())
			}
		}
	}
	text.WriteString("# EOF\n")
	file, data := filepath.Join(dir, "past.om"), filepath.Join(dir, "data")
	require.NoError(t, os.WriteFile(file, []byte(text.String()), 0o600))
	made, err := exec.CommandContext(t.Context(), program(t, "promtool", "prometheus"), "tsdb", "create-blocks-from", "openmetrics", file, data).CombinedOutput()
	require.NoError(t, err, "%s", made)
	config := lay(t, dir, "prometheus.yml", []byte("global: {scrape_interval: 1m}\n"))
	c := start(t, program(t, "prometheus", "prometheus"), "--config.file="+config, "--storage.tsdb.path="+data, "--web.listen-address=127.0.0.1:0")
	c.says(`Server is ready to receive web requests`)
	return &prometheus{c, c.listening()}
}

// afarText is the config file of one daemon for many shops: each has a place, and a label at the store.
func afarText(url, askBack string) []byte {
	text := "shop: {name: All shops, zone: UTC}\nlisten: 127.0.0.1:0\njournal: {file: marks.journal" + askBack + "}\nprometheus: [{name: house, url: \"" + url + "\"}]\nplaces:\n"
	probes := "probes:\n"
	for _, shop := range shops() {
		text += "  - {name: " + shop + "}\n"
		probes += fmt.Sprintf("  - {name: air-%[1]s, place: %[1]s, every: 1 min, prometheus: {server: house, temperature: "+
			"{query: 'room_celsius{shop=%[2]q}', unit: °C}, humidity: {query: 'room_humidity_ratio{shop=%[2]q}', unit: ratio}}}\n", shop, shop)
	}
	return []byte(text + probes)
}

func fromAfar(t *testing.T, dir, url, askBack string) *config.Config {
	t.Helper()
	c, err := config.Parse(filepath.Join(dir, "shops.yml"), afarText(url, askBack))
	require.NoError(t, err)
	return c
}

// markedAt puts marks into a journal: a cure under way in every shop, and one long done.
func markedAt(t *testing.T, j *journal.Journal, now time.Time) {
	t.Helper()
	put := func(ago time.Duration, m model.Mark) {
		m.At, m.Entered = now.Add(-ago), now.Add(-ago)
		_, err := j.AppendMark(t.Context(), m)
		require.NoError(t, err)
	}
	pour := func(ago time.Duration, mold, shop string) {
		put(ago, model.Mark{Kind: model.Begun, Mold: mold, Place: shop, Material: "platinum-slow"})
		put(ago-time.Minute, model.Mark{Kind: model.Mixed, Mold: mold})
		put(ago-10*time.Minute, model.Mark{Kind: model.Poured, Mold: mold})
	}
	for _, shop := range shops() {
		pour(60*time.Hour, "old-"+shop, shop)
		put(30*time.Hour, model.Mark{Kind: model.Demolded, Mold: "old-" + shop})
		pour(3*time.Hour, "new-"+shop, shop)
	}
}

// opened is a shop of a config at a standing hour.
func opened(t *testing.T, c *config.Config, now time.Time) *shop {
	t.Helper()
	o, err := fromConfig(c, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	o.board, o.clock = nil, stillClock{now}
	s, err := openShop(t.Context(), o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.close(t.Context())) })
	return s
}

// One daemon projects for many shops from what a store has of them, with a journal for marks alone: it tells
// to the last bit what a daemon tells whose journal was fed the same readings. It holds no more than was
// asked for, and its journal has no reading.
func TestOutlookFromAStore(t *testing.T) {
	t.Parallel() // it waits more than it works
	now := time.Now().UTC().Truncate(time.Minute)
	from := now.Add(-7 * 24 * time.Hour)
	p := storeOf(t, from, now)

	kept := t.TempDir()
	j, err := journal.Open(t.Context(), filepath.Join(kept, "marks.journal"), journal.Options{})
	require.NoError(t, err)
	markedAt(t, j, now)
	for i, shop := range shops() {
		for at := from.Add(time.Minute); !at.After(now); at = at.Add(time.Minute) {
			c, rh := roomAt(i, at)
			require.NoError(t, j.AppendReading(sensors.Reading{Probe: "air-" + shop, At: at, Temp: sensors.GoodMeasure(c), Humidity: sensors.GoodMeasure(rh)}.Rounded()))
		}
	}
	require.NoError(t, j.Close(t.Context()))
	fed := opened(t, fromAfar(t, kept, "http://127.0.0.1:9", ""), now).loop.Snapshot().Outlook

	alone := t.TempDir()
	j, err = journal.Open(t.Context(), filepath.Join(alone, "marks.journal"), journal.Options{})
	require.NoError(t, err)
	markedAt(t, j, now)
	require.NoError(t, j.Close(t.Context()))
	s := opened(t, fromAfar(t, alone, "http://"+p.address, `, ask_back: "7 d"`), now)
	asked := s.loop.Snapshot().Outlook

	require.Len(t, asked.Places, len(shops()))
	for _, place := range asked.Places {
		require.True(t, place.Known, place.Name)
	}
	for _, m := range asked.Molds {
		require.NotEmpty(t, m.Steps, m.Name)
	}
	require.Equal(t, fed, asked)

	_, last, err := s.journal.Span(t.Context())
	require.NoError(t, err)
	require.True(t, last.IsZero(), "the journal keeps marks alone")
	trace, err := tracer(s.record)(t.Context(), "air-yard", now.Add(-time.Hour), now)
	require.NoError(t, err)
	require.Len(t, trace, 60)

	// With less than the marks and the forecast need it is not the same: so the above says something.
	few := t.TempDir()
	j, err = journal.Open(t.Context(), filepath.Join(few, "marks.journal"), journal.Options{})
	require.NoError(t, err)
	markedAt(t, j, now)
	require.NoError(t, j.Close(t.Context()))
	require.NotEqual(t, fed, opened(t, fromAfar(t, few, "http://"+p.address, `, ask_back: "3 d"`), now).loop.Snapshot().Outlook)

	marksOutliveTheDaemon(t, "http://"+p.address)
	p.stop()
}

// marksOutliveTheDaemon kills a daemon that keeps marks alone, and wants the one that comes after it to know them,
// and the cure as far on: it has asked for the air again.
func marksOutliveTheDaemon(t *testing.T, store string) {
	t.Helper()
	dir := t.TempDir()
	file := lay(t, dir, "shops.yml", afarText(store, `, ask_back: "7 d"`))
	d := serving(t, "serve", "-config", file)
	d.marked("-mold", "sill", "-place", "yard", "-material", "platinum-slow", "-at", "100 min ago", "begun")
	d.marked("-mold", "sill", "-at", "95 min ago", "mixed")
	d.marked("-mold", "sill", "-at", "90 min ago", "poured")
	was := d.snapshot()
	require.Equal(t, -1, d.signal(syscall.SIGKILL))
	d = serving(t, "serve", "-config", file)
	is := d.snapshot()
	require.Len(t, is.Molds, 1)
	require.Equal(t, was.Molds[0].Marks, is.Molds[0].Marks)
	for i, probe := range is.Probes {
		require.False(t, probe.Last.IsZero())
		require.Equal(t, was.Probes[i].Last, probe.Last)
	}
	require.Zero(t, d.signal(syscall.SIGTERM))
}

// A store that is not there does not keep the daemon from starting: it knows its marks, and says that it
// does not know the air.
func TestAStoreThatIsAway(t *testing.T) {
	now := time.Now().UTC().Truncate(time.Minute)
	dir := t.TempDir()
	j, err := journal.Open(t.Context(), filepath.Join(dir, "marks.journal"), journal.Options{})
	require.NoError(t, err)
	markedAt(t, j, now)
	require.NoError(t, j.Close(t.Context()))
	o := opened(t, fromAfar(t, dir, "http://"+freeAddress(t), `, ask_back: "7 d"`), now).loop.Snapshot().Outlook
	require.NotEmpty(t, o.Molds)
	for _, place := range o.Places {
		require.False(t, place.Known, place.Name)
	}
}

// The example for such a daemon is one.
func TestExampleFromAfar(t *testing.T) {
	c, err := config.Load(filepath.Join("..", "..", "alerts", "fleet", "afar.example.yml"))
	require.NoError(t, err)
	require.Equal(t, 30*24*time.Hour, c.Journal.AskBack)
	_, err = fromConfig(c, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
}
