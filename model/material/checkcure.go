package material

import (
	"fmt"
	"math"
	"time"
)

// curing checks a rubber, resin or plaster.
func (c *checker) curing(m Material) {
	if m.Coat != (Coat{}) {
		c.fault("Coat", fmt.Sprintf("a %s does not dry as a coat does", m.Kind), "leave the dry time out, or call it a sealer or release")
	}
	if len(m.Cautions) == 0 {
		c.fault("Cautions", "what is mixed and cured has no caution", "write what its safety data sheet asks for first")
	}
	c.events(m)
	if m.refSound() {
		c.temperatures(m)
		c.second(m)
	}
	c.mixing(m.Mixing)
}

func (c *checker) events(m Material) {
	work := c.event("WorkingLife", "working life", m.WorkingLife)
	demold := c.event("Demold", "demold time", m.Demold)
	if work && demold && m.WorkingLife.Ref == 0 && m.Demold.Ref == 0 {
		c.fault("Demold.Ref", "neither working life nor demold time is stated", "give at least one, with the temperature it holds at")
	}
	c.inOrder("Demold.Ref", "the working life", "the demold time", m.WorkingLife, m.Demold)
	c.event("LayerEarliest", "earliest time of the next layer", m.LayerEarliest)
	c.event("LayerLatest", "latest time of the next layer", m.LayerLatest)
	c.inOrder("LayerLatest.Ref", "the earliest time of the next layer", "the latest", m.LayerEarliest, m.LayerLatest)
}

// inOrder wants the first event to come before the second, where both are stated.
func (c *checker) inOrder(field, what, then string, first, second Event) {
	if first.Ref > 0 && second.Ref > 0 && first.Ref >= second.Ref {
		c.fault(field, fmt.Sprintf("%s of %s is not before %s of %s", what, span(first.Ref), then, span(second.Ref)), "compare both with the data sheet")
	}
}

// event checks one event; ok tells whether its time can be compared with others.
func (c *checker) event(field, what string, e Event) (ok bool) {
	ok = c.time(field+".Ref", "the "+what, e.Ref, longestCure)
	c.number(field+".EaJ", "the activation energy of the "+what, e.EaJ, 0, mostEaJ, "kJ/mol")
	timed := c.number(field+".LnSD", "the spread of the "+what, e.LnSD, 0, mostLnSD, "")
	moved := c.number(field+".EaSDJ", "the spread of the activation energy of the "+what, e.EaSDJ, 0, mostEaJ, "kJ/mol")
	if limit := e.LnSD * e.EaSDJ; timed && moved && !(math.Abs(e.Cov) <= limit*(1+1e-9)) {
		c.fault(field+".Cov", fmt.Sprintf("a covariance of %s in the %s is more than both spreads allow", plain(e.Cov), what),
			fmt.Sprintf("give one within %s, or 0", plain(limit)))
	}
	if ok && e.Ref > 0 {
		c.source(field+".Source", "the "+what, e.Source)
		c.source(field+".EaFrom", "what temperature does to the "+what, e.EaFrom)
	}
	return ok
}

// temperatures checks the ranges a material is known for, poured in and doubted below.
func (c *checker) temperatures(m Material) {
	if c.window("Known", "the range its times are known for", m.Known, coldestUseC, hottestUseC) && !m.Known.Holds(m.RefC) {
		c.fault("Known", fmt.Sprintf("its reference temperature of %s is outside the range its times are known for", degrees(m.RefC)), "widen the range, or correct the temperature")
	}
	if c.number("FloorC", "a floor", m.FloorC, coldestUseC, hottestUseC, "°C") && m.FloorC >= m.RefC {
		c.fault("FloorC", fmt.Sprintf("a floor of %s leaves no cure at its reference temperature of %s", degrees(m.FloorC), degrees(m.RefC)), "give the temperature below which it does not cure at all")
	}
	if m.DoubtBelowC != 0 {
		c.source("DoubtFrom", "below which temperature its cure is doubtful", m.DoubtFrom)
		switch {
		case !c.number("DoubtBelowC", "a temperature below which its cure is doubtful", m.DoubtBelowC, coldestUseC, hottestUseC, "°C"):
		case m.DoubtBelowC < m.FloorC:
			c.fault("DoubtBelowC", fmt.Sprintf("its cure is doubtful below %s, which is under its floor of %s", degrees(m.DoubtBelowC), degrees(m.FloorC)), "give a temperature above the floor")
		case m.DoubtBelowC > m.RefC:
			c.fault("DoubtBelowC", fmt.Sprintf("its cure is doubtful below %s, which is above its reference temperature of %s", degrees(m.DoubtBelowC), degrees(m.RefC)), "correct one of them")
		}
	}
	if c.window("Pour", "a temperature to pour at", m.Pour, coldestUseC, hottestUseC); m.Pour != (Window{}) {
		c.source("PourFrom", "the temperature to pour at", m.PourFrom)
	}
}

