package doubt

// scales weigh findings at every place in the bounds that gaps leave their ages.
type scales []*scale

// weigh puts all findings of the case on scales.
func (c Case) weigh(spread Spread, p *Priors) scales {
	a := newAxis(spread, p)
	var all scales
	if c.gaps() {
		for _, at := range places {
			s := newScale(&a, spread, p)
			s.place, s.share = at.at, at.weight
			all = append(all, s)
		}
	} else {
		s := newScale(&a, spread, p)
		s.share = 1
		all = append(all, s)
	}
	for of := range Thing(things) {
		all.put(of, c.Checks)
	}
	return all
}

// gaps reports whether any age has bounds.
func (c Case) gaps() bool {
	for _, k := range c.Checks {
		if k.LnLess > 0 || k.LnMore > 0 {
			return true
		}
	}
	return false
}

// put fills the row of one thing with its share of the findings.
func (all scales) put(of Thing, checks []Check) {
	touches := make([]touch, 0, len(checks))
	for _, s := range all {
		r := &s.rows[of]
		r.spoiled, touches = false, touches[:0]
		for _, k := range checks {
			switch {
			case k.Of != of:
			case k.Found == Spoiled:
				r.spoiled = true
			default:
				touches = append(touches, touch{age: k.age(s.place, s.priors.GelShare), firm: k.Found == Firm})
			}
		}
		s.fill(of, stepsOf(touches, s.priors.FalseFirm))
	}
}

// likelihood is the probability of the findings under every hypothesis.
func (all scales) likelihood() (sum Probabilities) {
	for _, s := range all {
		for h, l := range s.likelihood() {
			sum[h] += s.share * l
		}
	}
	return sum
}
