package heat_test

import (
	"fmt"
	"math"

	"pourward/model/heat"
)

// cureLaw is an Arrhenius law of 50 kJ/mol with rate 1 at 23 °C.
type cureLaw struct{}

func (cureLaw) Rate(tempC float64) float64 {
	return math.Exp(-50000 / 8.314462618 * (1/(tempC+273.15) - 1/296.15))
}

// Forty millimeters of rubber over fifty of plaster that stood at 10 °C: the
// room is at 20 °C all along, yet the pattern's face decides.
func Example() {
	law, err := heat.NewRates(cureLaw{}, -10, 60)
	if err != nil {
		fmt.Println(err)
		return
	}
	body, err := heat.NewBody(heat.Build{Layers: []heat.Layer{
		{Material: heat.Plaster(), Thickness: 0.05},
		{Material: heat.MoldRubber(), Thickness: 0.04, Cures: true},
	}, RightH: heat.DefaultH})
	if err != nil {
		fmt.Println(err)
		return
	}
	mold, err := heat.NewState(body, []float64{10, 20}, law)
	if err != nil {
		fmt.Println(err)
		return
	}
	hours := 0.0
	for part, _ := mold.Slowest(0); part.AgeSeconds < 16*3600; part, _ = mold.Slowest(0) {
		if err := mold.Step(20, 60); err != nil {
			fmt.Println(err)
			return
		}
		hours += 1.0 / 60
	}
	part, _ := mold.Slowest(0)
	fmt.Printf("16 h of cure at 23 °C took %.1f h; slowest %.0f mm from the pattern\n", hours, 1000*part.DepthM)
	// Output:
	// 16 h of cure at 23 °C took 22.7 h; slowest 0 mm from the pattern
}
