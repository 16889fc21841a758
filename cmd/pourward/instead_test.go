package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/sensors/recorded"
)

const insteadFolder = "../../testdata/instead"

// pour is a cure in a recorded climate: of "platinum-slow", 4 h at 22.5 °C and 55 kJ/mol.
type pour struct {
	path, column string
	poured       time.Time
	until        time.Time // of a row, before it is cured
	every        time.Duration
}

// pours are those in the project's own climate, and in measured ones where they lie beside it.
func pours(t *testing.T) []pour {
	t.Helper()
	utc := func(month, day, hour, minute, year int) time.Time {
		return time.Date(year, time.Month(month), day, hour, minute, 0, 0, time.UTC)
	}
	out := []pour{{"../../testdata/climate/seattle_january_normals.csv", "temp_c", utc(1, 15, 18, 10, 2010), utc(1, 16, 9, 0, 2010), time.Hour}}
	path := filepath.Join(measured, house)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		t.Logf("the measured climates are not beside the repository (%s)", measured)
		return out
	}
	return append(out, pour{path, "bathroom_t", utc(2, 10, 18, 10, 2016), utc(2, 10, 21, 30, 2016), 10 * time.Minute})
}

// reckoning is what one way of reckoning says, and what it cost.
type reckoning struct {
	age    float64 // at until, s
	demold time.Time
	cost
}

// cost is what one way of reckoning takes.
type cost struct {
	wall, cpu time.Duration
	peakMiB   float64
	lines     int // that a person writes for it
}

// add counts what processes took that ran one after the other.
func (c *cost) add(states ...*os.ProcessState) {
	for _, s := range states {
		c.cpu += s.UserTime() + s.SystemTime()
		c.peakMiB = max(c.peakMiB, float64(s.SysUsage().(*syscall.Rusage).Maxrss)/1024)
	}
}

// beside is a line of the table of costs: what it took, and how many times what the replay took.
func (c cost) beside(name string, replay cost) string {
	return fmt.Sprintf("%-7s %6.2f s (%5.2f times)  %6.2f s of processor (%5.2f times)  %4.0f MiB at most (%4.2f times)  %3d lines\n",
		name, c.wall.Seconds(), c.wall.Seconds()/replay.wall.Seconds(), c.cpu.Seconds(), c.cpu.Seconds()/replay.cpu.Seconds(),
		c.peakMiB, c.peakMiB/replay.peakMiB, c.lines)
}

// insteadTurns is how often the quick ways run, in turns: the cheapest run counts, which other work disturbed least.
const insteadTurns = 3

// The same cure, by three who know nothing of each other: what they say, and what it cost them in one run. Costs are
// told, not judged: other work on the machine moves them.
func TestWhatOneWouldDoInstead(t *testing.T) {
	for _, p := range pours(t) {
		t.Run(p.column, func(t *testing.T) {
			ours, byScript := p.here(t), reckoning{}
			for range insteadTurns {
				ours.cheapest(p.replay(t))
				next := p.script(t)
				byScript.cheapest(next.cost)
				byScript.age, byScript.demold = next.age, next.demold
			}
			require.InEpsilon(t, byScript.age, ours.age, 1e-6)
			took := byScript.demold.Sub(p.poured).Seconds()
			require.InEpsilon(t, took, ours.demold.Sub(p.poured).Seconds(), 1e-6)

			byRules := p.rules(t)
			allowed := p.ruleError(t)
			require.InDelta(t, ours.age, byRules.age, allowed)
			t.Logf("age %.3f s, %.3f s by the script, %.0f s by the rules (stated error %.0f s); demold after %.3f, %.3f and %.0f min\n%s%s%s",
				ours.age, byScript.age, byRules.age, allowed, ours.demold.Sub(p.poured).Minutes(), took/60, byRules.demold.Sub(p.poured).Minutes(),
				ours.beside("replay", ours.cost), byScript.beside("script", ours.cost), byRules.beside("rules", ours.cost))
		})
	}
}

// here is what this program says, to the last digit.
func (p pour) here(t *testing.T) (r reckoning) {
	t.Helper()
	early, whole := p.replayed(t, p.until), p.replayed(t, p.until.Add(72*time.Hour))
	cure, ok := early.Outlook.Molds[0].Step("cure")
	require.True(t, ok)
	r.age = cure.Share * cure.RoomTime.Seconds()
	cure, _ = whole.Outlook.Molds[0].Step("cure")
	require.Equal(t, model.Ready, cure.Standing, cure.Why)
	r.demold = cure.Band.Likely
	return r
}

