package journal

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// climate invents an unheated room: a daily wave, slow weather, and the noise of a common digital probe
// (0.01 °C and 0.03 % RH, standard deviations), read every ten seconds give or take milliseconds.
type climate struct {
	random  *rand.Rand
	weather float64
	n       int
}

func newClimate() *climate { return &climate{random: rand.New(rand.NewPCG(7, 7))} }

// next returns the readings of the next round of all probes.
func (c *climate) next(probes []string) []sensors.Reading {
	at := noon.Add(time.Duration(c.n)*10*time.Second + time.Duration(c.random.IntN(7))*time.Millisecond)
	wave := math.Sin(2 * math.Pi * float64(c.n) / 8640)
	c.weather += 0.002 * c.random.NormFloat64()
	c.n++
	var out []sensors.Reading
	for i, probe := range probes {
		out = append(out, sensors.Reading{
			Probe:    probe,
			At:       at.Add(time.Duration(i*20) * time.Millisecond),
			Temp:     sensors.GoodMeasure(15 + 4*wave + c.weather + 0.01*c.random.NormFloat64()),
			Humidity: sensors.GoodMeasure(0.6 - 0.1*wave + 0.0003*c.random.NormFloat64()),
		}.Rounded())
	}
	return out
}

const benchDays = 60

// sixtyDays builds the record of two probes over sixty days, once for all benchmarks that read it.
func sixtyDays(b *testing.B) *Journal {
	path := newPath(b)
	j := opened(b, path, Options{CheckBudget: -1})
	c, probes := newClimate(), []string{"bench", "pattern"}
	for i := range benchDays * 8640 {
		for _, r := range c.next(probes) {
			require.NoError(b, j.AppendReading(r))
		}
		if i%8640 == 0 {
			require.NoError(b, j.Flush(context.Background()))
		}
	}
	require.NoError(b, j.Flush(context.Background()))
	_, err := j.write.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	require.NoError(b, err)
	return j
}

func BenchmarkAppendReading(b *testing.B) {
	j := opened(b, newPath(b), Options{MaxWaiting: math.MaxInt})
	probes := []string{"a", "b", "c", "d"}
	c := newClimate()
	var rounds [][]sensors.Reading
	for range 25_000 {
		rounds = append(rounds, c.next(probes))
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r := rounds[i/4%len(rounds)][i%4]
		r.At = r.At.Add(time.Duration(i/4/len(rounds)) * time.Duration(len(rounds)) * 10 * time.Second)
		if err := j.AppendReading(r); err != nil {
			b.Fatal(err)
		}
		if i%100_000 == 99_999 { // keep the memory in bounds, outside the measure
			b.StopTimer()
			require.NoError(b, j.Flush(context.Background()))
			b.StartTimer()
		}
	}
}

// One flush a minute of four probes at ten seconds, as it runs all day.
func BenchmarkFlushMinute(b *testing.B) {
	j := opened(b, newPath(b), Options{})
	c, probes := newClimate(), []string{"a", "b", "c", "d"}
	ctx := context.Background()
	b.ReportAllocs()
	for b.Loop() {
		for range 6 {
			for _, r := range c.next(probes) {
				if err := j.AppendReading(r); err != nil {
					b.Fatal(err)
				}
			}
		}
		if err := j.Flush(ctx); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAppendMark(b *testing.B) {
	j := opened(b, newPath(b), Options{})
	b.ReportAllocs()
	for b.Loop() {
		if _, err := j.AppendMark(context.Background(), markOf("")); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDayTrace(b *testing.B) {
	j := sixtyDays(b)
	info, err := os.Stat(j.path)
	require.NoError(b, err)
	ctx := context.Background()
	random := rand.New(rand.NewPCG(1, 1))
	b.ReportAllocs()
	for b.Loop() {
		from := noon.Add(time.Duration(random.IntN((benchDays-1)*24*3600)) * time.Second)
		day, err := j.Trace(ctx, "pattern", from, from.AddDate(0, 0, 1))
		if err != nil || len(day) < 8639 {
			b.Fatal(len(day), err)
		}
	}
	b.ReportMetric(float64(info.Size())/(benchDays*8640*2), "filebytes/reading")
}

func BenchmarkReplay(b *testing.B) {
	j := sixtyDays(b)
	n := 0
	b.ReportAllocs()
	for b.Loop() {
		err := j.Readings(context.Background(), noon, noon.AddDate(1, 0, 0), func(sensors.Reading) error {
			n++
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "readings/s")
}

// One day of four probes at ten seconds, flushed each minute: what the process has the disk write.
func BenchmarkDayOfWrites(b *testing.B) {
	dir, ctx := b.TempDir(), context.Background()
	probes := []string{"a", "b", "c", "d"}
	before := written(b)
	days := 0
	b.ReportAllocs()
	for b.Loop() {
		days++
		j, err := Open(ctx, filepath.Join(dir, fmt.Sprintf("%d.journal", days)), Options{})
		require.NoError(b, err)
		c := newClimate()
		for i := range 8640 {
			for _, r := range c.next(probes) {
				require.NoError(b, j.AppendReading(r))
			}
			if i%6 == 5 {
				require.NoError(b, j.Flush(ctx))
			}
		}
		require.NoError(b, j.Close(ctx))
	}
	b.ReportMetric(float64(written(b)-before)/float64(days)/1e6, "MB/day")
}

// written returns write_bytes of proc(5), /proc/pid/io, or 0 where there is no such thing.
func written(b *testing.B) (n int64) {
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if _, err := fmt.Sscanf(line, "write_bytes: %d", &n); err == nil {
			return n
		}
	}
	return 0
}

// Start on a record of sixty days, structure check included.
func BenchmarkOpen(b *testing.B) {
	j := sixtyDays(b)
	require.NoError(b, j.Close(context.Background()))
	b.ReportAllocs()
	for b.Loop() {
		again, err := Open(context.Background(), j.path, Options{})
		if err != nil {
			b.Fatal(err)
		}
		if err := again.Close(context.Background()); err != nil {
			b.Fatal(err)
		}
	}
}
