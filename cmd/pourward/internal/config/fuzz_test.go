package config_test

import (
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
)

func FuzzParse(f *testing.F) {
	for _, path := range []string{"testdata/sound.yml", "testdata/kinds.yml", "example.yml", "testdata/bad/many.yml"} {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add([]byte(smallest))
	f.Add(offered())
	f.Fuzz(func(t *testing.T, data []byte) { requireSoundOrExplained(t, data) })
}

// FuzzOneLine spoils a sound file in one line, which goes deeper than random bytes do.
func FuzzOneLine(f *testing.F) {
	files := []string{"testdata/sound.yml", "testdata/kinds.yml"}
	var sound [][]byte
	for i, cases := range []string{"testdata/bad_lines.csv", "testdata/bad_kinds.csv"} {
		data, err := os.ReadFile(files[i])
		require.NoError(f, err)
		sound = append(sound, data)
		for _, row := range table(f, cases) {
			line, err := strconv.Atoi(row["line"])
			require.NoError(f, err)
			f.Add(uint8(i), uint8(line-1), row["write"])
		}
	}
	f.Fuzz(func(t *testing.T, file, line uint8, text string) {
		data := sound[int(file)%len(sound)]
		lines := strings.Count(string(data), "\n")
		requireSoundOrExplained(t, replaceLine(data, 1+int(line)%lines, text))
	})
}

// requireSoundOrExplained reads data and checks that the outcome is one the person and the daemon can
// work with: a whole configuration, or problems that each point into the file.
func requireSoundOrExplained(t *testing.T, data []byte) {
	t.Helper()
	got, err := config.Parse("shop.yml", data)
	if err == nil {
		requireUsable(t, got)
		return
	}
	var problems config.Problems
	require.ErrorAs(t, err, &problems)
	require.NotEmpty(t, problems)
	lines := 1 + strings.Count(string(data), "\n") + strings.Count(string(data), "\r")
	for _, p := range problems {
		require.True(t, p.Line >= 1 && p.Line <= lines+1 && p.Column >= 1, "%v", p)
		require.NotEmpty(t, p.What)
		require.NotEmpty(t, p.Fix)
	}
}

// requireUsable checks what the rest of the daemon takes for granted.
func requireUsable(t *testing.T, c *config.Config) {
	t.Helper()
	places := map[string]int{}
	for _, p := range c.Places {
		places[p.Name]++
	}
	require.NotEmpty(t, places)
	require.NotEmpty(t, c.Probes)
	require.NotNil(t, c.Shop.Zone)
	require.NotEmpty(t, c.Journal.File)
	for _, p := range c.Probes {
		require.Equal(t, 1, places[p.Place])
		require.Positive(t, p.AccuracyK)
		require.Equal(t, 1, kinds(p))
		require.NoError(t, p.Correct.Check())
		require.True(t, p.Recorded != nil || p.Every >= time.Second)
		requireReferences(t, c, p)
	}
}

// kinds counts of how many kinds a probe is.
func kinds(p config.Probe) (n int) {
	for _, set := range []bool{p.Chip != nil, p.Bridged != nil, p.W1 != nil, p.Hwmon != nil, p.IIO != nil,
		p.MQTT != nil, p.Pushed != nil, p.Prometheus != nil, p.Recorded != nil} {
		if set {
			n++
		}
	}
	return n
}

// requireReferences checks that what a probe refers to is there.
func requireReferences(t *testing.T, c *config.Config, p config.Probe) {
	t.Helper()
	if p.MQTT != nil {
		require.True(t, slices.ContainsFunc(c.Brokers, func(b config.Broker) bool { return b.Name == p.MQTT.Broker }))
	}
	if p.Prometheus != nil {
		require.True(t, slices.ContainsFunc(c.Servers, func(s config.Server) bool { return s.Name == p.Prometheus.Server }))
	}
	if p.Pushed != nil {
		require.True(t, c.PushToken != "" || p.Pushed.TokenFile != "")
	}
}
