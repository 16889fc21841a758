package doubt

// Factors on the odds that a batch is bad, where the marks say so of it. Assumptions: most batches a few
// percent off still cure, and most old parts do, but far fewer than of good ones.
const (
	OffRatioFactor = 10.0 // the parts were weighed further off their ratio than the product tolerates
	AgedFactor     = 10.0 // a part was past its use-by
)

// Weighed returns the priors of a batch of which is known that its ratio was off, or that it was old.
func (p Priors) Weighed(offRatio, aged bool) Priors {
	if offRatio {
		p.Ratio = byOdds(p.Ratio, OffRatioFactor)
	}
	if aged {
		p.Aged = byOdds(p.Aged, AgedFactor)
	}
	return p
}

// byOdds is a probability whose odds are multiplied.
func byOdds(p, factor float64) float64 { return p * factor / (1 - p + p*factor) }
