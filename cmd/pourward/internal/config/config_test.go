package config_test

import (
	"io/fs"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/access"
	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
)

func brussels(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Brussels")
	require.NoError(t, err)
	return zone
}

func TestSoundFile(t *testing.T) {
	got, err := config.Load("testdata/sound.yml")
	require.NoError(t, err)
	require.Equal(t, &config.Config{
		Shop:    config.Shop{Name: "Annex", Zone: brussels(t), Unit: config.Celsius},
		Listen:  "127.0.0.1:8673",
		Journal: config.Journal{File: filepath.Join("testdata", "shop.journal"), Flush: time.Minute},
		Places:  []config.Place{{Name: "bench"}, {Name: "shelf"}, {Name: "pattern"}},
		Probes: []config.Probe{
			{
				Name: "air", Place: "bench", Every: 10 * time.Second, AccuracyK: 0.5, Correct: sensors.Correction{OffsetK: -0.5},
				Chip: &config.Chip{Kind: config.BME280, I2C: config.I2C{Bus: "/dev/i2c-1", Address: 0x76, Sys: "/sys"}},
			},
			{
				Name: "skin", Place: "pattern", Every: 10 * time.Second, AccuracyK: 0.5,
				W1: &config.W1{Root: "/sys/bus/w1/devices", ID: "28-0000072431d7"},
			},
			{
				Name: "logger", Place: "shelf", AccuracyK: 1,
				Recorded: &config.Recorded{
					File:        filepath.Join("testdata", "logger.csv"),
					Time:        config.TimeColumn{Column: "time", Layout: time.DateTime, Zone: brussels(t)},
					Temperature: config.TempColumn{Column: "t", Unit: config.Fahrenheit},
					Humidity:    &config.HumidityColumn{Column: "rh"},
					Speed:       60,
				},
			},
		},
		Pour: &config.Window{MinC: 18, MaxC: 32},
		Log:  config.Log{Level: slog.LevelInfo, JSON: true},
	}, got)
}

// smallest leaves out every key that may be.
const smallest = `
shop: {name: Annex, zone: local}
journal: {file: shop.journal}
places: [{name: bench}]
probes: [{name: air, place: bench, recorded: {file: a.csv, time: {column: t, layout: unix}, temperature: {column: c, unit: C}}}]
`

func TestSmallestFile(t *testing.T) {
	got, err := config.Parse("/etc/pourward/shop.yml", []byte(smallest))
	require.NoError(t, err)
	require.Equal(t, &config.Config{
		Shop:    config.Shop{Name: "Annex", Zone: time.Local, Unit: config.Celsius},
		Listen:  "127.0.0.1:8673",
		Journal: config.Journal{File: "/etc/pourward/shop.journal", Flush: time.Minute},
		Places:  []config.Place{{Name: "bench"}},
		Probes: []config.Probe{{
			Name: "air", Place: "bench", AccuracyK: 1,
			Recorded: &config.Recorded{
				File:        "/etc/pourward/a.csv",
				Time:        config.TimeColumn{Column: "t", Layout: config.LayoutUnix, Zone: time.UTC},
				Temperature: config.TempColumn{Column: "c", Unit: config.Celsius},
				Speed:       1,
			},
		}},
	}, got)
}

func TestExampleIsSound(t *testing.T) {
	got, err := config.Parse("/etc/pourward/shop.yml", config.Example())
	require.NoError(t, err)
	require.Equal(t, "Museum annex", got.Shop.Name)
	require.Len(t, got.Places, 3)
	require.Len(t, got.Probes, 2)
	require.NotNil(t, got.Pour)
}

// offered is the example with every key that stands behind a # taken.
func offered() []byte {
	return regexp.MustCompile(`(?m)^#(  |[a-z])`).ReplaceAll(config.Example(), []byte("$1"))
}

// What the example offers to take is sound, too, all of it at once, and has a probe of every kind but the
// chips that are written like the one it shows.
func TestExampleOffersSoundKeys(t *testing.T) {
	got, err := config.Parse("/etc/pourward/shop.yml", offered())
	require.NoError(t, err)
	require.Len(t, got.Brokers, 1)
	require.Len(t, got.Servers, 1)
	require.Equal(t, "/etc/pourward/push.token", got.PushToken)
	set := map[string]bool{}
	for _, p := range got.Probes {
		v := reflect.ValueOf(p)
		for i := range v.NumField() {
			if f := v.Field(i); f.Kind() == reflect.Pointer && !f.IsNil() {
				set[v.Type().Field(i).Name] = true
			}
		}
	}
	require.Len(t, set, 9)
	require.Equal(t, "/etc/pourward/shelf-2024-01.csv", got.Probes[len(got.Probes)-1].Recorded.File)
	require.NotNil(t, got.Places[0].Heated)
	for _, chip := range config.Chips() {
		require.Contains(t, string(config.Example()), string(chip))
	}
}

// Every key the reader knows is in the example, or the person cannot learn of it.
func TestExampleShowsEveryKey(t *testing.T) {
	for _, file := range []string{"testdata/sound.yml", "testdata/kinds.yml"} {
		sound, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, key := range regexp.MustCompile(`[a-z_][a-z_0-9]*:( |\n)`).FindAllString(string(sound), -1) {
			if key = strings.TrimSpace(key); !slices.Contains(config.Chips(), config.ChipKind(strings.TrimSuffix(key, ":"))) {
				require.Contains(t, string(config.Example()), key)
			}
		}
	}
	for _, key := range []string{"access:", "web_config:", "roles:", "without_tls:"} {
		require.Contains(t, string(config.Example()), key)
	}
}

