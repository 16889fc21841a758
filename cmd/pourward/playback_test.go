package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/dashboards/page"
	"pourward/model"
	"pourward/sensors/recorded"
)

// The recording that is played is a day of an invented shop, warm by day and cold by night, measured every
// five minutes: in the air by one logger, on the pattern, a minute later and in °F, by another.
const (
	rowTime        = "2006-01-02 15:04"
	rowsEvery      = 5 * time.Minute
	asFastAsItGoes = `"as fast as it goes"`
)

func tapeBegins() time.Time { return time.Date(2026, time.January, 14, 10, 0, 0, 0, time.UTC) }
func tapeEnds() time.Time   { return tapeBegins().Add(24 * time.Hour) }

// deed is a mark of that day, as arguments of the mark command.
type deed struct {
	at   string // in the form of rowTime
	args []string
}

func deeds() []deed {
	return []deed{
		{"2026-01-14 10:05", []string{"-place", "bench", "-material", "platinum-slow", "begun"}},
		{"2026-01-14 10:10", []string{"-material", "lacquer", "coat-on"}},
		{"2026-01-14 12:40", []string{"-material", "wax-naphtha", "release-on"}},
		{"2026-01-14 14:30", []string{"mixed"}},
		{"2026-01-14 14:38", []string{"poured"}},
		{"2026-01-15 08:10", []string{"-of", "cup", "-found", "firm", "checked"}},
	}
}

// enter marks a deed.
func (d *daemon) enter(x deed) {
	d.t.Helper()
	d.marked(append([]string{"-mold", "corbel", "-at", x.at}, x.args...)...)
}

// record writes the two loggers' files.
func record(t *testing.T, dir string) {
	t.Helper()
	var air, skin strings.Builder
	fmt.Fprintln(&air, "time,temp_c,rh_pct")
	fmt.Fprintln(&skin, "unix,temp_f")
	for at := tapeBegins(); !at.After(tapeEnds()); at = at.Add(rowsEvery) {
		night := 0.5 - 0.5*math.Cos(2*math.Pi*at.Sub(tapeBegins()).Hours()/24)
		fmt.Fprintf(&air, "%s,%.1f,%.0f\n", at.Format(rowTime), 21-9*night, 45+20*night)
		fmt.Fprintf(&skin, "%d,%.2f\n", at.Add(time.Minute).Unix(), 69-13*night)
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "air.csv"), []byte(air.String()), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "skin.csv"), []byte(skin.String()), 0o644))
}

// Probes of a config that plays the files; %s is the pace. The first has the name, the place and the
// accuracy that a replay gives its only probe.
const (
	airProbe = `
  - name: recorded
    place: bench
    every: "5 min"
    accuracy: "0.5 K"
    recorded:
      file: air.csv
      time: {column: time, layout: "2006-01-02 15:04", zone: UTC}
      temperature: {column: temp_c, unit: "°C"}
      humidity: {column: rh_pct, unit: "%%"}
      pace: %s`
	skinProbe = `
  - name: skin
    place: pattern
    every: "5 min"
    recorded:
      file: skin.csv
      time: {column: unix, layout: unix}
      temperature: {column: temp_f, unit: "°F"}
      pace: %s`
)

// playing writes a config beside the files and returns the arguments of a daemon that plays them.
func playing(t *testing.T, dir, journal, pace string, probes ...string) []string {
	t.Helper()
	text := fmt.Sprintf(`
shop: {name: Annex, zone: UTC}
listen: "127.0.0.1:0"
journal: {file: %s}
places: [{name: bench}, {name: pattern}]
probes:`, journal)
	for _, p := range probes {
		text += fmt.Sprintf(p, pace)
	}
	file := filepath.Join(dir, journal+".yml")
	require.NoError(t, os.WriteFile(file, []byte(text+"\n"), 0o644))
	return []string{"serve", "-config", file}
}

// through waits until every probe has told its last row.
func (d *daemon) through() {
	d.t.Helper()
	eventually(d.t, "the files are through", func() bool {
		for _, p := range d.snapshot().Probes {
			if p.Last.Before(tapeEnds()) {
				return false
			}
		}
		return true
	})
}

// molds is the text of the molds in a snapshot's JSON. When a mark was entered is left out: that is the
// one thing that may differ between two runs of the same day.
func molds(t *testing.T, snapshot []byte) string {
	t.Helper()
	var s struct{ Molds json.RawMessage }
	require.NoError(t, json.Unmarshal(snapshot, &s))
	require.Contains(t, string(s.Molds), `"corbel"`)
	return regexp.MustCompile(`"entered":"[^"]*",?`).ReplaceAllString(string(s.Molds), "")
}

