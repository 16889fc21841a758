package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"pourward/model/forecast"
	"pourward/sensors"
	"pourward/sensors/recorded"
)

const scoreAbout = `Replays a recorded climate and judges what the forecaster would have told: how far off hourly temperatures
and completion times were, how often the 80 % band held the truth and how wide it was, against plain
baselines in the same run. Faulty readings are left out as the daemon would leave them out.`

func score(ctx context.Context, args []string, out, errs io.Writer) error {
	var f recording
	var o forecast.ScoreOptions
	fs := flags("score", " FILE.csv", scoreAbout, errs)
	f.register(fs)
	fs.IntVar(&o.EveryHours, "pour-every", 0, "`hours` between the cures that are poured; 3 if left out")
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	if err := f.settle(fs.Arg(0)); err != nil {
		return err
	}
	series, err := f.series(ctx)
	if err != nil {
		return err
	}
	_, err = fmt.Fprint(out, forecast.Score(series, o))
	return err
}

// series reads the good temperatures of a recording.
func (f *recording) series(ctx context.Context) (forecast.Series, error) {
	s := forecast.Series{Name: f.opts.Path, Zone: f.zone}
	source, err := recorded.New(f.opts)
	if err != nil {
		return s, err
	}
	out, done := make(chan sensors.Reading, 256), make(chan error, 1)
	go func() {
		defer close(out)
		done <- source.Run(ctx, out)
	}()
	for r := range out {
		if r.Temp.OK() {
			s.Readings = append(s.Readings, forecast.Reading{At: r.At, TempC: r.Temp.Value})
		}
	}
	if err := <-done; err != nil {
		return s, err
	}
	if n := len(s.Readings); n < 2 || s.Readings[n-1].At.Sub(s.Readings[0].At) < 48*time.Hour {
		return s, fmt.Errorf("%s holds %d good temperatures, less than two days of them: there is nothing to score", f.opts.Path, n)
	}
	return s, nil
}
