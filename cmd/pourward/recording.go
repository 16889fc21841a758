package main

import (
	"flag"
	"fmt"
	"time"

	"pourward/sensors/recorded"
)

// recording is how a CSV file of readings is to be read, as flags say it.
type recording struct {
	opts     recorded.Options
	unit     string
	humidity string
	zoneName string
	zone     *time.Location
	tempCol  string
	humidCol string
	every    time.Duration
}

func (f *recording) register(fs *flag.FlagSet) {
	fs.StringVar(&f.opts.TimeColumn, "time", "time", "`column` with the time")
	fs.StringVar(&f.opts.TimeLayout, "time-layout", "2006-01-02 15:04:05", "how times are written: an `example` of 2 January 2006 15:04:05, or unix")
	fs.StringVar(&f.zoneName, "zone", "UTC", "time `zone` of times written without one, and of those told")
	fs.StringVar(&f.tempCol, "temp", "temp", "`column` with the air temperature")
	fs.StringVar(&f.unit, "temp-unit", "C", "its `unit`: C or F; times and temperatures are told in the same")
	fs.StringVar(&f.humidCol, "humidity", "", "`column` with the relative humidity; none if left out")
	fs.StringVar(&f.humidity, "humidity-unit", "%", "its `unit`: % or ratio")
	fs.DurationVar(&f.every, "every", 10*time.Minute, "how far apart the readings should be")
	fs.BoolVar(&f.opts.SkipBadRows, "skip-bad", false, "leave out rows that cannot be read, and count them")
}

// settle turns the flags into options.
func (f *recording) settle(path string) (err error) {
	f.opts.Path = path
	if f.zone, err = time.LoadLocation(f.zoneName); err != nil {
		return fmt.Errorf("-zone: %w; write for example Europe/Brussels", err)
	}
	f.opts.Zone = f.zone
	units := map[string]recorded.TempUnit{"C": recorded.Celsius, "°C": recorded.Celsius, "F": recorded.Fahrenheit, "°F": recorded.Fahrenheit}
	humidities := map[string]recorded.HumidityUnit{"%": recorded.Percent, "ratio": recorded.Ratio}
	f.opts.TempUnit, f.opts.HumidityUnit = units[f.unit], humidities[f.humidity]
	if f.opts.TempUnit == 0 {
		return fmt.Errorf("-temp-unit: %q is neither C nor F", f.unit)
	}
	if f.opts.HumidityUnit == 0 {
		return fmt.Errorf("-humidity-unit: %q is neither %% nor ratio", f.humidity)
	}
	f.opts.Probes = []recorded.Probe{{Name: "recorded", TempColumn: f.tempCol, HumidityColumn: f.humidCol}}
	return nil
}
