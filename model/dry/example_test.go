package dry_test

import (
	"fmt"
	"math"
	"time"

	"pourward/model/dry"
)

// A lacquer of one hour at 23 °C spends its first half hour at 13 °C.
func Example() {
	unmeasured := math.NaN()
	coat := dry.Coat{Class: dry.Lacquer, Ref: time.Hour}
	cold := dry.Air{AirC: 13, SurfaceC: unmeasured, Humidity: 0.5}
	warm := dry.Air{AirC: 23, SurfaceC: unmeasured, Humidity: 0.5}

	progress := coat.Advance(dry.Progress{}, cold, cold, 1800)
	left, ok := coat.Remaining(progress, warm)
	fmt.Printf("%.0f %% of the way, %.0f min to go, %v\n", 100*coat.Share(progress), left/60, ok)
	fmt.Printf("band: a factor of %.2f each way\n", math.Exp(1.2816*coat.LnSD(warm)))
	// Output:
	// 27 % of the way, 44 min to go, true
	// band: a factor of 1.47 each way
}
