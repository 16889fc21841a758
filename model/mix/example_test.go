package mix_test

import (
	"fmt"

	"pourward/model/mix"
)

// A frieze in its box: 30 x 20 cm, filled to 5 cm, 1.8 L of it plaster. The rubber is mixed ten to one,
// with a tenth more for what stays in the cups.
func Example() {
	rubber := mix.Recipe{
		Parts:     []mix.Part{{Name: "A", Ratio: 10}, {Name: "B", Ratio: 1}},
		Tolerance: 0.02,
	}
	volume, err := mix.Box{LengthMM: 300, WidthMM: 200, DepthMM: 50, PatternML: 1800}.MilliLiters()
	if err != nil {
		fmt.Println(err)
		return
	}
	grams, err := mix.Grams(volume, 1.1, 0.10)
	if err != nil {
		fmt.Println(err)
		return
	}
	cups, err := mix.Cup{BrimMilliLiters: 1000, DiameterMM: 105}.Split(grams / 1.1)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f mL, %.0f g in %d cups, stirred %.0f mm deep\n", volume, grams, cups.Cups, cups.HeightMM)

	scale := mix.Scale{StepGrams: 1, MaxGrams: 5000}
	each := grams / float64(cups.Cups)
	fmt.Println(scale.Hold(rubber, each, mix.Running))
	even, err := scale.Even(rubber, each)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, w := range even.Parts {
		fmt.Printf("%s %.0f g\n", w.Name, w.Grams)
	}
	// Output:
	// 1200 mL, 1452 g in 2 cups, stirred 76 mm deep
	// <nil>
	// A 660 g
	// B 66 g
}

// A pourable rubber made brushable, and what is left of part A.
func ExampleRecipe_FromPart() {
	rubber := mix.Recipe{
		Parts: []mix.Part{{Name: "A", Ratio: 1}, {Name: "B", Ratio: 1}},
		Additives: []mix.Additive{
			{Name: "thixotropic additive", Share: mix.BrushableShare},
			{Name: "retarder", Share: 0.05, Of: "B", TimeFactor: 2},
		},
	}
	b, err := rubber.FromPart("A", 120)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, w := range append(b.Parts, b.Additives...) {
		fmt.Printf("%s %.1f g\n", w.Name, w.Grams)
	}
	fmt.Printf("times x %g\n", b.TimeFactor)
	// Output:
	// A 120.0 g
	// B 120.0 g
	// thixotropic additive 2.4 g
	// retarder 6.0 g
	// times x 2
}

// Ten grams of catalyst on a scale that shows grams.
func ExampleScale_Hold() {
	rubber := mix.Recipe{Parts: []mix.Part{{Name: "A", Ratio: 10}, {Name: "B", Ratio: 1}}, Tolerance: 0.02}
	fmt.Println(mix.Scale{StepGrams: 1}.Hold(rubber, 110, mix.Tared))
	// Output:
	// this scale leaves the ratio of B to A up to 8.2 % off, for a tolerance of 2 %: mix 462 g, or take a scale with steps of 0.2 g
}

// Part A from a cold shelf, part B from the warm room.
func ExampleRecipe_MixedC() {
	rubber := mix.Recipe{Parts: []mix.Part{{Name: "A", Ratio: 10}, {Name: "B", Ratio: 1}}}
	tempC, err := rubber.MixedC(12, 23)
	fmt.Printf("%.1f °C %v\n", tempC, err)
	// Output:
	// 13.0 °C <nil>
}
