package simulated

import "time"

// reply is what a chip that answers commands holds for the next read. A read with nothing to give is
// not acknowledged.
type reply struct {
	bytes []byte
	ready time.Time // not before
}

// set prepares bytes that can be read after a while.
func (a *reply) set(after time.Duration, b []byte) { *a = reply{b, time.Now().Add(after)} }

// give hands the bytes out once.
func (a *reply) give(r []byte) error {
	if len(a.bytes) == 0 || time.Now().Before(a.ready) {
		return eREMOTEIO
	}
	n := copy(r, a.bytes)
	for i := n; i < len(r); i++ {
		r[i] = 0xFF // nobody drives the line beyond the end
	}
	a.bytes = nil
	return nil
}

// words returns 16-bit words as SHT3x, SHT4x, HDC302x and SCD4x send them: high byte first, each
// followed by its checksum.
func words(values ...uint16) []byte {
	var out []byte
	for _, v := range values {
		b := []byte{byte(v >> 8), byte(v)}
		out = append(out, append(b, crc8(b))...)
	}
	return out
}

// crc8 is the checksum with polynomial 0x31 that starts from 0xFF (Sensirion SHT3x-DIS, table 20).
func crc8(b []byte) byte {
	crc := byte(0xFF)
	for _, v := range b {
		crc ^= v
		for range 8 {
			high := crc&0x80 != 0
			crc <<= 1
			if high {
				crc ^= 0x31
			}
		}
	}
	return crc
}

// counts returns a part of a full scale as a converter's number of that scale, at least zero and at
// most the greatest number of the bits.
func counts(part, scale float64, bits int) uint32 {
	most := float64(uint32(1)<<bits - 1)
	return uint32(max(0, min(most, part*scale+0.5)))
}

// counts16 is [counts] for the chips whose full scale is 65535.
func counts16(part float64) uint16 { return uint16(counts(part, 65535, 16)) }
