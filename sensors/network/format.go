package network

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"pourward/sensors"
)

// MaxPayload is the most bytes of a message or request that are looked at.
const MaxPayload = 64 << 10

// Field says where a number stands in a message, and how to make a value of it.
type Field struct {
	Path   string  // see [CheckPath]; "" when the message does not have it
	Scale  float64 // the number is multiplied by it; 1 when zero
	Offset float64 // and this is then added, in the unit of the value
}

// Format says how a probe's messages are written.
type Format struct {
	Temp         Field
	TempUnit     TempUnit // required when Temp has a path
	Humidity     Field
	HumidityUnit HumidityUnit // required when Humidity has a path

	// Unit is the path of a text with the temperature's unit, such as "F". Where a message has it, it
	// stands above TempUnit.
	Unit string

	Time     string   // path of the time of the measurement; "" when there is none
	TimeForm TimeForm // how it is written
	Sequence string   // path of a whole number that the probe counts up; "" when there is none

	// NumericStrings takes "21.5" like 21.5, for senders that put numbers in quotes.
	NumericStrings bool
}

// TimeForm is how a time is written.
type TimeForm uint8

// Forms of time.
const (
	RFC3339     TimeForm = iota // text with a zone, such as "2026-01-14T12:00:00Z"
	UnixSeconds                 // number of seconds since 1970, with or without decimals
	UnixMillis                  // number of thousandths of a second since 1970
)

// form is a Format with its paths understood.
type form struct {
	Format
	temp, humidity, unit, time, sequence path
}

func (f Format) compile() (form, error) {
	c := form{Format: f}
	var errs []error
	for _, p := range [...]struct {
		text string
		into *path
	}{{f.Temp.Path, &c.temp}, {f.Humidity.Path, &c.humidity}, {f.Unit, &c.unit}, {f.Time, &c.time}, {f.Sequence, &c.sequence}} {
		if p.text != "" {
			var err error
			*p.into, err = parsePath(p.text)
			errs = append(errs, err)
		}
	}
	want := func(ok bool, what string) {
		if !ok {
			errs = append(errs, errors.New(what))
		}
	}
	want(f.Temp.Path != "" || f.Humidity.Path != "", "no path to a temperature or humidity is given")
	want(f.Temp.Path == "" || f.TempUnit >= Celsius && f.TempUnit <= Kelvin, "the unit of the temperature is not given")
	want(f.Humidity.Path == "" || f.HumidityUnit == Percent || f.HumidityUnit == Ratio, "the unit of the humidity is not given")
	want(f.TimeForm <= UnixMillis, "the form of the time is unknown")
	want(finite(f.Temp.Scale, f.Temp.Offset, f.Humidity.Scale, f.Humidity.Offset), "scale and offset must be finite")
	return c, errors.Join(errs...)
}

// decode reads one JSON text, its numbers left as they are written.
func decode(payload []byte) (any, *refused) {
	if len(payload) > MaxPayload {
		return nil, refuse(TooLarge, "the message has %d bytes; at most %d are taken", len(payload), MaxPayload)
	}
	if len(payload) == 0 {
		return nil, refuse(NoValue, "the message is empty")
	}
	dec := json.NewDecoder(bytes.NewReader(payload))
	dec.UseNumber()
	var doc any
	if err := dec.Decode(&doc); err != nil {
		return nil, refuse(Malformed, "%.60q is not JSON: %v", payload, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, refuse(Malformed, "%.60q goes on after the end of its JSON", payload)
	}
	return doc, nil
}

// read returns what a decoded message says, and what in it had to be left out.
func (f *form) read(doc any) (arrival, []*refused) {
	a := arrival{sample: sensors.Sample{TempC: math.NaN(), Humidity: math.NaN()}}
	var faults []*refused
	check := func(r *refused) {
		if r != nil {
			faults = append(faults, r)
		}
	}
	var r *refused
	a.sample.TempC, r = f.readTemp(doc)
	check(r)
	a.sample.Humidity, r = f.readHumidity(doc)
	check(r)
	a.sample.At, r = f.readTime(doc)
	check(r)
	a.sequence, a.counted, r = f.readSequence(doc)
	check(r)
	if a.empty() && len(faults) == 0 {
		check(refuse(NoValue, "there is no number at %s", f.places()))
	}
	return a, faults
}

// places names where values are looked for.
func (f *form) places() string {
	var out []string
	for _, p := range []string{f.Temp.Path, f.Humidity.Path} {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, " or ")
}

func (f *form) readTemp(doc any) (float64, *refused) {
	v, r := f.readField(f.Temp, f.temp, doc)
	if r != nil || math.IsNaN(v) {
		return v, r
	}
	unit := f.TempUnit
	if f.Unit != "" {
		if text, found := f.unit.find(doc); found {
			if unit, r = tempUnit(fmt.Sprint(text)); r != nil {
				return math.NaN(), r
			}
		}
	}
	return unit.celsius(v), nil
}

func (f *form) readHumidity(doc any) (float64, *refused) {
	v, r := f.readField(f.Humidity, f.humidity, doc)
	if r != nil || math.IsNaN(v) {
		return v, r
	}
	return f.HumidityUnit.ratio(v)
}

// readField returns the value of a field, NaN when the message does not have it.
func (f *form) readField(field Field, at path, doc any) (float64, *refused) {
	if field.Path == "" {
		return math.NaN(), nil
	}
	found, ok := at.find(doc)
	if !ok {
		return math.NaN(), nil
	}
	v, err := f.number(found)
	if err == nil {
		if field.Scale != 0 {
			v *= field.Scale
		}
		if v += field.Offset; finite(v) {
			return v, nil
		}
		err = errors.New("it is too large")
	}
	return math.NaN(), refuse(NotNumber, "what stands at %s is no number: %v", field.Path, err)
}

// readTime returns the message's time, zero when it does not have it.
func (f *form) readTime(doc any) (time.Time, *refused) {
	found, ok := f.time.find(doc)
	if f.Time == "" || !ok {
		return time.Time{}, nil
	}
	at, err := f.instant(found)
	if err != nil {
		return time.Time{}, refuse(NoTime, "what stands at %s is no time: %v", f.Time, err)
	}
	return at, nil
}

func (f *form) instant(v any) (time.Time, error) {
	if f.TimeForm == RFC3339 {
		text, ok := v.(string)
		if !ok {
			return time.Time{}, errors.New("it is no text")
		}
		return parseInstant(text)
	}
	n, err := f.number(v)
	if err != nil {
		return time.Time{}, err
	}
	if f.TimeForm == UnixSeconds {
		n *= 1000
	}
	return instantOf(n)
}

// readSequence returns the message's sequence number.
func (f *form) readSequence(doc any) (uint64, bool, *refused) {
	found, ok := f.sequence.find(doc)
	if f.Sequence == "" || !ok {
		return 0, false, nil
	}
	n, ok := found.(json.Number)
	v, err := strconv.ParseUint(n.String(), 10, 64)
	if !ok || err != nil {
		return 0, false, refuse(Malformed, "what stands at %s is no whole number from 0", f.Sequence)
	}
	return v, true, nil
}
