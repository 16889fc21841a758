package simulated

import "time"

// HDC302x is a simulated humidity and temperature chip (Texas Instruments SNAS778): commands, waits and
// checksums as in its data sheet.
type HDC302x struct{ periodic }

// Commands and the answer of HDC302x that tell it from SHT3x.
const (
	hdcManufacturer = 0x3781
	hdcSerial       = 0x3683 // and the two that follow

	hdcIsTI = 0x3000
)

// NewHDC302x returns a chip with a serial number of 48 bits, in the air that a function tells whenever
// it measures.
func NewHDC302x(serial uint64, air func() Air) *HDC302x {
	c := &HDC302x{periodic{
		air:  air,
		took: map[uint16]time.Duration{wordMeasure: 12500 * time.Microsecond, wordMeasureMedium: 7500 * time.Microsecond, wordMeasureLow: 5 * time.Millisecond},
		own: func(command uint16) []byte {
			switch {
			case command == hdcManufacturer:
				return words(hdcIsTI)
			case command >= hdcSerial && command < hdcSerial+3:
				return words(uint16(serial >> (16 * (hdcSerial + 2 - command))))
			}
			return nil
		},
	}}
	c.reset()
	return c
}
