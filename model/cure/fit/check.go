package fit

import (
	"errors"
	"fmt"
	"math"

	"pourward/model/cure"
)

// Piece is a stretch of time in which the temperature runs linearly from FromC to ToC (degC).
type Piece struct {
	FromC, ToC, Seconds float64
}

// History is what a batch went through, in order.
type History []Piece

// Steady is a history at one temperature.
func Steady(tempC, seconds float64) History {
	return History{{FromC: tempC, ToC: tempC, Seconds: seconds}}
}

// account integrates the history by a law.
func (h History) account(law cure.Arrhenius) (acc cure.Account) {
	for _, p := range h {
		law.Add(&acc, p.FromC, p.ToC, p.Seconds)
	}
	return acc
}

func (h History) seconds() (total float64) {
	for _, p := range h {
		total += p.Seconds
	}
	return total
}

// meanC is the mean temperature over time; ok is false for an empty history.
func (h History) meanC() (tempC float64, ok bool) {
	var sum float64
	for _, p := range h {
		sum += (p.FromC + p.ToC) / 2 * p.Seconds
	}
	total := h.seconds()
	return sum / total, total > 0
}

// Check is what a maker's look at a batch says about one event, with the history up to the look. Build one with
// StillTacky, AlreadyFirm, Between or Exactly.
type Check struct {
	before, after History // the event lies after the first and not after the second; nil leaves that side open
	exact         bool
	count         int
}

// StillTacky says that the event had not happened at the end of the history.
func StillTacky(h History) Check { return Check{before: h, count: 1} }

// AlreadyFirm says that the event had happened at some time before the end of the history.
func AlreadyFirm(h History) Check { return Check{after: h, count: 1} }

// Between says that the event happened after the first history and before the end of the second, which continues it.
func Between(tacky, firm History) Check { return Check{before: tacky, after: firm, count: 1} }

// Exactly says that the event happened at the end of the history.
func Exactly(h History) Check { return Check{after: h, exact: true, count: 1} }

// Times returns the same check made on n batches of one history.
func (c Check) Times(n int) Check {
	c.count = n
	return c
}

// longest is the history that reaches furthest.
func (c Check) longest() History {
	if c.after != nil {
		return c.after
	}
	return c.before
}

// validate refuses a check that no cure could produce under the law.
func (c Check) validate(law cure.Arrhenius) error {
	before, after := c.before.account(law).Age, c.after.account(law).Age
	switch {
	case c.count < 1:
		return fmt.Errorf("counts %d batches: count at least one", c.count)
	case c.before == nil && c.after == nil:
		return errors.New("holds no history: build it with StillTacky, AlreadyFirm, Between or Exactly")
	case math.IsNaN(before) || math.IsNaN(after) || math.IsInf(before, 0) || math.IsInf(after, 0):
		return errors.New("has a temperature or a time that is not a number: repair the history")
	case c.after != nil && after <= 0:
		return fmt.Errorf("is firm without any time above the floor of %g °C: lower the floor or drop the check", law.FloorC)
	case c.exact && law.Rate(c.after[len(c.after)-1].ToC) <= 0:
		return fmt.Errorf("ends below the floor of %g °C, where nothing cures: lower the floor or drop the check", law.FloorC)
	case c.before != nil && c.after != nil && after <= before:
		return errors.New("is firm no later than it was tacky: the second history must go on where the first ends")
	}
	return nil
}
