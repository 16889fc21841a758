package kernel

import (
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// table reads a file of testdata as one map per row.
func table(t testing.TB, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// w1Text returns the text of a row as the kernel writes it; {crc} stands for the checksum of the eight
// bytes before it.
func w1Text(t testing.TB, row map[string]string) string {
	text := strings.ReplaceAll(row["text"], "|", "\n") + "\n"
	if strings.Contains(text, "{crc}") {
		b, err := hex.DecodeString(strings.ReplaceAll(text[:8*3-1], " ", ""))
		require.NoError(t, err)
		text = strings.ReplaceAll(text, "{crc}", fmt.Sprintf("%02x", crc8(b)))
	}
	if row["text"] == "" {
		return ""
	}
	return text
}

// folder makes a folder of devices with one thermometer in it.
func folder(t testing.TB, id, text string) string {
	root := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(root, id), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(root, id, "w1_slave"), []byte(text), 0o644))
	return root
}

func TestW1(t *testing.T) {
	for _, row := range table(t, "testdata/w1.csv") {
		root := folder(t, row["id"], w1Text(t, row))
		p, err := W1(root, row["id"])(t.Context())
		require.NoError(t, err, row["name"])
		s, err := p.Sense(t.Context())
		require.NoError(t, p.Close())
		require.Equal(t, row["fault"], sensors.FaultOf(err).String(), "%s: %v", row["name"], err)
		if row["temp_c"] == "" {
			require.Error(t, err, row["name"])
			require.ErrorContains(t, err, root, "it says which file")
			continue
		}
		want, err := strconv.ParseFloat(row["temp_c"], 64)
		require.NoError(t, err)
		require.Equal(t, want, s.TempC, row["name"])
		require.True(t, math.IsNaN(s.Humidity))
	}
}

func TestW1ThatIsGone(t *testing.T) {
	root := folder(t, "28-000005e2fdc3", "")
	_, err := W1(root, "28-00000badc0de")(t.Context())
	require.Equal(t, sensors.NoResponse, sensors.FaultOf(err))
	require.ErrorIs(t, err, os.ErrNotExist)
	require.ErrorContains(t, err, "check the wiring")

	p, err := W1(root, "28-000005e2fdc3")(t.Context())
	require.NoError(t, err)
	require.NoError(t, os.RemoveAll(filepath.Join(root, "28-000005e2fdc3")))
	_, err = p.Sense(t.Context())
	require.Equal(t, sensors.NoResponse, sensors.FaultOf(err), "unplugged while open")
}

func TestW1RefusesOtherFamilies(t *testing.T) {
	for _, id := range []string{"", "28", "01-000000000001", "w1_bus_master1", "2-8", " 2-0"} {
		_, err := W1("", id)(t.Context())
		require.ErrorContains(t, err, W1Root, id)
	}
	for _, id := range []string{"10-1", "22-1", "28-1", "3b-1", "3B-1", "42-1"} {
		_, err := w1Decoder(id)
		require.NoError(t, err, id)
	}
}

// The example of Maxim application note 27.
func TestChecksumOfTheApplicationNote(t *testing.T) {
	require.EqualValues(t, 0xA2, crc8([]byte{0x02, 0x1C, 0xB8, 0x01, 0, 0, 0}))
}

// The value from the bytes and the kernel's own t= agree to the millidegree that the kernel cuts off.
func TestBytesAgreeWithTheKernel(t *testing.T) {
	for _, row := range table(t, "testdata/w1.csv") {
		text := w1Text(t, row)
		_, milli, ok := strings.Cut(text, "t=")
		if !ok || row["temp_c"] == "" {
			continue
		}
		want, err := strconv.Atoi(strings.TrimSpace(milli))
		require.NoError(t, err)
		pad, err := parseW1(text)
		require.NoError(t, err)
		got, err := decodeSixteenths(pad)
		require.NoError(t, err)
		require.Equal(t, want, int(got*1000), row["name"])
	}
}

func FuzzParseW1(f *testing.F) {
	for _, row := range table(f, "testdata/w1.csv") {
		f.Add(w1Text(f, row))
	}
	f.Fuzz(func(t *testing.T, text string) {
		pad, err := parseW1(text)
		if err != nil {
			require.NotEqual(t, sensors.OtherFault, sensors.FaultOf(err))
			return
		}
		require.Equal(t, pad[8], crc8(pad[:8]))
		require.NotEqual(t, [9]byte{}, pad)
		if v, err := decodeSixteenths(pad); err == nil {
			require.True(t, v >= -2048 && v < 2048 && v != 127.9375)
		}
		if v, err := decodeHalves(pad); err == nil {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0))
		}
	})
}
