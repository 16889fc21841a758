package chips

import (
	"encoding/binary"
	"encoding/csv"
	"encoding/hex"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestModbusChecksums(t *testing.T) {
	f, err := os.Open("testdata/checksums.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	octets := func(text string) []byte {
		b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
		require.NoError(t, err)
		return b
	}
	seen := 0
	for _, row := range rows {
		if row[0] == "modbus" {
			seen++
			require.Equal(t, binary.LittleEndian.Uint16(octets(row[2])), modbus(octets(row[1])), row[3])
		}
	}
	require.Equal(t, 3, seen)
}
