package sensors

import (
	"context"
	"time"
)

// Source delivers readings.
type Source interface {
	// Run sends readings on out, each probe's in order of time, until ctx ends or the source has no
	// more. It returns nil when the source is exhausted, else the context's error or the error that
	// stopped it. A probe that fails is not an error of Run: it is delivered as a [Failed] reading.
	// Run never closes out.
	Run(ctx context.Context, out chan<- Reading) error
}

// Sample is what a driver measured, before it is judged.
type Sample struct {
	TempC    float64 // NaN when not measured
	Humidity float64 // ratio 0..1; NaN when not measured

	// At is the instant of the measurement where the driver knows it better than "when Sense was
	// called", such as the start of a conversion shared by several probes. Zero otherwise.
	At time.Time
}

// Probe is one measuring device that is open.
type Probe interface {
	// Sense makes one measurement. It ends when ctx does. An error should carry its kind in a
	// [FaultError]; the sample is void then.
	Sense(ctx context.Context) (Sample, error)
	// Close gives up the device. The bus below stays open.
	Close() error
}

// Opener makes a fresh [Probe]; it is called again after a fault, because a driver kept across a
// brown-out of its chip may go on decoding nonsense.
type Opener func(ctx context.Context) (Probe, error)

// Clock tells the time and waits. Live it is the board's; in the demo it runs fast; in tests it is
// stepped by hand.
type Clock interface {
	Now() time.Time
	// Wait returns when the clock has reached t (at once if it has already), or with ctx's error.
	Wait(ctx context.Context, t time.Time) error
}
