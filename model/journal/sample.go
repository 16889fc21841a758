package journal

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"
	"time"

	"pourward/sensors"
)

const (
	hourMS = int64(time.Hour / time.Millisecond)
	endMS  = 253_402_300_800_000 // first instant too late for the record: the year 10000
)

// sample is a reading on the grid of the record.
type sample struct {
	at       int64 // ms since 1970
	temp     int32 // steps of sensors.TempStep
	humidity int32 // steps of sensors.HumidityStep
	state    state
	probe    uint16
}

// state holds quality and fault of both values, a byte each.
type state uint32

func stateOf(temp, humidity sensors.Measure) state {
	return state(temp.Quality) | state(temp.Fault)<<8 |
		state(humidity.Quality)<<16 | state(humidity.Fault)<<24
}

func (s state) temp() (sensors.Quality, sensors.Fault) {
	return sensors.Quality(s), sensors.Fault(s >> 8)
}

func (s state) humidity() (sensors.Quality, sensors.Fault) {
	return sensors.Quality(s >> 16), sensors.Fault(s >> 24)
}

// sampleOf puts a reading on the grid, its probe left open. It fails for what the record cannot hold.
func sampleOf(r sensors.Reading) (sample, error) {
	s := sample{at: r.At.UnixMilli(), state: stateOf(r.Temp, r.Humidity)}
	if s.at < 0 || s.at >= endMS {
		return s, fmt.Errorf("record %s: its instant %s is outside 1970 to 9999; check the clock",
			r.Probe, r.At.Format(time.RFC3339))
	}
	temp, humidity := math.Round(r.Temp.Value/sensors.TempStep), math.Round(r.Humidity.Value/sensors.HumidityStep)
	if !fits(temp) || !fits(humidity) {
		return s, fmt.Errorf("record %s: %g °C with humidity %g is not a measurement; its source should have refused it",
			r.Probe, r.Temp.Value, r.Humidity.Value)
	}
	s.temp = int32(sensors.TempSteps(r.Temp.Value))
	s.humidity = int32(sensors.HumiditySteps(r.Humidity.Value))
	return s, nil
}

// fits leaves a step of room, for the rounding in sampleOf differs from that of the grid by less.
func fits(steps float64) bool { return math.Abs(steps) < math.MaxInt32 }

func (s sample) reading(probe string) sensors.Reading {
	r := sensors.Reading{
		Probe:    probe,
		At:       time.UnixMilli(s.at).UTC(),
		Temp:     sensors.Measure{Value: sensors.TempFromSteps(int64(s.temp))},
		Humidity: sensors.Measure{Value: sensors.HumidityFromSteps(int64(s.humidity))},
	}
	r.Temp.Quality, r.Temp.Fault = s.state.temp()
	r.Humidity.Quality, r.Humidity.Fault = s.state.humidity()
	return r
}

// hourOf returns the hour since 1970 that holds an instant in ms. Before 1970 there is none: -1.
func hourOf(ms int64) int64 {
	if ms < 0 {
		return -1
	}
	return ms / hourMS
}

// unchecked stands where a row was written before rows had a checksum.
const unchecked = -1

// sum is the CRC-32C of a sample, for the time in which it is not packed.
func (s sample) sum() uint32 {
	var b [22]byte
	binary.BigEndian.PutUint64(b[:], uint64(s.at))
	binary.BigEndian.PutUint32(b[8:], uint32(s.temp))
	binary.BigEndian.PutUint32(b[12:], uint32(s.humidity))
	binary.BigEndian.PutUint32(b[16:], uint32(s.state))
	binary.BigEndian.PutUint16(b[20:], s.probe)
	return crc32.Checksum(b[:], crc32.MakeTable(crc32.Castagnoli))
}

func (s sample) place() place { return placeOf(hourOf(s.at), s.probe) }

// place names a block: one probe, one hour. It is the block's key in the file.
type place int64

func placeOf(hour int64, probe uint16) place { return place(hour<<16 | int64(probe)) }

func (p place) hour() int64      { return int64(p) >> 16 }
func (p place) probe() uint16    { return uint16(p) }
func (p place) startMS() int64   { return p.hour() * hourMS }
func (p place) start() time.Time { return time.UnixMilli(p.startMS()).UTC() }

// bound turns a bound of an interval into ms since 1970, within what the record can hold. One between
// two steps counts as the later.
func bound(t time.Time) int64 {
	switch {
	case t.Before(time.UnixMilli(0)):
		return 0
	case !t.Before(time.UnixMilli(endMS)):
		return endMS
	case t.Nanosecond()%int(time.Millisecond) != 0:
		return t.UnixMilli() + 1
	}
	return t.UnixMilli()
}
