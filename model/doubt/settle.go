package doubt

import (
	"fmt"
	"math"
)

// Reachable is a thing that can be touched from now on.
type Reachable struct {
	Of    Thing
	LnAge float64 // its ln(cure age / reference time) now
}

// Next is the touch that tells most.
type Next struct {
	Of    Thing
	LnAge float64 // the least ln age of the thing at which it tells nearly all it can
	Bits  float64 // what it is expected to tell of the hypotheses, bit
	Tacky Outlook // should it be found tacky then
	Firm  Outlook // should it be found firm then
}

// Outlook is what one finding would lead to.
type Outlook struct {
	Chance  float64       // of this finding
	P       Probabilities // after it
	Verdict Verdict       // after it
}

// The search for the next touch: so many ages of every thing, and the share of the most a thing can
// tell at which waiting longer is not worth it. Assumptions.
const (
	settleAges  = 8
	worthTaking = 0.9
	horizon     = 2.5 // of the need's spread, how far ahead is looked; a doubling at least
	worthBits   = 0.05
)

// Settle chooses what to touch next, and at what age, by expected information: of every thing the
// earliest age that tells nine tenths of the most it can tell, and of those the thing that tells most.
// ok is false where no touch would tell anything worth a walk (less than 0.05 bit).
func (c Case) Settle(reach []Reachable) (best Next, ok bool, err error) {
	if err := c.validate(); err != nil {
		return Next{}, false, err
	}
	spread, p := c.Spread.settled(), c.priors()
	look := lookout{checks: c.Checks, scales: c.weigh(spread, &p)}
	look.before = look.scales.likelihood()
	prior := p.of(c.Surface, c.ColdK)
	if look.now, _, ok = prior.update(look.before); !ok {
		return Next{}, false, nil
	}
	for _, r := range reach {
		if int(r.Of) >= things || math.IsNaN(r.LnAge) || math.IsInf(r.LnAge, 1) {
			return Next{}, false, fmt.Errorf("choose the next touch: %v at ln age %g cannot be touched", r.Of, r.LnAge)
		}
		if n := look.earliest(r, spread.total(r.Of)); n.Bits > best.Bits {
			best = n
		}
	}
	if best.Bits < worthBits {
		return Next{}, false, nil
	}
	best.Tacky.Verdict, best.Firm.Verdict = c.after(best, Tacky), c.after(best, Firm)
	return best, true, nil
}

// after is the verdict once the next touch has found this.
func (c Case) after(n Next, found Finding) Verdict {
	c.Checks = append(c.Checks[:len(c.Checks):len(c.Checks)], Check{Of: n.Of, Found: found, LnAge: n.LnAge})
	return c.judge().Verdict
}

// lookout looks one touch ahead.
type lookout struct {
	checks []Check
	scales scales
	now    Probabilities
	before Probabilities // likelihood of what was found
}

// earliest is the earliest age of a thing that tells nearly all it can.
func (l lookout) earliest(r Reachable, sd float64) Next {
	from := max(r.LnAge, -horizon*sd)
	until := max(horizon*sd, from+math.Ln2)
	step := (until - from) / (settleAges - 1)
	var told [settleAges]Next
	most := 0.0
	for i := range told {
		told[i] = l.touch(r.Of, from+float64(i)*step)
		most = max(most, told[i].Bits)
	}
	l.scales.put(r.Of, l.checks)
	for _, n := range told {
		if n.Bits >= worthTaking*most {
			return n
		}
	}
	return told[settleAges-1]
}

// touch is what touching a thing at an age is expected to tell.
func (l lookout) touch(of Thing, lnAge float64) Next {
	l.scales.put(of, append(l.checks[:len(l.checks):len(l.checks)], Check{Of: of, Found: Tacky, LnAge: lnAge}))
	tacky := l.scales.likelihood()
	var firm, given Probabilities
	for h := range tacky {
		if l.before[h] > 0 {
			given[h] = min(tacky[h]/l.before[h], 1)
		}
		firm[h] = 1 - given[h]
	}
	n := Next{Of: of, LnAge: lnAge, Bits: l.now.bits()}
	for _, o := range []struct {
		likelihood Probabilities
		to         *Outlook
	}{{given, &n.Tacky}, {firm, &n.Firm}} {
		after, chance, ok := l.now.update(o.likelihood)
		if !ok {
			continue
		}
		o.to.Chance, o.to.P = chance, after
		n.Bits -= chance * after.bits()
	}
	n.Bits = max(n.Bits, 0)
	return n
}
