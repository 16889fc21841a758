package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"pourward/model"
	"pourward/model/journal"
	"pourward/sensors"
)

// How large the comparison is to be.
var (
	ratioDays = flag.Int("ratios.days", 2, "days on record for TestRatios")
	ratioIdle = flag.Duration("ratios.idle", 10*time.Second, "how long the processes of TestRatios are idle")
)

// rounds per day of a probe that speaks every ten seconds, and how many probes there are.
const (
	roundsADay = 8640
	manyProbes = 8
	manyMolds  = 200
)

// The daemon beside a known yardstick on the same machine, in one run: Debian's exporter of the machine's own state.
// Sizes are judged, and the time of a scrape against the yardstick's; other times are told, since other work on the
// machine moves them.
func TestRatios(t *testing.T) {
	dir := t.TempDir()
	ours := filepath.Join(dir, "pourward")
	build := exec.CommandContext(t.Context(), "go", "build", "-trimpath", "-ldflags", "-s -w", "-o", ours, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := build.CombinedOutput()
	require.NoError(t, err, string(out))

	t.Logf("empty journal, from start to first scrape: %s", startToScrape(t, ours, eightProbes(t), 0))
	file := eightProbes(t)
	path := filepath.Join(filepath.Dir(file), "annex.journal")
	bytesADay := recordDays(t, path, *ratioDays)
	t.Logf("%d days of %d probes on disk: %.2f MB, so %.1f MB a year", *ratioDays, manyProbes, bytesADay*float64(*ratioDays)/1e6, bytesADay*365/1e6)
	require.Less(t, bytesADay*365/1e6, 80.0, "MB a year")
	t.Logf("written in a day that is flushed every minute: %.1f MB", writtenADay(t)/1e6)
	drop(t, path)
	t.Logf("the same, and %d molds, cold, from start to first scrape: %s", manyMolds, startToScrape(t, ours, file, manyMolds))
	beside(t, ours, file, *ratioIdle)
}

// eightProbes is the config of a shop with eight thermometers that speak every ten seconds.
func eightProbes(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	root := filepath.Join(dir, "w1")
	var b bytes.Buffer
	b.WriteString("shop: {name: Annex, zone: Europe/Brussels}\nlisten: \"127.0.0.1:0\"\njournal: {file: annex.journal}\nplaces:\n")
	for i := range manyProbes {
		fmt.Fprintf(&b, "  - {name: place-%d}\n", i)
	}
	b.WriteString("probes:\n")
	for i := range manyProbes {
		id := fmt.Sprintf("28-00000000000%d", i)
		require.NoError(t, os.MkdirAll(filepath.Join(root, id), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(root, id, "w1_slave"), []byte(at25875), 0o644))
		fmt.Fprintf(&b, "  - {name: probe-%d, place: place-%d, every: \"10 s\", w1: {root: w1, id: %s}}\n", i, i, id)
	}
	file := filepath.Join(dir, "annex.yml")
	require.NoError(t, os.WriteFile(file, b.Bytes(), 0o644))
	return file
}

// recordDays writes a record that ends now and returns by how much a day makes it grow, bytes. There are molds on it
// that were poured in the last hours.
func recordDays(t *testing.T, path string, days int) float64 {
	t.Helper()
	end := time.Now().Truncate(10 * time.Second)
	room := newRoom(end.Add(-time.Duration(days) * 24 * time.Hour))
	first := recordInto(t, path, func(j *journal.Journal) { room.days(t, j, 1) })
	all := recordInto(t, path, func(j *journal.Journal) { room.days(t, j, days-1) })
	recordInto(t, path, func(j *journal.Journal) { markMolds(t, j, end) })
	return float64(all-first) / float64(days-1)
}

// recordInto opens a journal, lets something be recorded, and returns how large the file is then.
func recordInto(t *testing.T, path string, fill func(*journal.Journal)) int64 {
	t.Helper()
	j, err := journal.Open(t.Context(), path, journal.Options{})
	require.NoError(t, err)
	fill(j)
	require.NoError(t, j.Close(t.Context()))
	info, err := os.Stat(path)
	require.NoError(t, err)
	return info.Size()
}

func markMolds(t *testing.T, j *journal.Journal, end time.Time) {
	t.Helper()
	for i := range manyMolds {
		at := end.Add(-time.Duration(i%180) * time.Minute)
		for _, m := range []model.Mark{
			{Kind: model.Begun, Place: fmt.Sprintf("place-%d", i%manyProbes), Material: "tin-silicone"},
			{Kind: model.Mixed}, {Kind: model.Poured},
		} {
			m.Mold, m.At, m.Entered = fmt.Sprintf("mold-%d", i), at, at
			_, err := j.AppendMark(t.Context(), m)
			require.NoError(t, err)
		}
	}
}

// room is the invented climate of that record. It is the same at its end at whatever hour that is, and warm enough for
// every mold to be done within the days that can be foreseen.
type room struct {
	begin   time.Time
	at      time.Time
	random  *rand.Rand
	weather float64
}

func newRoom(begin time.Time) *room {
	return &room{begin: begin, at: begin, random: rand.New(rand.NewPCG(7, 7))}
}

// days records so many of them.
func (c *room) days(t *testing.T, j *journal.Journal, n int) {
	t.Helper()
	for i := range n * roundsADay {
		c.round(func(r sensors.Reading) { _ = j.AppendReading(r) }) // a failing one is told by Flush
		if i%1440 == 1439 {
			require.NoError(t, j.Flush(t.Context()))
		}
	}
}

// round is what all probes say in one round.
func (c *room) round(take func(sensors.Reading)) {
	wave := math.Sin(2 * math.Pi * c.at.Sub(c.begin).Hours() / 24)
	c.weather += 0.002*c.random.NormFloat64() - 1e-5*c.weather
	for i := range manyProbes {
		take(sensors.Reading{
			Probe:    fmt.Sprintf("probe-%d", i),
			At:       c.at.Add(time.Duration(i*20) * time.Millisecond),
			Temp:     sensors.GoodMeasure(21 + 4*wave + c.weather + 0.01*c.random.NormFloat64()),
			Humidity: sensors.GoodMeasure(0.6 - 0.1*wave + 0.0003*c.random.NormFloat64()),
		}.Rounded())
	}
	c.at = c.at.Add(10 * time.Second)
}

// writtenADay is what this process hands to the disk for one day of eight probes, flushed every minute.
func writtenADay(t *testing.T) float64 {
	t.Helper()
	j, err := journal.Open(t.Context(), filepath.Join(t.TempDir(), "day.journal"), journal.Options{})
	require.NoError(t, err)
	before, room := procNumber(t, os.Getpid(), "io", "write_bytes"), newRoom(time.Now().Add(-24*time.Hour).Truncate(time.Hour))
	for i := range roundsADay {
		room.round(func(r sensors.Reading) { _ = j.AppendReading(r) }) // as above
		if i%6 == 5 {
			require.NoError(t, j.Flush(t.Context()))
		}
	}
	require.NoError(t, j.Close(t.Context()))
	return procNumber(t, os.Getpid(), "io", "write_bytes") - before
}

// drop takes a file out of memory, so that it is read from the disk again.
func drop(t *testing.T, path string) {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, unix.Fdatasync(int(f.Fd())))
	require.NoError(t, unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED))
}

