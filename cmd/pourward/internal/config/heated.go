package config

import (
	"strings"
	"time"

	"pourward/cmd/pourward/internal/keyed"
	"pourward/model/plan"
)

// Heated is when a place is heated, as the maker says it. It overrides what the forecast would learn.
type Heated struct {
	Days     [7]bool       // by time.Weekday
	From, To time.Duration // after local midnight; From is before To
	TempC    float64
}

const heatedExample = `{days: "mon-fri", from: "07:00", to: "18:00", at: "21 °C"}`

// Limits of what a shop is heated to. Common practice, no source.
const coldestHeatedC, hottestHeatedC TempC = 5, 35

func readHeated(g *group) *Heated {
	if g == nil {
		return nil
	}
	defer g.Done()
	faults := g.Faults()
	h := &Heated{
		Days:  required(g, "days", keyed.Then(keyed.Text("mon-fri"), parseDays)),
		From:  required(g, "from", keyed.Then(keyed.Text("07:00"), parseClock)),
		To:    required(g, "to", keyed.Then(keyed.Text("18:00"), parseClock)),
		TempC: float64(required(g, "at", measured(ParseTemp, "21 °C", coldestHeatedC, hottestHeatedC, "5 °C to 35 °C (41 °F to 95 °F)"))),
	}
	if g.Faults() == faults && h.To <= h.From {
		g.Report(g.At("to"), "heated: to is not after from", `write e.g. from: "07:00", to: "18:00"; heating past midnight is two places' worth of words: leave it out`)
	}
	return h
}

// parseClock reads a time of day as the time since midnight.
func parseClock(s string) (time.Duration, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(s))
	if err != nil {
		return 0, keyed.Wrongf("%q is no time of day", s)
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, nil
}

// parseDays reads days such as "mon-fri", "mon, wed" and "daily".
func parseDays(s string) (days [7]bool, err error) {
	if days, err = plan.ParseDays(s); err != nil {
		return days, keyed.Wrongf("%v", err)
	}
	return days, nil
}

const workExample = "mon-fri 08:00-17:00"

// workHours are the hours in which somebody is in the shop, for plans.
func workHours() keyed.Want[plan.Hours] {
	return keyed.Then(keyed.Text(workExample), func(s string) (plan.Hours, error) {
		h, err := plan.ParseHours(s)
		if err != nil {
			return nil, keyed.Wrongf("%v", err)
		}
		return h, nil
	})
}

// hostNames reads names separated by blanks or commas.
func hostNames(s string) ([]string, error) {
	names := strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' })
	for _, n := range names {
		if strings.ContainsAny(n, "/:") {
			return nil, keyed.Wrongf("%q is more than a name", n)
		}
	}
	return names, nil
}