// second checks the times at a second temperature against the first.
func (c *checker) second(m Material) {
	s := m.Second
	if !s.Stated() {
		return
	}
	c.source("Second.Source", "the times at a second temperature", s.Source)
	c.number("Second.RelSD", "a relative spread of the sheet's times", s.RelSD, 0, 1, "%")
	if !c.number("Second.TempC", "a second temperature", s.TempC, coldestUseC, hottestC, "°C") {
		return
	}
	if math.Abs(s.TempC-m.RefC) < leastApartK {
		c.fault("Second.TempC", fmt.Sprintf("%s is too near %s to tell what temperature does", degrees(s.TempC), degrees(m.RefC)),
			fmt.Sprintf("give times at two temperatures at least %g K apart, or none", leastApartK))
		return
	}
	c.secondTime("Second.WorkingLife", "working life", m.RefC, m.WorkingLife.Ref, s.TempC, s.WorkingLife)
	c.secondTime("Second.Demold", "demold time", m.RefC, m.Demold.Ref, s.TempC, s.Demold)
}

// leastApartK is how far two temperatures must be apart to tell anything, K: there a standard deviation of
// 10 % in each time is already 35 kJ/mol, by R T1 T2 / (T2 - T1) x 0.1 x sqrt(2).
const leastApartK = 3.0

func (c *checker) secondTime(field, what string, refC float64, ref time.Duration, tempC float64, second time.Duration) {
	switch {
	case second == 0 || ref < 0 || ref > longestCure || !c.time(field, "a "+what+" at a second temperature", second, longestCure):
		return
	case ref == 0:
		c.fault(field, fmt.Sprintf("there is a %s at %s but none at the reference temperature", what, degrees(tempC)), "give both")
		return
	}
	const gasConstant, kelvin = 8.314462618, 273.15 // J/(mol K), BIPM SI Brochure 9th ed.; K
	eaJ := gasConstant * math.Log(ref.Seconds()/second.Seconds()) / (1/(refC+kelvin) - 1/(tempC+kelvin))
	switch {
	case eaJ < 0:
		c.fault(field, fmt.Sprintf("a %s of %s at %s and %s at %s is longer where it is warmer", what, span(ref), degrees(refC), span(second), degrees(tempC)), "swap the times or the temperatures")
	case eaJ > mostEaJ:
		c.fault(field, fmt.Sprintf("a %s of %s at %s and %s at %s is too great a change: %.0f kJ/mol", what, span(ref), degrees(refC), span(second), degrees(tempC), eaJ/1000), "compare times, temperatures and their units with the data sheet")
	}
}

func (c *checker) mixing(m Mixing) {
	c.mixTolerance(m)
	switch len(m.Parts) {
	case 0:
		return
	case 1:
		c.fault("Mixing.Parts", "a mix of one part has no ratio", "name every part, or leave the mix out where it comes ready mixed")
		return
	}
	c.source("Mixing.Source", "the mix ratio", m.Source)
	names := map[string]bool{}
	least, most := math.Inf(1), 0.0
	for i, p := range m.Parts {
		field := fmt.Sprintf("Mixing.Parts.%d", i)
		if p.Name == "" || names[p.Name] {
			c.fault(field+".Name", fmt.Sprintf("a part is called %q", p.Name), "give each part a name of its own, as its container has it")
		}
		names[p.Name] = true
		c.part(field, p, m.ByVolume)
		least, most = min(least, p.Ratio), max(most, p.Ratio)
	}
	if least > 0 && most/least > mostRatio {
		c.fault("Mixing.Parts", fmt.Sprintf("a ratio of %s to %s is beyond %s to 1", plain(most), plain(least), plain(mostRatio)), "compare it with the data sheet")
	}
}

func (c *checker) mixTolerance(m Mixing) {
	switch {
	case !(m.Tolerance >= 0 && m.Tolerance < 1):
		c.fault("Mixing.Tolerance", fmt.Sprintf("a tolerance of the ratio of %s cannot be", amount(m.Tolerance, "%")), "give one above 0 %, below 100 %, or none")
	case m.Tolerance > 0 && len(m.Parts) == 0:
		c.fault("Mixing.Tolerance", "a tolerance of the ratio is stated but no ratio", "name the parts with their ratio, or leave the tolerance out")
	}
}

func (c *checker) part(field string, p Part, byVolume bool) {
	if !(p.Ratio > 0) || math.IsInf(p.Ratio, 1) {
		c.fault(field+".Ratio", fmt.Sprintf("%s parts of %q cannot be", plain(p.Ratio), p.Name), "give a number above 0, as the 10 and the 1 of 10:1")
	}
	c.optional(field+".GramsPerML", fmt.Sprintf("a density of part %q", p.Name), p.GramsPerML, mostGramsPerML, "g/mL")
	c.optional(field+".JPerGramK", fmt.Sprintf("a specific heat of part %q", p.Name), p.JPerGramK, mostJPerGramK, "J/(g K)")
	if byVolume && p.GramsPerML == 0 {
		c.fault(field+".GramsPerML", fmt.Sprintf("part %q counts by volume and has no density", p.Name), "take it from the data sheet, or weigh a full measure of it")
	}
}
