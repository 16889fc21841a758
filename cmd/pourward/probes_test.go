package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors/network"
)

// listing is what the listing tells of a board with such an I²C bus.
func listing(t *testing.T, root, measure string, bus i2c.Bus) string {
	t.Helper()
	layTree(t, root, map[string]string{"dev/i2c-1": ""})
	f := probesFlags{root: root, measure: measure, unit: "C", open: func(string, string) (i2c.Bus, error) { return bus, nil }}
	var out bytes.Buffer
	require.NoError(t, f.run(t.Context(), &out))
	return strings.ReplaceAll(out.String(), root, "")
}

// linesOf are the lines for the config in what the listing tells.
func linesOf(text string) (out []string) {
	for _, m := range regexp.MustCompile(`(?m)^      - \{name: probe-\d+, place: bench, (.*)\}$`).FindAllStringSubmatch(text, -1) {
		out = append(out, m[1])
	}
	return out
}

// written is a bus that counts what is written to each address.
type written struct {
	i2c.Bus
	bytes map[uint16]int
}

func (b written) Tx(addr uint16, w, r []byte) error {
	b.bytes[addr] += len(w)
	return b.Bus.Tx(addr, w, r)
}

// Every chip on a bus is listed with lines that the config takes, and measured with when that is asked for:
// those known for certain, or all, the thermometers behind a bridge included.
func TestListingOfABus(t *testing.T) {
	for measure, want := range map[string]struct{ chips, measured int }{"none": {9, 0}, "sure": {9, 7}, "all": {11, 11}} {
		synctest.Test(t, func(t *testing.T) {
			text := listing(t, t.TempDir(), measure, wiredBus())
			require.Equal(t, want.measured, strings.Count(text, "      measured 18.") /* °C */, "%s:\n%s", measure, text)
			require.Equal(t, want.measured, strings.Count(text, " °C (good)"))
			lines := linesOf(text)
			require.Len(t, lines, want.chips, text)
			c, err := config.Parse("annex.yml", shopText("", lines...))
			require.NoError(t, err)
			for _, p := range c.Probes {
				require.True(t, p.Chip != nil || p.Bridged != nil)
			}
			if measure != "all" {
				require.Contains(t, text, "-measure all searches the 1-wire line behind it")
				require.Contains(t, text, "0x5c  perhaps AM2320; had to be woken")
			}
			require.Contains(t, text, "addresses at which no chip known here can sit were not asked")
		})
	}
}

// Unless it is asked to measure, the listing writes to chips only what asks for their numbers; what a
// driver of the kernel owns is not touched and told.
func TestListingWritesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		root := t.TempDir()
		owned := filepath.Join(root, "sys", "bus", "i2c", "devices", "1-0076")
		require.NoError(t, os.MkdirAll(owned, 0o755))
		require.NoError(t, os.Symlink("../../drivers/bmp280", filepath.Join(owned, "driver")))
		bus := written{wiredBus(), map[uint16]int{}}
		text := listing(t, root, "none", bus)
		require.Contains(t, text, `0x76  owned by the kernel driver "bmp280"; not asked`)
		for _, addr := range []uint16{0x76, 0x38, 0x48, 0x5C} {
			require.Zero(t, bus.bytes[addr], "%#x", addr)
		}
		require.Positive(t, bus.bytes[0x45], "that is how its number is asked for")
		require.NotContains(t, text, "      measured")
	})
}

func TestListingOfABusThatCannotBeOpened(t *testing.T) {
	root := t.TempDir()
	layTree(t, root, map[string]string{"dev/i2c-1": ""})
	f := probesFlags{root: root, measure: "none", unit: "C", open: func(path, _ string) (i2c.Bus, error) {
		return nil, fmt.Errorf("open I²C bus %s: %w; add this user to the group that owns the file", path, os.ErrPermission)
	}}
	var out bytes.Buffer
	require.NoError(t, f.run(t.Context(), &out))
	require.Contains(t, out.String(), "add this user to the group")
}

