package journal

import (
	"encoding/binary"
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func drawSeries(p place) *rapid.Generator[[]sample] {
	return rapid.Custom(func(t *rapid.T) []sample {
		at := p.startMS() + rapid.Int64Range(0, 20_000).Draw(t, "first")
		steps := rapid.SampledFrom([][]int64{{10_000}, {10_000, 9_998, 10_003}, {1, 400, 60_000}, {1}}).Draw(t, "steps")
		var out []sample
		for range rapid.IntRange(0, 400).Draw(t, "count") {
			if at >= p.startMS()+hourMS {
				break
			}
			s := sample{at: at, probe: p.probe()}
			s.temp = rapid.OneOf(rapid.Int32Range(20_000, 20_010), rapid.Just(int32(20_000)), rapid.Int32()).Draw(t, "temp")
			s.humidity = rapid.OneOf(rapid.Just(int32(0)), rapid.Int32Range(5000, 5010), rapid.Int32()).Draw(t, "humidity")
			s.state = state(rapid.OneOf(rapid.Just(uint32(1)), rapid.Uint32()).Draw(t, "state"))
			out = append(out, s)
			at += rapid.SampledFrom(steps).Draw(t, "step")
		}
		return out
	})
}

func TestBlockUnpacksToWhatWasPacked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := placeOf(rapid.Int64Range(0, endMS/hourMS-1).Draw(t, "hour"), rapid.Uint16Min(1).Draw(t, "probe"))
		want := drawSeries(p).Draw(t, "samples")
		var u unpacker
		got, err := u.unpack(p, pack(p, want), nil)
		require.NoError(t, err)
		require.Equal(t, want, got)
	})
}

// Any burst of up to 32 bits is noticed by a 32-bit CRC; so is a block that lies at another place.
func TestBlockNoticesDamage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := placeOf(491_000, 3)
		data := pack(p, drawSeries(p).Draw(t, "samples"))
		at := rapid.IntRange(0, len(data)-4).Draw(t, "at")
		flip := rapid.Uint32Min(1).Draw(t, "flip")
		binary.BigEndian.PutUint32(data[at:], binary.BigEndian.Uint32(data[at:])^flip)
		var u unpacker
		_, err := u.unpack(p, data, nil)
		require.ErrorIs(t, err, errChecksum)
		binary.BigEndian.PutUint32(data[at:], binary.BigEndian.Uint32(data[at:])^flip)
		_, err = u.unpack(placeOf(491_000, 4), data, nil)
		require.ErrorIs(t, err, errChecksum)
		_, err = u.unpack(p, data, nil)
		require.NoError(t, err)
	})
}

// The bytes are worked out by hand. Varints and zigzag: Protocol Buffers Encoding, "Base 128 Varints"
// (150 is 96 01) and "Signed Integers" (-1 is 1, 1 is 2, -2 is 3).
func TestBlockBytes(t *testing.T) {
	p := placeOf(1, 2)
	samples := []sample{
		{at: 3_600_075, temp: 75, humidity: 0, state: 1, probe: 2},
		{at: 3_600_150, temp: 74, humidity: 0, state: 1, probe: 2},
		{at: 3_600_225, temp: 73, humidity: 0, state: 1, probe: 2},
		{at: 3_600_299, temp: 73, humidity: 0, state: 150, probe: 2},
	}
	body := strings.Join([]string{
		"01", "04", // version, count
		"00", "9601", "00", "00", "01", // 75, then the step 75 thrice the same, then one less
		"00", "9601", "01", "01", "00", // 75, -1, -1, 0
		"01", "00", "03", // 0 and three zeros more
		"01", "03", "9601", "01", // state 1 thrice, state 150 once
	}, "")
	packed := pack(p, samples)
	require.Equal(t, body, hex.EncodeToString(packed[:len(packed)-crcSize]))
	require.Equal(t, castagnoli(append([]byte{0, 0, 0, 0, 0, 1, 0, 2}, packed[:len(packed)-crcSize]...)),
		binary.BigEndian.Uint32(packed[len(packed)-crcSize:]))
}

// castagnoli computes CRC-32C bit by bit, from its definition in RFC 3720, section 12.1.
func castagnoli(data []byte) uint32 {
	crc := uint32(math.MaxUint32)
	for _, b := range data {
		crc ^= uint32(b)
		for range 8 {
			crc = crc>>1 ^ 0x82f63b78*(crc&1)
		}
	}
	return ^crc
}

// RFC 3720, appendix B.4: CRC examples of 32 bytes each.
func TestChecksumOfRFC3720(t *testing.T) {
	rising := make([]byte, 32)
	for i := range rising {
		rising[i] = byte(i)
	}
	for want, data := range map[uint32][]byte{
		0x8a9136aa: make([]byte, 32),
		0x62a8ab43: []byte(strings.Repeat("\xff", 32)),
		0x46dd794e: rising,
	} {
		require.Equal(t, want, castagnoli(data))
		p := place(binary.BigEndian.Uint64(data))
		require.Equal(t, want, checksum(p, data[8:]))
	}
}

func FuzzUnpack(f *testing.F) {
	p := placeOf(491_000, 3)
	for _, n := range []int{0, 1, 360} {
		var series []sample
		for i := range n {
			series = append(series, sample{at: p.startMS() + int64(i)*10_000, temp: int32(i % 7), state: 1, probe: 3})
		}
		packed := pack(p, series)
		f.Add(packed[:len(packed)-crcSize])
	}
	long := func(before []byte, n uint64) []byte { return binary.AppendUvarint(before, n) }
	f.Add(long([]byte{blockVersion}, math.MaxUint64))                                                    // samples
	f.Add(long([]byte{blockVersion, 2, columnRuns, 0}, 1<<23))                                           // zeros
	f.Add(long([]byte{blockVersion, 1, columnPlain, 0, columnPlain, 0, columnPlain, 0, 1}, 1<<40))       // states
	f.Add(long([]byte{blockVersion, 1, columnPlain, 0, columnPlain, 0, columnPlain, 0}, math.MaxUint64)) // kind of a state
	f.Fuzz(func(t *testing.T, body []byte) {
		data := binary.BigEndian.AppendUint32(body, checksum(p, body))
		var u unpacker
		got, err := u.unpack(p, data, nil)
		require.LessOrEqual(t, int64(cap(u.column)), int64(2*hourMS), "memory")
		if err != nil {
			require.Empty(t, got)
			return
		}
		again, err := u.unpack(p, pack(p, got), nil)
		require.NoError(t, err)
		require.Equal(t, got, again)
	})
}
