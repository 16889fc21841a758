package doubt_test

import (
	"fmt"
	"math"

	"pourward/model/doubt"
)

// In an unheated annex, 6 K below the reference temperature, the cup was firm at 1.1 times its time; the
// patch on a bare surface is still tacky at 2.1 times its own.
func ExampleCase_Judge() {
	c := doubt.Case{
		Spread: doubt.Spread{Shared: 0.2},
		ColdK:  6,
		Checks: []doubt.Check{
			{Of: doubt.Cup, Found: doubt.Firm, LnAge: math.Log(1.1)},
			{Of: doubt.Patch, Found: doubt.Tacky, LnAge: math.Log(2.1)},
		},
	}
	j, err := c.Judge()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(j.Verdict)
	words := j.Words()
	fmt.Println(words.Said)
	fmt.Println(words.Do[0])
	// Output:
	// surface inhibits
	// cup firm, patch tacky at 2.1 times its time: the surface inhibits.
	// Clean off, seal, release, patch again.
}

// The cup is firm a little after its time. What to touch next, and when? The caller turns the age into a
// clock time.
func ExampleCase_Settle() {
	c := doubt.Case{
		Spread: doubt.Spread{Shared: 0.2},
		Checks: []doubt.Check{{Of: doubt.Cup, Found: doubt.Firm, LnAge: math.Log(1.1)}},
	}
	next, ok, err := c.Settle([]doubt.Reachable{{Of: doubt.Cup, LnAge: math.Log(1.1)}, {Of: doubt.Patch, LnAge: math.Log(1.1)}})
	if err != nil || !ok {
		fmt.Println(ok, err)
		return
	}
	fmt.Println(next.Words())
	// Output:
	// Touch the patch at 1.3 times its time: if tacky, the surface inhibits; if firm, nothing is wrong.
}
