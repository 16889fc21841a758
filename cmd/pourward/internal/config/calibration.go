package config

import (
	"pourward/cmd/pourward/internal/keyed"
	"pourward/sensors"
)

const (
	pointsExample = `[{reads: "36 %", is: "33 %"}, {reads: "72 %", is: "75 %"}]`
	limitsExample = `{min: "-10 °C", max: "60 °C"}`
)

// readCorrection reads what the maker found when comparing the probe; dry says that it measures no
// humidity.
func readCorrection(g *group, dry bool) sensors.Correction {
	offset := optional(g, "offset", measured(ParseTempDiff, "-0.3 K", -farthestOffK, farthestOffK, "-10 K to 10 K"), 0)
	c := sensors.Correction{OffsetK: float64(offset)}
	if g.Find("humidity_points") == nil {
		return c
	}
	faults := g.Faults()
	points := g.list("humidity_points", g.Path("humidity_points"), `{reads: "36 %", is: "33 %"}`)
	for i, p := range points {
		if point := readPoint(p); i < len(c.Humidity) {
			c.Humidity[i] = point
		}
	}
	report := func(what, fix string) { g.Report(g.At("humidity_points"), g.Path("humidity_points")+": "+what, fix) }
	switch err := c.Check(); {
	case g.Faults() > faults:
	case dry:
		report("the probe measures no humidity", "delete this key")
	case len(points) != len(c.Humidity) || c.Humidity[0] == c.Humidity[1]:
		report("there must be two points, and they must differ", "write e.g. humidity_points: "+pointsExample)
	case err != nil:
		report(err.Error(), "write e.g. humidity_points: "+pointsExample)
	}
	return c
}

func readPoint(g *group) sensors.HumidityPoint {
	defer g.Done()
	percent := measured(ParsePercent, "36 %", 0, 1, "0 % to 100 %")
	return sensors.HumidityPoint{Reads: float64(required(g, "reads", percent)), Is: float64(required(g, "is", percent))}
}

// What a probe can be believed to measure at most, and how far it may move in a minute.
const (
	coldestC, hottestC TempC = -60, 150 // what the supported chips measure, and a margin
	smallestStepK      DiffK = 0.1
	largestStepK       DiffK = 60
)

// usualMinC and usualMaxC hold where only the other is written; see [sensors.Limits].
const usualMinC, usualMaxC TempC = -40, 85

func readLimits(g *group) sensors.Limits {
	if g == nil {
		return sensors.Limits{}
	}
	defer g.Done()
	temp := func(example string) keyed.Want[TempC] {
		return measured(ParseTemp, example, coldestC, hottestC, "-60 °C to 150 °C")
	}
	faults := g.Faults()
	l := sensors.Limits{
		TempMinC:  float64(optional(g, "min", temp("-10 °C"), usualMinC)),
		TempMaxC:  float64(optional(g, "max", temp("60 °C"), usualMaxC)),
		TempStepC: float64(optional(g, "step", measured(ParseTempDiff, "3 K", smallestStepK, largestStepK, "0.1 K to 60 K"), 0)),
	}
	if g.Faults() == faults && !(l.TempMaxC-l.TempMinC > rounding) {
		g.Report(g.Node.At, g.Path("max")+" is not above "+g.Path("min"), "write e.g. limits: "+limitsExample)
	}
	return l
}