func TestBadLines(t *testing.T) {
	for file, cases := range map[string]string{"testdata/sound.yml": "testdata/bad_lines.csv", "testdata/kinds.yml": "testdata/bad_kinds.csv"} {
		sound, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, row := range table(t, cases) {
			t.Run(row["case"], func(t *testing.T) {
				line, err := strconv.Atoi(row["line"])
				require.NoError(t, err)
				_, err = config.Parse("shop.yml", replaceLine(sound, line, row["write"]))
				require.EqualError(t, err, row["problem"])
			})
		}
	}
}

// lineOf is a line, counted from 1.
func lineOf(data []byte, line int) string { return strings.Split(string(data), "\n")[line-1] }

// replaceLine writes text instead of a line, counted from 1, of data; no text takes the line out.
func replaceLine(data []byte, line int, text string) []byte {
	lines := strings.Split(string(data), "\n")
	edited := slices.Clone(lines[:line-1])
	if text != "" {
		edited = append(edited, text)
	}
	return []byte(strings.Join(append(edited, lines[line:]...), "\n"))
}

// A file with several faults, its exact messages beside it.
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.yml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			want, err := os.ReadFile(strings.TrimSuffix(path, ".yml") + ".txt")
			require.NoError(t, err)
			_, err = config.Parse(filepath.Base(path), data)
			require.EqualError(t, err, strings.TrimRight(string(want), "\n"))
		})
	}
}

func TestProblemsAreInTheOrderOfTheFile(t *testing.T) {
	_, err := config.Parse("shop.yml", []byte("log: {level: loud}\npour: {min: 1, max: 2}\nshop: 1\n"))
	var problems config.Problems
	require.ErrorAs(t, err, &problems)
	last := 0
	for _, p := range problems {
		require.GreaterOrEqual(t, p.Line, last)
		last = p.Line
	}
	var first config.Problem
	require.ErrorAs(t, err, &first)
	require.Equal(t, problems[0], first)
}

func TestLoadSaysWhichFileIsMissing(t *testing.T) {
	_, err := config.Load("testdata/nowhere.yml")
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.ErrorContains(t, err, "testdata/nowhere.yml")
}

func TestWindowsLineEndsAndByteOrderMark(t *testing.T) {
	sound, err := os.ReadFile("testdata/sound.yml")
	require.NoError(t, err)
	want, err := config.Parse("shop.yml", sound)
	require.NoError(t, err)
	text := "\ufeff" + strings.ReplaceAll(string(sound), "\n", "\r\n")
	got, err := config.Parse("shop.yml", []byte(text))
	require.NoError(t, err)
	require.Equal(t, want, got)
}

func TestHostileFiles(t *testing.T) {
	for name, c := range map[string]struct{ text, problem string }{
		"latin 1":     {"shop:\n  unit: \"\xb0C\"\n", "a.yml:2:10: this character is not UTF-8; save the file as UTF-8"},
		"too large":   {strings.Repeat("# more\n", 5_000), "a.yml:1:1: the file is larger than 32 KiB; is this the right file?"},
		"brackets":    {strings.Repeat("[", 30_000), "a.yml:1:33: more than 32 values are one inside the other here; close brackets, and begin fewer lists in lists"},
		"dashes":      {strings.Repeat("- ", 15_000), "a.yml:1:65: more than 32 values are one inside the other here; close brackets, and begin fewer lists in lists"},
		"only text":   {"hello", `a.yml:1:1: "hello" is text, not a group of keys; write e.g. shop: {name: "Annex", zone: "Europe/Brussels"}`},
		"alias bombs": {"shop: &a [*a, *a]\n", "a.yml:1:7: anchors, aliases, tags and directives are not used here; write the value itself"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := config.Parse("a.yml", []byte(c.text))
			require.Error(t, err)
			require.Contains(t, strings.Split(err.Error(), "\n"), c.problem)
		})
	}
}

func TestPaceAsFastAsItGoes(t *testing.T) {
	text := strings.Replace(smallest, "unit: C}", `unit: C}, pace: "as fast as it goes"`, 1)
	got, err := config.Parse("shop.yml", []byte(text))
	require.NoError(t, err)
	require.True(t, math.IsInf(got.Probes[0].Recorded.Speed, 1))
}

func TestListen(t *testing.T) {
	const group = `access: {web_config: web.yml, roles: {anna: mark, "7": read}, without_tls: "phones on the workshop's own Wi-Fi"}` + "\n"
	for address, open := range map[string]bool{
		"127.0.0.1:8673": false, "localhost:0": false, "[::1]:8673": false, "[::ffff:127.0.0.1]:8673": false, "127.8.9.10:1": false,
		":8673": true, "0.0.0.0:8673": true, "[::]:8673": true, "192.168.1.20:8673": true, "annex.lan:8673": true, "localhost.evil.example:80": true,
	} {
		t.Run(address, func(t *testing.T) {
			text := smallest + "listen: " + strconv.Quote(address) + "\n"
			got, err := config.Parse("shop.yml", []byte(text))
			if open {
				require.ErrorContains(t, err, "lets the network in, and nobody is asked who they are; write e.g. access: {web_config: ")
			} else {
				require.NoError(t, err)
				require.Nil(t, got.Access)
			}
			got, err = config.Parse("/etc/pourward/shop.yml", []byte(text+group))
			require.NoError(t, err)
			require.Equal(t, address, got.Listen)
			require.Equal(t, &config.Access{
				WebFile: "/etc/pourward/web.yml", Roles: map[string]access.Role{"anna": access.Mark, "7": access.Read},
				WithoutTLS: "phones on the workshop's own Wi-Fi", Network: open,
			}, got.Access)
		})
	}
}