// Messages of a real broker are listed with lines that hold but for the unit of the temperature, which the
// person has to choose.
func TestListingOfABroker(t *testing.T) {
	t.Parallel() // it waits more than it works
	b := startBroker(t)
	dir := t.TempDir()
	layTree(t, dir, map[string]string{"password": "open sesame"})
	b.send("annex/kept", `{"t": 19, "h": 0.41}`, true)
	c := start(t, "pourward", "probes", "-root", dir, "-broker", "tcp://"+b.address, "-user", "annex", "-password-file", filepath.Join(dir, "password"), "-listen", "5s")
	b.says(`Sending SUBACK to`)
	b.send("annex/bench", `{"sht": {"temperature": "20.5", "rh": 44}, "battery": 2.9}`, false)
	b.send("annex/shelf/temp_c", "18.5", false)
	b.send("annex/meter", `{"power": 12}`, false)
	b.send("annex/door", "open", false)
	<-c.ended
	require.Zero(t, c.cmd.ProcessState.ExitCode())
	text := strings.ReplaceAll(c.out.String(), b.address, "ADDRESS")
	require.Contains(t, text, `
Messages at tcp://ADDRESS in 5s
  "annex/bench", one message: battery 2.9, sht.rh 44, sht.temperature 20.5
      its unit cannot be known from here: keep "°C" or "°F"
      - {name: probe-1, place: bench, mqtt: {broker: house, topic: "annex/bench", temperature: {path: "sht.temperature", unit: "°C or °F"}, humidity: {path: "sht.rh", unit: "%"}, quoted_numbers: true}}
  "annex/kept", kept by the broker: h 0.41, t 19
      its unit cannot be known from here: keep "°C" or "°F"
      - {name: probe-2, place: bench, mqtt: {broker: house, topic: "annex/kept", temperature: {path: "t", unit: "°C or °F"}, humidity: {path: "h", unit: ratio}}}
  "annex/meter", one message: power 12
      nothing in it is called a temperature or a humidity; if something is one, name its path
  "annex/shelf/temp_c", one message: . 18.5
      its unit cannot be known from here: keep "°C" or "°F"
      - {name: probe-3, place: bench, mqtt: {broker: house, topic: "annex/shelf/temp_c", temperature: {path: ".", unit: "°C or °F"}}}
  (for the config file: brokers: [{name: house, url: "tcp://ADDRESS", user: "annex", password_file: "`+dir+`/password"}]; 1 of 5 topics had no number)
`)
	brokers := regexp.MustCompile(`brokers: \[.*\]`).FindString(c.out.String()) + "\n"
	lines := linesOf(text)
	_, err := config.Parse("annex.yml", shopText(brokers, lines...))
	var problems config.Problems
	require.ErrorAs(t, err, &problems)
	require.Len(t, problems, 3, "%v", err)
	for i := range lines {
		require.Contains(t, problems[i].What, `unit: "°C or °F" is none of`)
		lines[i] = strings.Replace(lines[i], "°C or °F", "°C", 1)
	}
	_, err = config.Parse("annex.yml", shopText(brokers, lines...))
	require.NoError(t, err)
}

// What a number is called says what it may be; nothing else does.
func TestWhatNumbersAreCalled(t *testing.T) {
	for name, want := range map[string]bool{
		"temperature": true, "sht.temp": true, "sensors[0].t": true, "temp_c": true, "air-temperature": true, "Temp": true,
		"battery": false, "set.time": false, "temp.battery": false, "tt": false, "power": false,
	} {
		require.Equal(t, want, called("annex/bench", name, "temp", "t"), name)
	}
	require.True(t, called("annex/temperature", ".", "temp"))
	require.False(t, called("temperature/annex", ".", "temp"))
	none := topicThing(network.Overheard{Topic: "a", Messages: 3}, []network.Number{{Path: "x", Value: 1}})
	require.Equal(t, `"a", 3 messages: x 1`, none.title)
	require.Empty(t, none.kind)
}