// replayed is the outlook of a replay up to an instant.
func (p pour) replayed(t *testing.T, until time.Time) *model.Snapshot {
	t.Helper()
	f := replayFlags{marksFile: p.marks(t), until: until.Format("2006-01-02 15:04"), quiet: true}
	f.unit, f.humidity, f.zoneName, f.tempCol, f.every = "C", "%", "UTC", p.column, p.every
	f.opts.TimeColumn, f.opts.TimeLayout = "time", p.layout()
	require.NoError(t, f.settle(p.path))
	source, err := recorded.New(f.opts)
	require.NoError(t, err)
	begin, err := firstOf(t.Context(), []recorded.Options{f.opts})
	require.NoError(t, err)
	d := &replayDriver{until: until}
	d.marks, err = readMarks(f.marksFile, time.UTC)
	require.NoError(t, err)
	s, err := d.play(t.Context(), &f, source, begin, io.Discard)
	require.NoError(t, err)
	return s
}

func (p pour) layout() string {
	if p.every == time.Hour {
		return "2006-01-02T15:04:05"
	}
	return "2006-01-02 15:04:05"
}

func (p pour) marks(t *testing.T) string {
	t.Helper()
	path, at := filepath.Join(t.TempDir(), "marks.csv"), p.poured.Format("2006-01-02 15:04")
	require.NoError(t, os.WriteFile(path, fmt.Appendf(nil,
		"at,mark,mold,material\n%s,begun,corbel,platinum-slow\n%s,mixed,corbel,\n%s,poured,corbel,\n", at, at, at), 0o644))
	return path
}

// replay is what the same replay costs as a command.
func (p pour) replay(t *testing.T) (c cost) {
	t.Helper()
	marks := p.marks(t)
	command := exec.CommandContext(t.Context(), "pourward", "replay", "-quiet", "-temp", p.column, "-time-layout", p.layout(),
		"-every", p.every.String(), "-marks", marks, "-until", p.until.Add(72*time.Hour).Format("2006-01-02 15:04"), p.path)
	c.wall = timed(t, command, nil)
	c.add(command.ProcessState)
	c.lines = 1 + linesToWrite(t, marks) // the command, and the marks
	return c
}

// script is what the script says.
func (p pour) script(t *testing.T) (r reckoning) {
	t.Helper()
	var out bytes.Buffer
	path := filepath.Join(insteadFolder, "cure.py")
	script := exec.CommandContext(t.Context(), "/usr/bin/python3", path, p.path, "time", p.column,
		p.poured.Format(time.DateTime), p.until.Format(time.DateTime), "14400", "55000", "22.5")
	r.wall = timed(t, script, &out)
	r.add(script.ProcessState)
	r.lines = linesToWrite(t, path)
	var demold float64
	_, err := fmt.Sscan(out.String(), &r.age, &demold)
	require.NoError(t, err, out.String())
	r.demold = time.UnixMicro(int64(math.Round(demold * 1e6)))
	return r
}

// cheapest keeps the run that took less of the processor.
func (c *cost) cheapest(next cost) {
	if c.cpu == 0 || next.cpu < c.cpu {
		*c = next
	}
}

// linesToWrite counts the lines of a file that are neither empty nor remarks.
func linesToWrite(t *testing.T, path string) (n int) {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	quoted := false
	for line := range strings.Lines(string(text)) {
		line = strings.TrimSpace(line)
		switch {
		case strings.Count(line, `"""`) == 1:
			quoted = !quoted
		case !quoted && line != "" && !strings.HasPrefix(line, "#"):
			n++
		}
	}
	return n
}

// timed runs a command and returns how long it took.
func timed(t *testing.T, cmd *exec.Cmd, out io.Writer) time.Duration {
	t.Helper()
	var errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = out, &errs
	begin := time.Now()
	require.NoError(t, cmd.Run(), "%v: %s\n(the script needs Debian's package python3-scipy)", cmd.Args, &errs)
	return time.Since(begin)
}

// rules is what Prometheus says by the recording rules, over the same rows put into its storage.
func (p pour) rules(t *testing.T) (r reckoning) {
	t.Helper()
	dir := t.TempDir()
	data, rules := filepath.Join(dir, "data"), filepath.Join(dir, "cure.rules.yml")
	text, err := os.ReadFile(filepath.Join(insteadFolder, "cure.rules.yml"))
	require.NoError(t, err)
	text = bytes.ReplaceAll(text, []byte("> bool POURED"), fmt.Appendf(nil, "> bool %d", p.poured.Unix()))
	require.NoError(t, os.WriteFile(rules, text, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "rows.txt"), p.openMetrics(t), 0o644))
	begin := time.Now()
	promtool := program(t, "promtool", "prometheus")
	load := exec.CommandContext(t.Context(), promtool, "tsdb", "create-blocks-from", "openmetrics", filepath.Join(dir, "rows.txt"), data)
	timed(t, load, nil)
	first := p.server(t, data)
	fill := exec.CommandContext(t.Context(), promtool, "tsdb", "create-blocks-from", "rules", "--url=http://"+first.address, "--output-dir="+data,
		fmt.Sprint("--start=", p.poured.Unix()), fmt.Sprint("--end=", p.until.Add(24*time.Hour).Unix()), rules)
	timed(t, fill, nil)
	first.stop()
	second := p.server(t, data)
	r.age, r.demold = second.ages(p, ageRule(t, text))
	second.stop()
	r.wall = time.Since(begin)
	r.add(load.ProcessState, fill.ProcessState, first.cmd.ProcessState, second.cmd.ProcessState)
	r.lines = linesToWrite(t, rules)
	return r
}

