package forecast

import (
	"math"
	"slices"
)

// Cure is a reaction that is complete after NeedHours at its reference temperature.
type Cure struct {
	NeedHours float64
	// Rate is how many reference hours pass per hour at a temperature, 1 at the reference temperature, 0 where
	// the reaction stands still.
	Rate func(tempC float64) float64
}

// maxCompletionHours is the farthest a projection looks, thirty days; later is +Inf.
const maxCompletionHours = 30 * 24

// Completions are the hours after At at which the cure, doneHours of its need already behind it, completes on
// each path, in ascending order. Past 72 hours a path repeats its last day, so a value beyond that is a
// warning, not a projection: say "not before". +Inf where the cure does not complete within thirty days.
// The air's own temperature is used; run the paths through the mold first where its lag matters.
func (p *Paths) Completions(c Cure, doneHours float64, into []float64) []float64 {
	into = resize(into, p.N)
	for i := range into {
		into[i] = completion(p.Row(i), c.Rate, c.NeedHours-doneHours)
	}
	slices.Sort(into)
	return into
}

func completion(row []float64, rate func(float64) float64, need float64) float64 {
	if need <= 0 {
		return 0
	}
	age, before, lastDay := 0.0, rate(row[0]), 0.0
	for k := 1; k < len(row); k++ {
		after := rate(row[k])
		gain := (before + after) / 2
		if age+gain >= need {
			return float64(k-1) + insideHour(before, after, need-age)
		}
		age += gain
		if k > leads-24 {
			lastDay += gain
		}
		before = after
	}
	return beyond(row, rate, need-age, lastDay)
}

// beyond repeats the last day until the rest of the need is met.
func beyond(row []float64, rate func(float64) float64, need, lastDay float64) float64 {
	if lastDay <= 0 || leads+need/lastDay*24 > maxCompletionHours {
		return math.Inf(1)
	}
	days := math.Ceil(need/lastDay) - 1
	need -= days * lastDay
	at := leads + 24*days
	for k := leads - 24; k < leads; k++ {
		before, after := rate(row[k]), rate(row[k+1])
		if gain := (before + after) / 2; gain < need {
			need, at = need-gain, at+1
			continue
		}
		return at + insideHour(before, after, need)
	}
	return at
}

// insideHour solves for the fraction of an hour after which a linearly changing rate has given need.
func insideHour(before, after, need float64) float64 {
	slope := after - before
	root := math.Sqrt(max(before*before+2*slope*need, 0))
	return min(2*need/(before+root), 1)
}
