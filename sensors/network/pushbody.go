package network

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math"
	"strings"

	"pourward/sensors"
)

// pushed is a reading on its way to its probe.
type pushed struct {
	to      *pusher
	arrival arrival
}

// body is a reading as it is written in a request.
type body struct {
	Probe        string   `json:"probe"`
	Temperature  *float64 `json:"temperature"`
	Humidity     *float64 `json:"humidity"`
	Unit         string   `json:"unit"`
	HumidityUnit string   `json:"humidity_unit"`
	At           string   `json:"at"`
	Sequence     *uint64  `json:"sequence"`
}

// parseBody returns the readings of a request, at least one.
func parseBody(raw []byte) ([]body, *refused) {
	if err := sensors.CheckJSON(raw); err != nil {
		return nil, refuse(Malformed, "the request cannot be read: %v", err)
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	var out []body
	var err error
	switch text := bytes.TrimLeft(raw, " \t\r\n"); {
	case bytes.HasPrefix(text, []byte("{")):
		out = make([]body, 1)
		err = dec.Decode(&out[0])
	case bytes.HasPrefix(text, []byte("[")):
		err = dec.Decode(&out)
	default:
		return nil, refuse(Malformed, "the request must be one reading in {} or several in []")
	}
	switch {
	case err != nil:
		return nil, refuse(Malformed, "the request cannot be read: %s", plainly(err))
	case len(out) == 0:
		return nil, refuse(NoValue, "there is no reading in the request")
	case len(out) > MaxBatch:
		return nil, refuse(TooLarge, "there are %d readings in the request; send at most %d at once", len(out), MaxBatch)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, refuse(Malformed, "the request goes on after its end")
	}
	return out, nil
}

// plainly says in the sender's terms what the decoder found.
func plainly(err error) string {
	var wrong *json.UnmarshalTypeError
	switch {
	case errors.As(err, &wrong) && strings.HasPrefix(wrong.Value, "number"):
		return wrong.Field + " cannot be " + wrong.Value
	case errors.As(err, &wrong):
		return wrong.Field + " cannot be a " + wrong.Value
	case errors.Is(err, io.ErrUnexpectedEOF):
		return "it ends in the middle"
	}
	return strings.TrimPrefix(err.Error(), "json: ")
}

// read returns what a reading says, in the units of its probe where it names none.
func (b *body) read(to *pusher) (arrival, *refused) {
	a := arrival{sample: sensors.Sample{TempC: math.NaN(), Humidity: math.NaN()}}
	if b.Temperature == nil && b.Humidity == nil {
		return a, refuse(NoValue, "it has neither temperature nor humidity")
	}
	var r *refused
	if b.Temperature != nil {
		if a.sample.TempC, r = b.celsius(to.TempUnit); r != nil {
			return a, r
		}
	}
	if b.Humidity != nil {
		if a.sample.Humidity, r = b.ratio(to.HumidityUnit); r != nil {
			return a, r
		}
	}
	if b.At != "" {
		var err error
		if a.sample.At, err = parseInstant(b.At); err != nil {
			return a, refuse(NoTime, "at: %v", err)
		}
	}
	if b.Sequence != nil {
		a.sequence, a.counted = *b.Sequence, true
	}
	return a, nil
}

func (b *body) celsius(unit TempUnit) (float64, *refused) {
	if b.Unit != "" {
		var r *refused
		if unit, r = tempUnit(b.Unit); r != nil {
			return 0, r
		}
	}
	if unit == 0 {
		return 0, refuse(WrongUnit, `say in what unit the temperature is: "unit": "C", "F" or "K"`)
	}
	return unit.celsius(*b.Temperature), nil
}

func (b *body) ratio(unit HumidityUnit) (float64, *refused) {
	if b.HumidityUnit != "" {
		var r *refused
		if unit, r = humidityUnit(b.HumidityUnit); r != nil {
			return 0, r
		}
	}
	if unit == 0 {
		return 0, refuse(WrongUnit, `say in what unit the humidity is: "humidity_unit": "%%" or "ratio"`)
	}
	return unit.ratio(*b.Humidity)
}
