package chips

import (
	"pourward/sensors"
	"pourward/sensors/chips/sht"
)

// inspectWords looks at what chips send that answer in 16-bit words, each with a checksum: SHT3x,
// SHT4x, HDC302x and SCD4x. The checksum tells zeros and ones from an answer, but not a chip that has
// measured nothing: HDC302x then sends zeros with the right checksum (TI E2E forum, thread 1330415).
func inspectWords(_, r []byte) error {
	if len(r) == 0 {
		return nil
	}
	if err := dead("answer", r); err != nil {
		return err
	}
	for i := 0; i+2 < len(r); i += 3 {
		if sht.Checksum(r[i:i+2]) != r[i+2] {
			return found(sensors.BadChecksum, "answer % X", r)
		}
	}
	if len(r) != 6 {
		return nil
	}
	first, second := word(r), word(r[3:])
	if first == 0 && second == 0 || first == 0xFFFF && second == 0xFFFF {
		return found(sensors.PowerOn, "the chip has measured nothing (answer % X)", r)
	}
	return nil
}

// word returns the first two bytes, high one first.
func word(b []byte) uint16 { return uint16(b[0])<<8 | uint16(b[1]) }
