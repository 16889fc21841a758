package longhand

import (
	"time"

	"pourward/sensors"
)

// Version is that of the form written, and the newest that is read.
const Version = 1

// line is one line of it; exactly one member is set.
type line struct {
	Header  *header  `json:"pourward,omitempty"`
	Probe   *probe   `json:"probe,omitempty"`
	Boot    *boot    `json:"boot,omitempty"`
	Shift   *shift   `json:"shift,omitempty"`
	Mark    *Mark    `json:"mark,omitempty"`
	Reading *reading `json:"reading,omitempty"`
	End     *end     `json:"end,omitempty"`
}

type header struct {
	Version int       `json:"version"`
	Written time.Time `json:"written"`
}

type probe struct {
	Name string `json:"name"`
}

type boot struct {
	ID      string    `json:"id"`
	Zero    time.Time `json:"zero"`
	First   time.Time `json:"first"`
	Trusted bool      `json:"trusted"`
}

type shift struct {
	Boot string    `json:"boot"`
	From time.Time `json:"from"`
	ByMS int64     `json:"by_ms"`
}

type end struct {
	Readings int64  `json:"readings"`
	Marks    int64  `json:"marks"`
	SHA256   string `json:"sha256"`
}

// reading is a reading with its two measures side by side, so that most lines are short.
type reading struct {
	Probe           string       `json:"probe"`
	At              time.Time    `json:"at"`
	TempC           *float64     `json:"temp_c,omitempty"`
	TempQuality     *qualityName `json:"temp_quality,omitempty"`
	TempFault       *faultName   `json:"temp_fault,omitempty"`
	Humidity        *float64     `json:"humidity,omitempty"`
	HumidityQuality *qualityName `json:"humidity_quality,omitempty"`
	HumidityFault   *faultName   `json:"humidity_fault,omitempty"`
}

func readingOf(r sensors.Reading) *reading {
	out := &reading{Probe: r.Probe, At: r.At}
	out.TempC, out.TempQuality, out.TempFault = partsOf(r.Temp)
	out.Humidity, out.HumidityQuality, out.HumidityFault = partsOf(r.Humidity)
	return out
}

func (r *reading) reading() sensors.Reading {
	return sensors.Reading{
		Probe: r.Probe, At: instant(r.At),
		Temp:     measureOf(r.TempC, r.TempQuality, r.TempFault),
		Humidity: measureOf(r.Humidity, r.HumidityQuality, r.HumidityFault),
	}
}

// partsOf leaves out what goes without saying: that a value is good, and that one that is not there is
// missing.
func partsOf(m sensors.Measure) (value *float64, quality *qualityName, fault *faultName) {
	usual := sensors.Missing
	if m.Value != 0 || m.Quality == sensors.Good {
		value, usual = &m.Value, sensors.Good
	}
	if m.Quality != usual {
		q := qualityName(m.Quality)
		quality = &q
	}
	if m.Fault != sensors.NoFault {
		f := faultName(m.Fault)
		fault = &f
	}
	return value, quality, fault
}

func measureOf(value *float64, quality *qualityName, fault *faultName) (m sensors.Measure) {
	if value != nil {
		m.Value, m.Quality = *value, sensors.Good
	}
	if quality != nil {
		m.Quality = sensors.Quality(*quality)
	}
	if fault != nil {
		m.Fault = sensors.Fault(*fault)
	}
	return m
}

// instant is a time as the record has it.
func instant(t time.Time) time.Time { return time.UnixMilli(t.UnixMilli()).UTC() }
