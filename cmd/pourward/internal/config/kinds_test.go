package config_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/onewire"
	"pgregory.net/rapid"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
	"pourward/sensors/kernel"
	"pourward/sensors/network"
)

func TestEveryKind(t *testing.T) {
	got, err := config.Load("testdata/kinds.yml")
	require.NoError(t, err)
	here := func(name string) string { return filepath.Join("testdata", name) }
	require.Equal(t, []config.Broker{{
		Name: "house", URL: "tls://192.168.1.5:8883", User: "annex", PasswordFile: "/etc/pourward/broker.password",
		ClientID: "pourward-annex", KeepFor: 12 * time.Hour,
		TLS: network.TLSFiles{CA: "/etc/pourward/ca.pem", Cert: "/etc/pourward/annex.pem", Key: "/etc/pourward/annex.key", ServerName: "broker.lan"},
	}}, got.Brokers)
	require.Equal(t, []config.Server{
		{Name: "house", URL: "https://192.168.1.5:9090/prom", User: "annex", PasswordFile: here("prometheus.password"), TLS: network.TLSFiles{CA: here("ca.pem")}},
		{Name: "other", URL: "http://192.168.1.6:9090", TokenFile: here("other.token")},
	}, got.Servers)
	require.Equal(t, "/etc/pourward/push.token", got.PushToken)

	board := func(address uint16) config.I2C {
		return config.I2C{Bus: "/dev/i2c-1", Address: address, Sys: "/sys"}
	}
	want := []config.Probe{
		{
			Name: "sleeve", Every: 10 * time.Second, AccuracyK: 0.2, Chip: &config.Chip{I2C: board(0x44), Kind: config.SHT4x},
			Correct: sensors.Correction{OffsetK: -0.3, Humidity: [2]sensors.HumidityPoint{{Reads: 0.36, Is: 0.33}, {Reads: 0.72, Is: 0.75}}},
			Limits:  sensors.Limits{TempMinC: -20, TempMaxC: 50, TempStepC: 5},
		},
		{Name: "dry", Every: 10 * time.Second, AccuracyK: 0.5, Chip: &config.Chip{I2C: config.I2C{Bus: "/dev/i2c-1", Address: 0x1C, Sys: here("sys")}, Kind: config.MCP9808}},
		{Name: "fixed", Every: 30 * time.Second, AccuracyK: 0.8, Chip: &config.Chip{I2C: board(0x62), Kind: config.SCD4x}},
		{Name: "bridged", Every: 10 * time.Second, AccuracyK: 0.5, Bridged: &config.Bridged{Bridge: board(0x18), ROM: 0x120000072431d728}},
		{Name: "second", Every: 10 * time.Second, AccuracyK: 0.5, Bridged: &config.Bridged{Bridge: board(0x18), ROM: 0x360000072431d828}},
		{Name: "monitor", Every: 10 * time.Second, AccuracyK: 1, Hwmon: &config.Hwmon{Root: here("hwmon"), Name: "sht4x@1-0045"}},
		{Name: "industry", Every: 10 * time.Second, AccuracyK: 1, IIO: &config.IIO{Root: here("iio"), Name: "bme280", Humidity: kernel.WholePercent}},
		{Name: "radio", Every: 5 * time.Minute, AccuracyK: 1, MQTT: &config.MQTT{
			Broker: "house", Topic: "annex/bench", TrustTime: true,
			Format: network.Format{
				Temp: network.Field{Path: "sht.temp", Scale: 0.1}, TempUnit: network.Fahrenheit, Unit: "unit",
				Humidity: network.Field{Path: "sht.rh"}, HumidityUnit: network.Percent,
				Time: "at", TimeForm: network.UnixMillis, Sequence: "n", NumericStrings: true,
			},
			Availability: network.Availability{Topic: "annex/bench/state", Path: "state", Off: []string{"offline", "lost"}},
		}},
		{Name: "pushed", Every: time.Minute, AccuracyK: 1, Pushed: &config.Pushed{
			TokenFile: here("pushed.token"), TempUnit: network.Celsius, HumidityUnit: network.Ratio, TrustTime: true}},
		{Name: "bare", Every: time.Minute, AccuracyK: 1, Pushed: &config.Pushed{}},
		{Name: "asked", Every: 30 * time.Second, AccuracyK: 1, Prometheus: &config.Prometheus{
			Server: "house", Temp: `air_celsius{room="annex"}`, TempUnit: network.Celsius,
			Humidity: `air_percent{room="annex"}`, HumidityUnit: network.Percent}},
	}
	require.Len(t, got.Probes, len(want))
	for i := range want {
		want[i].Place = "bench"
		require.Equal(t, want[i], got.Probes[i])
	}
}

