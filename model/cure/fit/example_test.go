package fit_test

import (
	"fmt"
	"math"

	"pourward/model/cure"
	"pourward/model/cure/fit"
)

// The prior of a rubber class, 50 +/- 15 kJ/mol, meets two times on a data sheet, each good to about 10 %.
func ExampleNormal_Update() {
	class := fit.Normal{Mean: 50e3, SD: 15e3}
	sheet, err := fit.FromTwo(cure.Timing{TempC: 23, Seconds: 16 * 3600}, cure.Timing{TempC: 40, Seconds: 4 * 3600}, 0.1)
	if err != nil {
		fmt.Println(err)
		return
	}
	ea := class.Update(sheet)
	fmt.Printf("sheet %.0f +/- %.0f, now %.0f +/- %.0f kJ/mol\n", sheet.Mean/1000, sheet.SD/1000, ea.Mean/1000, ea.SD/1000)
	// Output: sheet 63 +/- 6, now 61 +/- 6 kJ/mol
}

// A batch was still tacky after 20 h in an annex that cooled to 12 °C overnight, and firm at 30 h.
func ExampleLearn() {
	prior := fit.Prior{
		RefC: 23, FloorC: 5,
		LnSeconds: fit.Normal{Mean: math.Log(16 * 3600), SD: 0.15},
		EaJ:       fit.Normal{Mean: 50e3, SD: 15e3},
		LnSigma:   fit.Normal{Mean: math.Log(0.1), SD: 0.5},
	}
	night := fit.History{{FromC: 18, ToC: 12, Seconds: 10 * 3600}, {FromC: 12, ToC: 18, Seconds: 10 * 3600}}
	morning := append(night, fit.Piece{FromC: 18, ToC: 21, Seconds: 10 * 3600})
	posterior, err := fit.Learn(prior, []fit.Check{fit.Between(night, morning)})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("reference time %.1f h, energy held: %t\n", math.Exp(posterior.LnSeconds.Mean)/3600, posterior.EaHeld)
	// Output: reference time 15.8 h, energy held: true
}