// startToScrape starts the daemon, scrapes it once and ends it. It tells how long that took.
func startToScrape(t *testing.T, ours, file string, molds int) string {
	t.Helper()
	begin := time.Now()
	d := startDaemon(t, ours, file)
	d.get("/metrics")
	took := fmt.Sprintf("%d ms, %.2f s of processor", time.Since(begin).Milliseconds(), cpuSeconds(t, d))
	eventually(t, "every mold cures", func() bool { // a probe has been silent since the record was made
		var told struct {
			Molds []struct {
				Steps []struct{ Standing model.Standing }
			}
		}
		require.NoError(t, json.Unmarshal(d.get("/snapshot.json"), &told))
		require.Len(t, told.Molds, molds)
		for _, m := range told.Molds {
			if m.Steps[len(m.Steps)-1].Standing != model.Running {
				return false
			}
		}
		return true
	})
	d.stop()
	return took
}

func startDaemon(t *testing.T, ours, file string) *daemon {
	t.Helper()
	c := start(t, ours, "serve", "-config", file)
	return &daemon{c, c.says(`page (http://127\.0\.0\.1:\d+)/ `)[1]}
}

// beside runs the daemon and the yardstick at once: idle, then asked for their metrics.
func beside(t *testing.T, ours, file string, idle time.Duration) {
	t.Helper()
	yard := start(t, program(t, "prometheus-node-exporter", "prometheus-node-exporter"), "--web.listen-address=127.0.0.1:0")
	exporter := &daemon{yard, "http://" + yard.says(`msg="Listening on" address=(127\.0\.0\.1:\d+)`)[1]}
	us := startDaemon(t, ours, file)
	few := startDaemon(t, ours, eightProbes(t))
	many := fmt.Sprint(manyMolds, " molds")
	processes := []struct {
		name string
		of   *daemon
	}{{"idle, no molds", few}, {many, us}, {"node exporter", exporter}}
	var cpu []float64
	for _, p := range processes {
		p.of.get("/metrics")
		cpu = append(cpu, cpuSeconds(t, p.of))
	}
	wait(t, idle)
	rss, share := map[string]float64{}, map[string]float64{}
	for i, p := range processes {
		pid := p.of.cmd.Process.Pid
		share[p.name], rss[p.name] = 100*(cpuSeconds(t, p.of)-cpu[i])/idle.Seconds(), procNumber(t, pid, "status", "VmRSS")
		t.Logf("%-14s %5.1f MB resident, %5.1f MB of its own, %.2f %% of a core", p.name, rss[p.name]/1024, procNumber(t, pid, "status", "RssAnon")/1024, share[p.name])
	}
	require.LessOrEqual(t, share["idle, no molds"], 0.5, "%% of a core")
	require.Less(t, rss["idle, no molds"], 2*rss["node exporter"], "KiB resident")
	for _, as := range askers() {
		noSlower(t, as, us, exporter)
	}
	after := procNumber(t, us.cmd.Process.Pid, "status", "VmRSS")
	t.Logf("%d molds, after all these scrapes: %.1f MB resident", manyMolds, after/1024)
	require.Less(t, after, rss[many]+spare, "KiB resident")
	for _, p := range processes {
		p.of.signal(unix.SIGTERM)
	}
}

// wait lets processes be.
func wait(t *testing.T, d time.Duration) {
	t.Helper()
	select {
	case <-time.After(d):
	case <-t.Context().Done():
	}
}

// procNumber reads one number of a process from the kernel.
func procNumber(t *testing.T, pid int, file, name string) float64 {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/%s", pid, file))
	require.NoError(t, err)
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, name+":"); ok {
			x, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
			require.NoError(t, err)
			return x
		}
	}
	require.Fail(t, "the kernel does not tell", "%s of %s", name, file)
	return 0
}

// cpuSeconds is the processor time that a process has used.
func cpuSeconds(t *testing.T, d *daemon) float64 {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", d.cmd.Process.Pid))
	require.NoError(t, err)
	fields := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:])) // from the third on
	const user, system, perSecond = 11, 12, 100
	a, err := strconv.ParseFloat(fields[user], 64)
	require.NoError(t, err)
	b, err := strconv.ParseFloat(fields[system], 64)
	require.NoError(t, err)
	return (a + b) / perSecond
}