// The addresses are those of the chips' own package, which takes them from the data sheets; every chip can
// be named with the first and refuses the one after the last.
func TestChipsHaveTheirAddresses(t *testing.T) {
	for kind, addresses := range map[config.ChipKind][2]uint16{
		config.AHT20: {0x38, 0x38}, config.AM2320: {0x5C, 0x5C}, config.BME280: {0x76, 0x77}, config.HDC302x: {0x44, 0x47}, config.MCP9808: {0x18, 0x1F},
		config.SCD4x: {0x62, 0x62}, config.SHT3x: {0x44, 0x45}, config.SHT4x: {0x44, 0x46}, config.TMP102: {0x48, 0x4B},
	} {
		for a := addresses[0] - 1; a <= addresses[1]+1; a++ {
			got, err := config.Parse("shop.yml", oneProbe(string(kind)+`: {bus: /dev/i2c-1, address: 0x`+strconv.FormatUint(uint64(a), 16)+"}"))
			if a < addresses[0] || a > addresses[1] {
				require.ErrorContains(t, err, "address: 0x")
				continue
			}
			require.NoError(t, err)
			require.Equal(t, &config.Chip{Kind: kind, I2C: config.I2C{Bus: "/dev/i2c-1", Address: a, Sys: "/sys"}}, got.Probes[0].Chip)
		}
	}
	require.Len(t, config.Chips(), 9)
}

// oneProbe is a file with one probe, of the kind given.
func oneProbe(kind string) []byte {
	return []byte("shop: {name: Annex, zone: local}\njournal: {file: shop.journal}\nplaces: [{name: bench}]\nprobes:\n  - name: air\n    place: bench\n    " + kind + "\n")
}

// What to expect of a chip when the file does not say is what its data sheet tells.
func TestAccuraciesAreThoseOfTheDataSheets(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "..", "..", "sensors", "chips", "testdata", "accuracy.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	told := map[string]string{}
	for _, r := range rows {
		told[strings.ToLower(r[0])] = r[1]
	}
	for _, kind := range config.Chips() {
		got, err := config.Parse("shop.yml", oneProbe(string(kind)+": {bus: /dev/i2c-1, address: "+firstAddress(kind)+"}"))
		require.NoError(t, err)
		want, err := strconv.ParseFloat(told[string(kind)], 64)
		require.NoError(t, err, "%s", kind)
		require.Equal(t, want, got.Probes[0].AccuracyK, "%s", kind)
	}
}

func firstAddress(kind config.ChipKind) string {
	return map[config.ChipKind]string{config.AHT20: "0x38", config.AM2320: "0x5c", config.BME280: "0x76", config.HDC302x: "0x44", config.MCP9808: "0x18",
		config.SCD4x: "0x62", config.SHT3x: "0x44", config.SHT4x: "0x44", config.TMP102: "0x48"}[kind]
}

func rom(text string) (onewire.Address, error) {
	c, err := config.Parse("shop.yml", oneProbe("ds18b20: {bridge: {bus: /dev/i2c-1, address: 0x18}, rom: "+strconv.Quote(text)+"}"))
	if err != nil {
		return 0, err
	}
	return c.Probes[0].Bridged.ROM, nil
}

// The number of a chip as it was read from one, in periph.io's test of its driver (devices v3.7.4,
// ds18b20_test.go): family 28, serial 00 00 07 0e 41 ac, checksum 74.
func TestNumberOfAThermometer(t *testing.T) {
	for _, text := range []string{"28-0000070e41ac", "28-0000070E41AC", "740000070e41ac28", "28ac410e07000074", "0x740000070e41ac28"} {
		got, err := rom(text)
		require.NoError(t, err, text)
		require.Equal(t, onewire.Address(0x740000070e41ac28), got, text)
	}
	for _, text := range []string{"28-0000070e41a", "28-0000070e41acc", "28:0000070e41ac", "740000070e41ac29", "ac410e0700007428", "0x28", "28-"} {
		_, err := rom(text)
		require.Error(t, err, text)
	}
}

// One wrong digit is always noticed: the checksum of eight bits finds every burst of up to eight bits
// (Maxim application note 27).
func TestWrongDigitIsNoticed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		good := []byte("28ac410e07000074")
		i := rapid.IntRange(0, 15).Draw(t, "i")
		good[i] = rapid.SampledFrom([]byte("0123456789abcdef")).Filter(func(b byte) bool { return b != good[i] }).Draw(t, "digit")
		_, err := rom(string(good))
		require.Error(t, err, string(good))
	})
}

// Of several probes at a place the first in the file is believed, so their order must not change.
func TestProbesOfOnePlaceKeepTheirOrder(t *testing.T) {
	got, err := config.Load("testdata/kinds.yml")
	require.NoError(t, err)
	var names []string
	for _, p := range got.Probes {
		require.Equal(t, "bench", p.Place)
		names = append(names, p.Name)
	}
	require.Equal(t, "sleeve dry fixed bridged second monitor industry radio pushed bare asked", strings.Join(names, " "))
}

func TestLimitsKeepWhatIsNotWritten(t *testing.T) {
	for text, want := range map[string]sensors.Limits{
		`{max: "60 °C"}`:               {TempMinC: -40, TempMaxC: 60},
		`{min: "32 °F"}`:               {TempMinC: 0, TempMaxC: 85},
		`{step: "9 °F"}`:               {TempMinC: -40, TempMaxC: 85, TempStepC: 5},
		`{min: "0 °C", max: "122 °F"}`: {TempMinC: 0, TempMaxC: 50},
	} {
		got, err := config.Parse("shop.yml", oneProbe("w1: {id: 28-0000072431d7}\n    limits: "+text))
		require.NoError(t, err, text)
		require.Equal(t, want, got.Probes[0].Limits, text)
	}
}
