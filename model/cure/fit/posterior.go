package fit

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"pourward/model/cure"
)

// Prior is what is known of one event of one material before its checks: the logarithm of the time to the event in s at
// RefC, the activation energy in J/mol, and the logarithm of the standard deviation of ln(time) between batches. Leave a
// number to the data with Unknown. FloorC (degC) is where cure stops; it is not learned.
type Prior struct {
	RefC, FloorC float64
	LnSeconds    Normal
	EaJ          Normal
	LnSigma      Normal
}

func (p Prior) law(eaJ float64) cure.Arrhenius {
	return cure.Arrhenius{EaJ: eaJ, RefC: p.RefC, FloorC: p.FloorC}
}

// Posterior is what the checks leave known. LnSeconds and EaJ are correlated: a reference time learned in the cold rises
// with the activation energy that carries it to RefC.
type Posterior struct {
	RefC, FloorC float64
	LnSeconds    Normal
	EaJ          Normal
	Cov          float64 // of LnSeconds and EaJ, J/mol
	LnSigma      Normal

	// EaHeld says that the checks do not cover enough temperatures to learn EaJ, which therefore is the prior's.
	EaHeld bool

	// LnLikelihood is the largest log likelihood, with times in the unit of the histories.
	LnLikelihood float64
}

// Law returns the law to integrate a batch by.
func (p Posterior) Law() cure.Arrhenius {
	return Prior{RefC: p.RefC, FloorC: p.FloorC}.law(p.EaJ.Mean)
}

// Sigma returns the standard deviation of ln(time) between batches.
func (p Posterior) Sigma() float64 {
	return math.Exp(p.LnSigma.Mean)
}

// LnTime returns the logarithm of the time in s of the next batch at a steady tempC (degC), with all that is uncertain.
// It is +Inf below the floor.
func (p Posterior) LnTime(tempC float64) Normal {
	var acc cure.Account
	p.Law().Add(&acc, tempC, tempC, 1)
	if acc.Age == 0 {
		return Normal{Mean: math.Inf(1)}
	}
	return Normal{Mean: p.LnSeconds.Mean - math.Log(acc.Age), SD: p.sd(acc.DEa / acc.Age)}
}

// Done returns the probability that the event has happened in a batch whose account was integrated by Law.
func (p Posterior) Done(acc cure.Account) float64 {
	if !(acc.Age > 0) {
		return 0
	}
	margin := math.Log(acc.Age) - p.LnSeconds.Mean
	return distuv.UnitNormal.CDF(margin / p.sd(acc.DEa/acc.Age))
}

// sd is the standard deviation of ln(age needed) - ln(age reached) when the latter has the slope perEa by EaJ.
func (p Posterior) sd(perEa float64) float64 {
	variance := p.LnSeconds.SD*p.LnSeconds.SD + perEa*perEa*p.EaJ.SD*p.EaJ.SD - 2*perEa*p.Cov
	return math.Sqrt(max(variance, 0) + p.Sigma()*p.Sigma())
}
