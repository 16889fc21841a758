package report

import (
	"context"
	"fmt"
	"math"
	"time"

	"pourward/model"
	"pourward/model/loop"
	"pourward/sensors"
)

// Warmth sums up the temperatures that something had.
type Warmth struct {
	MinC, MeanC, MaxC float64       // NaN where nothing was measured; the mean counts time, not readings
	Measured          time.Duration // for how long it was known
	Missing           time.Duration // for how long it was not
}

// WarmthOf sums up stretches. Those that were not measured count as missing, and their temperatures not at
// all.
func WarmthOf(felt []model.Stretch) Warmth {
	w := Warmth{MinC: math.Inf(1), MaxC: math.Inf(-1)}
	var sum float64 // °C s
	for _, s := range felt {
		span := s.To.Sub(s.From)
		if s.NotMeasured {
			w.Missing += span
			continue
		}
		w.Measured += span
		w.MinC, w.MaxC = min(w.MinC, s.FromC, s.ToC), max(w.MaxC, s.FromC, s.ToC)
		sum += (s.FromC + s.ToC) / 2 * span.Seconds()
	}
	if w.Measured == 0 {
		return Warmth{MinC: math.NaN(), MeanC: math.NaN(), MaxC: math.NaN(), Missing: w.Missing}
	}
	w.MeanC = sum / w.Measured.Seconds()
	return w
}

// around is how far before its beginning and after its end the readings bound what a mold felt.
const around = 24 * time.Hour

// feel finds out what the mold felt, as a whole and in each of its steps.
func (r *Report) feel(ctx context.Context, past loop.Past, marks []model.Mark) error {
	shop, err := model.NewShop(past.Setup)
	if err != nil {
		return fmt.Errorf("set up the shop: %w", err)
	}
	err = past.Record.Readings(ctx, r.Mold.Begun.Add(-around), r.At.Add(around), func(x sensors.Reading) error {
		shop.Reading(x)
		return ctx.Err()
	})
	if err != nil {
		return fmt.Errorf("read the readings on record: %w", err)
	}
	for _, m := range marks {
		_ = shop.Mark(m) // one that does not fit is left out, as in the outlook
	}
	end := r.end()
	r.Felt = shop.Felt(r.Mold.Name, r.Mold.Begun, end)
	for _, s := range r.Mold.Steps {
		until := end
		if !s.Ended.IsZero() {
			until = s.Ended
		}
		r.Steps = append(r.Steps, Step{s, WarmthOf(shop.Felt(r.Mold.Name, s.Begun, until))})
	}
	return nil
}

// end is when the mold came off, or the instant of the report.
func (r *Report) end() time.Time {
	if r.Mold.Open() {
		return r.At
	}
	return r.Mold.Demolded
}
