package dry

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// In steady air a coat is dry after what Remaining names, from any beginning.
func TestAlongSteadyAir(t *testing.T) {
	for _, r := range table(t, "multipliers.csv") {
		if r["stage"] != "total" || r.number(t, "temp_c") > 25 { // there the ceiling on the rate bites
			continue
		}
		coat := Coat{Class: r.class(t), Ref: time.Hour}
		a := still(r.number(t, "temp_c"), r.number(t, "humidity"))
		want := 3600 * r.number(t, "factor")
		course := make([]Air, 40)
		for i := range course {
			course[i] = a
		}
		for _, from := range []float64{0, 450, 2000} {
			got, ok := coat.Along(course, 900).Dry(from)
			require.True(t, ok)
			require.InDelta(t, want, got-from, 3600*r.number(t, "tolerance")+0.01, "%v", r)
		}
	}
}

// Over hours of changing air it says what Advance comes to.
func TestAlongAgreesWithAdvance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coat := anyCoat(t)
		if coat.Ref > 10*time.Hour {
			coat.Ref /= 10
		}
		course := []Air{still(rapid.Float64Range(12, 28).Draw(t, "begins"), rapid.Float64Range(0.3, 0.7).Draw(t, "humidity"))}
		for range 96 {
			last := course[len(course)-1]
			next := still(min(30, max(11, last.AirC+rapid.Float64Range(-0.3, 0.3).Draw(t, "K"))), last.Humidity)
			course = append(course, next)
		}
		const step = 900
		along := coat.Along(course, step)
		from := float64(rapid.IntRange(0, 20).Draw(t, "from"))
		at, ok := along.Dry(from * step)
		p, seconds := Progress{}, from*step
		for k := int(from); k < len(course)-1 && !p.Done(); k++ {
			next := coat.Advance(p, course[k], course[k+1], step)
			if next.Done() {
				low, high := 0.0, 1.0
				for high-low > 1e-4 {
					mid := (low + high) / 2
					m := course[k].moment().toward(course[k+1].moment(), mid)
					if coat.Advance(p, course[k], Air{m.airC, m.filmC, m.humidity}, step*mid).Done() {
						high = mid
					} else {
						low = mid
					}
				}
				seconds += step * high
			} else {
				seconds += step
			}
			p = next
		}
		if !p.Done() {
			return // the two may differ by a second at the end of the course
		}
		require.True(t, ok || seconds > float64(len(course)-2)*step)
		if ok {
			require.InDelta(t, seconds, at, 10+2e-3*(seconds-from*step))
		}
	})
}

func TestAlongNeverDriesSoonerLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coat := anyCoat(t)
		course := make([]Air, 60)
		for i := range course {
			course[i] = anyAir(t, "air")
		}
		along := coat.Along(course, 900)
		before := 0.0
		for from := 0.0; from < 54000; from += 777 {
			at, ok := along.Dry(from)
			if !ok {
				_, later := along.Dry(from + 900)
				require.False(t, later)
				return
			}
			require.GreaterOrEqual(t, at, before)
			require.GreaterOrEqual(t, at, from)
			before = at
		}
	})
}

func TestAlongSaysNothingOfNothing(t *testing.T) {
	_, ok := Coat{Class: Lacquer, Ref: time.Hour}.Along(nil, 900).Dry(0)
	require.False(t, ok)
	_, ok = Coat{Class: Lacquer}.Along([]Air{still(23, 0.5), still(23, 0.5)}, 900).Dry(0)
	require.False(t, ok, "no reference time")
	_, ok = Coat{Class: Lacquer, Ref: time.Hour}.Along([]Air{still(23, 0.5), still(23, 0.5)}, 900).Dry(-1)
	require.False(t, ok)
}