// openMetrics is the column as Prometheus takes it in, from a day before the pour to four days after.
func (p pour) openMetrics(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	b.WriteString("# TYPE shop_temperature_celsius gauge\n")
	for _, r := range p.rows(t) {
		if r.at.After(p.poured.Add(-24*time.Hour)) && r.at.Before(p.poured.Add(96*time.Hour)) {
			fmt.Fprintf(&b, "shop_temperature_celsius %g %d\n", r.tempC, r.at.Unix())
		}
	}
	b.WriteString("# EOF\n")
	return b.Bytes()
}

func (p pour) rows(t *testing.T) []row {
	t.Helper()
	if strings.HasSuffix(p.path, ".gz") {
		return rowsOf(t, p.path, p.column)
	}
	f, err := os.Open(p.path)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"time", p.column}, all[0])
	var out []row
	for _, r := range all[1:] {
		at, err := time.Parse(p.layout(), r[0])
		require.NoError(t, err)
		c, err := strconv.ParseFloat(r[1], 64)
		require.NoError(t, err)
		out = append(out, row{at, c})
	}
	return out
}

// server is a Prometheus over a storage that scrapes nothing; a temperature holds until the next one.
func (p pour) server(t *testing.T, data string) *prometheus {
	t.Helper()
	config := filepath.Join(t.TempDir(), "prometheus.yml")
	require.NoError(t, os.WriteFile(config, []byte("global: {}\n"), 0o644))
	c := start(t, program(t, "prometheus", "prometheus"), "--config.file="+config, "--storage.tsdb.path="+data,
		"--storage.tsdb.retention.time=100y", "--web.listen-address=127.0.0.1:0", "--query.lookback-delta="+(p.every+time.Minute).String())
	server := &prometheus{c, c.listening()}
	c.says("Server is ready to receive web requests")
	return server
}

// ageRule is the expression of the second rule. It is asked as a query: only the first can be filled in for the past.
func ageRule(t *testing.T, rules []byte) string {
	t.Helper()
	var file struct {
		Groups []struct {
			Rules []struct{ Record, Expr string }
		}
	}
	require.NoError(t, yaml.Unmarshal(rules, &file))
	age := file.Groups[0].Rules[1]
	require.Equal(t, "shop:cure_age_seconds", age.Record)
	return age.Expr
}

// ages is the age at until, and the first minute at which it was that of a cured rubber.
func (p *prometheus) ages(of pour, expr string) (age float64, demold time.Time) {
	p.t.Helper()
	var answer struct {
		Data struct {
			Result []struct{ Values [][2]any }
		}
	}
	query := url.Values{"query": {expr}, "start": {fmt.Sprint(of.poured.Unix())}, "end": {fmt.Sprint(of.until.Add(24 * time.Hour).Unix())}, "step": {"60"}}
	getJSON(p.t, "http://"+p.address+"/api/v1/query_range?"+query.Encode(), &answer)
	require.Len(p.t, answer.Data.Result, 1)
	for _, v := range answer.Data.Result[0].Values {
		at := time.Unix(int64(v[0].(float64)), 0)
		x, err := strconv.ParseFloat(v[1].(string), 64)
		require.NoError(p.t, err)
		if !at.After(of.until) {
			age = x
		}
		if demold.IsZero() && x >= 4*3600 {
			demold = at
		}
	}
	return age, demold
}

// ruleError is the error that the rule file states: half the time between two temperatures for all that the rate
// changed by, up and down, and a minute of it.
func (p pour) ruleError(t *testing.T) float64 {
	t.Helper()
	changed, was := 0.0, math.NaN()
	for _, r := range p.rows(t) {
		if r.at.Before(p.poured.Add(-p.every)) || r.at.After(p.until) {
			continue
		}
		if !math.IsNaN(was) {
			changed += math.Abs(speed(r.tempC) - was)
		}
		was = speed(r.tempC)
	}
	return p.every.Seconds()/2*changed + 60
}
