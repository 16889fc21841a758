package cure_test

import (
	"fmt"

	"pourward/model/cure"
)

// The adjusted age of concrete over a week of changing temperature, by EN 1992-1-1:2004 (B.10).
func ExampleEurocode() {
	law, days := cure.Eurocode{}, 0.0
	temps := []float64{19, 20, 20, 21, 22, 23}
	for i, length := range []float64{1, 2, 1, 1, 1, 2} {
		days += law.Age(temps[i], temps[i], length)
	}
	fmt.Printf("%.4f d\n", days)
	// Output: 8.3799 d
}

// A night in an unheated annex: 21 °C at closing, 11 °C at dawn, 18 °C by noon.
func ExampleArrhenius_Add() {
	law := cure.Arrhenius{EaJ: 50e3, RefC: 23, FloorC: 5}
	var batch cure.Account
	law.Add(&batch, 21, 11, 12*3600)
	law.Add(&batch, 11, 18, 6*3600)
	fmt.Printf("18 h on the clock, %.1f h of cure at 23 °C\n", batch.Age/3600)
	// Output: 18 h on the clock, 10.8 h of cure at 23 °C
}

// 60 min of working life at 23 °C and 30 min at 33 °C; each time may be off by a tenth.
func ExampleEaFromTwo() {
	band, err := cure.EaFromTwo(cure.Timing{TempC: 23, Seconds: 3600}, cure.Timing{TempC: 33, Seconds: 1800}, 0.1)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f, from %.1f to %.1f kJ/mol\n", band.LikelyJ/1000, band.LowJ/1000, band.HighJ/1000)
	// Output: 52.3, from 37.1 to 67.4 kJ/mol
}
