package simulated

import (
	"encoding/binary"
	"math"
	"sort"
)

// Trim holds the calibration words of a [BME280], named as in its data sheet (table 16).
type Trim struct {
	T1         uint16
	T2, T3     int16
	P1         uint16
	P2, P3, P4 int16
	P5, P6, P7 int16
	P8, P9     int16
	H1, H3     uint8
	H2, H4, H5 int16
	H6         int8
}

// defaultTrim are the words of a real chip, as recorded in the tests of periph's bmxx80 driver.
var defaultTrim = Trim{
	T1: 28176, T2: 26220, T3: 350,
	P1: 38237, P2: -10824, P3: 3024, P4: 7799, P5: -99, P6: -7, P7: 9900, P8: -10230, P9: 4285,
	H1: 75, H2: 366, H3: 0, H4: 309, H5: 0, H6: 30,
}

// store puts the words where the chip keeps them (table 16).
func (t Trim) store(reg *[256]byte) {
	low := reg[regTrimLow:regTrimLow]
	low = binary.LittleEndian.AppendUint16(low, t.T1)
	for _, v := range [...]int16{t.T2, t.T3, int16(t.P1), t.P2, t.P3, t.P4, t.P5, t.P6, t.P7, t.P8, t.P9} {
		low = binary.LittleEndian.AppendUint16(low, uint16(v))
	}
	reg[regTrimH1] = t.H1
	high := reg[regTrimHigh:]
	binary.LittleEndian.PutUint16(high, uint16(t.H2))
	high[2] = t.H3
	high[3] = byte(t.H4 >> 4)
	high[4] = byte(t.H4&0xF) | byte(t.H5&0xF)<<4
	high[5] = byte(t.H5 >> 4)
	high[6] = byte(t.H6)
}

// Invert returns what the converter would deliver in some air: the raw values whose compensation is
// nearest. Out of the chip's reach it is the nearest end.
func (t Trim) Invert(a Air) Raw {
	want := int32(math.Round(a.TempC * 100))
	temp := uint32(sort.Search(1<<20-1, func(raw int) bool {
		c, _ := t.temp(int32(raw))
		return c >= want
	}))
	_, fine := t.temp(int32(temp))
	wet := uint32(math.Round(max(0, min(1, a.Humidity)) * 100 * 1024))
	humidity := uint16(sort.Search(1<<16-1, func(raw int) bool { return t.humidity(int32(raw), fine) >= wet }))
	return Raw{Pressure: plausiblePressure, Temp: temp, Humidity: humidity}
}

// plausiblePressure is the raw pressure of the data sheet's example, about 1000 hPa.
const plausiblePressure = 415148

// temp returns hundredths of °C and the fine temperature that the other formula needs (data sheet,
// 4.2.3, 32-bit integer form).
func (t Trim) temp(raw int32) (centi, fine int32) {
	a := ((raw>>3 - int32(t.T1)<<1) * int32(t.T2)) >> 11
	d := raw>>4 - int32(t.T1)
	b := (((d * d) >> 12) * int32(t.T3)) >> 14
	fine = a + b
	return (fine*5 + 128) >> 8, fine
}

// humidity returns %RH in 1/1024 (data sheet, 4.2.3, 32-bit integer form).
func (t Trim) humidity(raw, fine int32) uint32 {
	v := fine - 76800
	slope := ((((v*int32(t.H6))>>10)*(((v*int32(t.H3))>>11)+32768))>>10 + 2097152) * int32(t.H2)
	v = ((raw<<14 - int32(t.H4)<<20 - int32(t.H5)*v + 16384) >> 15) * ((slope + 8192) >> 14)
	v -= ((((v >> 15) * (v >> 15)) >> 7) * int32(t.H1)) >> 4
	return uint32(max(0, min(v, 419430400)) >> 12)
}
