package journal

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
)

// A block holds the samples of one probe and hour, rising in time:
//
//	version  1 byte
//	count    uvarint
//	times    column: ms since the last sample, less the same of the sample before
//	temps    column: steps of temperature since the last sample
//	humidity column: steps of humidity since the last sample
//	states   runs: state uvarint, length uvarint
//	crc      CRC-32C of the place (8 bytes, big-endian) and of all before, 4 bytes, big-endian
//
// A column is a mode byte and zigzag varints. In mode 1 a zero is followed by a uvarint: how many more
// zeros follow.
const (
	blockVersion = 1
	columnPlain  = 0
	columnRuns   = 1
	crcSize      = 4
)

func checksum(p place, data []byte) uint32 {
	var key [8]byte
	binary.BigEndian.PutUint64(key[:], uint64(p))
	table := crc32.MakeTable(crc32.Castagnoli)
	return crc32.Update(crc32.Checksum(key[:], table), table, data)
}

// pack writes samples of p's probe and hour, which must rise strictly in time.
func pack(p place, samples []sample) []byte {
	b := append(make([]byte, 0, 16+4*len(samples)), blockVersion)
	b = binary.AppendUvarint(b, uint64(len(samples)))
	column := make([]int64, len(samples))

	prev, step := p.startMS(), int64(0)
	for i, s := range samples {
		d := s.at - prev
		column[i] = d - step
		prev, step = s.at, d
	}
	b = appendColumn(b, column)

	prev = 0
	for i, s := range samples {
		column[i], prev = int64(s.temp)-prev, int64(s.temp)
	}
	b = appendColumn(b, column)

	prev = 0
	for i, s := range samples {
		column[i], prev = int64(s.humidity)-prev, int64(s.humidity)
	}
	b = appendColumn(b, column)

	b = appendStates(b, samples)
	return binary.BigEndian.AppendUint32(b, checksum(p, b))
}

func appendColumn(b []byte, column []int64) []byte {
	zeros, runs := 0, 0
	for i, v := range column {
		if v == 0 {
			zeros++
			if i == 0 || column[i-1] != 0 {
				runs++
			}
		}
	}
	if zeros <= 2*runs { // a run costs two bytes, a zero by itself one
		b = append(b, columnPlain)
		for _, v := range column {
			b = binary.AppendVarint(b, v)
		}
		return b
	}
	b = append(b, columnRuns)
	for i := 0; i < len(column); {
		b = binary.AppendVarint(b, column[i])
		if column[i] != 0 {
			i++
			continue
		}
		n := i + 1
		for n < len(column) && column[n] == 0 {
			n++
		}
		b = binary.AppendUvarint(b, uint64(n-i-1))
		i = n
	}
	return b
}

func appendStates(b []byte, samples []sample) []byte {
	for i := 0; i < len(samples); {
		n := i + 1
		for n < len(samples) && samples[n].state == samples[i].state {
			n++
		}
		b = binary.AppendUvarint(b, uint64(samples[i].state))
		b = binary.AppendUvarint(b, uint64(n-i))
		i = n
	}
	return b
}

var (
	errChecksum = errors.New("checksum does not match")
	errShape    = errors.New("contents make no sense")
)

// unpacker unpacks blocks one after the other and reuses its memory.
type unpacker struct{ column []int64 }

// unpack appends the samples of a block to dst. On error dst comes back as it was.
func (u *unpacker) unpack(p place, data []byte, dst []sample) ([]sample, error) {
	if len(data) < 2+crcSize {
		return dst, errShape
	}
	body, sum := data[:len(data)-crcSize], data[len(data)-crcSize:]
	if checksum(p, body) != binary.BigEndian.Uint32(sum) {
		return dst, errChecksum
	}
	if body[0] != blockVersion {
		return dst, fmt.Errorf("version %d of packing is not known", body[0])
	}
	out, err := u.samples(p, &cursor{rest: body[1:]}, dst)
	if err != nil {
		return dst, err
	}
	return out, nil
}

func (u *unpacker) samples(p place, c *cursor, dst []sample) ([]sample, error) {
	n := c.count(uint64(hourMS))
	at := len(dst)

	u.read(c, n)
	prev, step, end := p.startMS(), int64(0), p.startMS()+hourMS
	for i, v := range u.column {
		step += v
		prev += step
		if prev >= end || prev < p.startMS() || i > 0 && step <= 0 {
			return nil, errShape
		}
		dst = append(dst, sample{at: prev, probe: p.probe()})
	}
	out := dst[at:]

	u.read(c, len(out))
	sum := int64(0)
	for i, v := range u.column {
		sum += v
		out[i].temp = int32(sum)
	}

	u.read(c, len(out))
	sum = 0
	for i, v := range u.column {
		sum += v
		out[i].humidity = int32(sum)
	}

	c.states(out)
	if c.bad || len(c.rest) > 0 || len(out) != n {
		return nil, errShape
	}
	return dst, nil
}

// read fills u.column with n values, or fewer if the data ends early.
func (u *unpacker) read(c *cursor, n int) {
	u.column = u.column[:0]
	runs := c.byte() == columnRuns
	for len(u.column) < n && !c.bad {
		v := c.varint()
		u.column = append(u.column, v)
		if v == 0 && runs {
			for range c.count(uint64(n - len(u.column))) {
				u.column = append(u.column, 0)
			}
		}
	}
}

// cursor reads from the front of rest. Once something was wrong it is bad and yields zeros.
type cursor struct {
	rest []byte
	bad  bool
}

func (c *cursor) skip(n int, ok bool) {
	if !ok {
		c.bad, c.rest = true, nil
		return
	}
	c.rest = c.rest[n:]
}

func (c *cursor) byte() byte {
	if len(c.rest) == 0 {
		c.skip(0, false)
		return 0
	}
	b := c.rest[0]
	c.skip(1, true)
	return b
}

func (c *cursor) varint() int64 {
	if len(c.rest) > 0 && c.rest[0] < 0x80 { // nearly all are one byte
		u := c.rest[0]
		c.rest = c.rest[1:]
		return int64(u>>1) ^ -int64(u&1)
	}
	v, n := binary.Varint(c.rest)
	c.skip(n, n > 0)
	return v
}

// count reads a number that must not exceed limit.
func (c *cursor) count(limit uint64) int {
	v, n := binary.Uvarint(c.rest)
	c.skip(n, n > 0 && v <= limit)
	if c.bad {
		return 0
	}
	return int(v)
}

func (c *cursor) states(out []sample) {
	for len(out) > 0 && !c.bad {
		s := state(c.count(1<<32 - 1))
		n := c.count(uint64(len(out)))
		if n == 0 {
			c.bad = true
		}
		for i := range out[:n] {
			out[i].state = s
		}
		out = out[n:]
	}
}