// Killed right after every mark it confirmed, and started again, a daemon loses none of them, and tells at
// the end of the day what one tells that nobody disturbed: byte for byte.
func TestKilledDaemonTellsTheSame(t *testing.T) {
	t.Parallel() // it waits more than it works
	dir := t.TempDir()
	record(t, dir)
	paced := playing(t, dir, "killed", "14400", airProbe, skinProbe) // four hours a second
	d := serving(t, paced...)
	for i, x := range deeds() {
		when, err := time.Parse(rowTime, x.at)
		require.NoError(t, err)
		eventually(t, "it is "+x.at, func() bool { return !d.snapshot().At.Before(when) })
		d.enter(x)
		require.Equal(t, -1, d.signal(syscall.SIGKILL))
		d = serving(t, paced...)
		marks := d.snapshot().Molds[0].Marks
		require.Len(t, marks, i+1)
		require.EqualValues(t, i+1, marks[i].ID)
		require.Equal(t, strings.ReplaceAll(x.args[len(x.args)-1], "-", " "), marks[i].Kind)
	}
	d.through()
	require.Zero(t, d.signal(syscall.SIGTERM))

	// A clock that is paced runs on when the file is through. This one stands at the last row.
	d = serving(t, playing(t, dir, "killed", asFastAsItGoes, airProbe, skinProbe)...)
	killed := d.get("/snapshot.json")
	require.Zero(t, d.signal(syscall.SIGTERM))

	d = serving(t, playing(t, dir, "undisturbed", asFastAsItGoes, airProbe, skinProbe)...)
	d.through()
	for _, x := range deeds() {
		d.enter(x)
	}
	require.Equal(t, molds(t, d.get("/snapshot.json")), molds(t, killed))
	require.Zero(t, d.signal(syscall.SIGTERM))

	marks, readings := onRecord(t, filepath.Join(dir, "killed"))
	require.Equal(t, []int64{1, 2, 3, 4, 5, 6}, marks)
	_, all := onRecord(t, filepath.Join(dir, "undisturbed"))
	require.Equal(t, all, readings, "each row once")
}

// A replay of the same file and marks tells what the daemon tells: marks made as the hours passed, or all
// of them a day late.
func TestReplayTellsWhatTheDaemonTells(t *testing.T) {
	dir := t.TempDir()
	record(t, dir)
	d := serving(t, playing(t, dir, "annex", asFastAsItGoes, airProbe)...)
	d.through()
	for _, x := range deeds() {
		d.enter(x)
	}
	require.Equal(t, molds(t, wired(t, replayed(t, dir))), molds(t, d.get("/snapshot.json")))
	require.Zero(t, d.signal(syscall.SIGTERM))
}

// replayed replays the air with the day's marks.
func replayed(t *testing.T, dir string) *model.Snapshot {
	t.Helper()
	f := &replayFlags{quiet: true, recording: recording{
		opts: recorded.Options{TimeColumn: "time", TimeLayout: rowTime},
		unit: "C", humidity: "%", zoneName: "UTC", tempCol: "temp_c", humidCol: "rh_pct", every: rowsEvery,
	}}
	require.NoError(t, f.settle(filepath.Join(dir, "air.csv")))
	source, err := recorded.New(f.opts)
	require.NoError(t, err)
	rows := filepath.Join(dir, "marks.csv")
	require.NoError(t, os.WriteFile(rows, []byte(`at,mark,mold,place,material,of,found
2026-01-14 10:05,begun,corbel,bench,platinum-slow,,
2026-01-14 10:10,coat-on,corbel,,lacquer,,
2026-01-14 12:40,release-on,corbel,,wax-naphtha,,
2026-01-14 14:30,mixed,corbel,,,,
2026-01-14 14:38,poured,corbel,,,,
2026-01-15 08:10,checked,corbel,,,cup,firm
`), 0o644))
	d := &replayDriver{}
	d.marks, err = readMarks(rows, f.zone)
	require.NoError(t, err)
	require.Len(t, d.marks, len(deeds()))
	s, err := d.play(t.Context(), f, source, tapeBegins(), io.Discard)
	require.NoError(t, err)
	return s
}

// wired is a snapshot as the page gives it to programs.
func wired(t *testing.T, s *model.Snapshot) []byte {
	t.Helper()
	w := httptest.NewRecorder()
	page.New(page.Options{Snapshot: func() *model.Snapshot { return s }}).
		ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost/snapshot.json", nil))
	require.Equal(t, http.StatusOK, w.Code)
	return w.Body.Bytes()
}
