package network

import (
	"bytes"
	"io"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"
)

// Lengths as MQTT 5.0, 1.5.5, table 1-1 has them: the smallest and largest of one to four bytes.
func TestGuardFollowsPackets(t *testing.T) {
	for name, c := range map[string]struct {
		header []byte
		length int
	}{
		"0":       {[]byte{0x30, 0x00}, 0},
		"127":     {[]byte{0x30, 0x7F}, 127},
		"128":     {[]byte{0x30, 0x80, 0x01}, 128},
		"16383":   {[]byte{0x30, 0xFF, 0x7F}, 16383},
		"16384":   {[]byte{0x30, 0x80, 0x80, 0x01}, 16384},
		"1048576": {[]byte{0x30, 0x80, 0x80, 0x40}, mostPacket},
	} {
		packet := append(c.header, make([]byte, c.length)...)
		stream := append(append([]byte(nil), packet...), packet...)
		got, err := io.ReadAll(guarded(fixedConn{bytes.NewReader(stream)}))
		require.NoError(t, err, name)
		require.Equal(t, stream, got, "%s: what may pass is not changed", name)
		got, err = io.ReadAll(iotest.OneByteReader(guarded(fixedConn{bytes.NewReader(stream)})))
		require.NoError(t, err, name)
		require.Equal(t, len(stream), len(got))
	}
}

func TestGuardEndsWhatIsTooLarge(t *testing.T) {
	for name, header := range map[string][]byte{
		"one byte more":        {0x30, 0x81, 0x80, 0x40},
		"268435455":            {0x30, 0xFF, 0xFF, 0xFF, 0x7F}, // the largest of table 1-1
		"a length without end": {0x30, 0x80, 0x80, 0x80, 0x80, 0x01},
	} {
		_, err := io.ReadAll(guarded(fixedConn{bytes.NewReader(append(header, make([]byte, 2*mostPacket)...))}))
		require.ErrorIs(t, err, errPacket, name)
	}
}
