package fit

import (
	"math"

	"pourward/model/cure"
)

// The model: the cure age at which the event happens is log-normal over batches, ln(age) ~ N(mu, sigma^2). A check says on
// which side of the event, or where, the age of its own history lay. The age depends on the activation energy, so a
// history at changing temperature informs about it just as several steady ones do.

// Places of the three parameters in a point.
const (
	muAt    = iota // ln of the reference time
	eaAt           // activation energy in units of eaUnitJ
	sigmaAt        // ln of sigma
	parameters
)

// eaUnitJ brings the activation energy to the size of the other two parameters.
const eaUnitJ = 10_000

// objective is minus the logarithm of prior times likelihood.
type objective struct {
	prior  Prior
	checks []Check
}

// at evaluates the objective and adds its gradient to grad, which must be zero.
func (o objective) at(point, grad []float64) float64 {
	sum := o.priorPart(point, grad)
	law := o.prior.law(point[eaAt] * eaUnitJ)
	for _, check := range o.checks {
		sum -= check.lnLikelihood(law, point, grad)
	}
	return sum
}

func (o objective) priorPart(point, grad []float64) float64 {
	mu, dMu := o.prior.LnSeconds.penalty(point[muAt])
	ea, dEa := o.prior.EaJ.penalty(point[eaAt] * eaUnitJ)
	sigma, dSigma := o.prior.LnSigma.penalty(point[sigmaAt])
	grad[muAt] += dMu
	grad[eaAt] += dEa * eaUnitJ
	grad[sigmaAt] += dSigma
	return mu + ea + sigma
}

// score is a standardized log age with its derivative by the activation energy in eaUnitJ.
type score struct {
	z, dEa float64
}

func scoreOf(acc cure.Account, point []float64) score {
	sigma := math.Exp(point[sigmaAt])
	if acc.Age <= 0 {
		return score{z: math.Inf(-1)}
	}
	return score{
		z:   (math.Log(acc.Age) - point[muAt]) / sigma,
		dEa: acc.DEa / acc.Age * eaUnitJ / sigma,
	}
}

// subtract takes weight times the gradient of z off grad.
func (s score) subtract(grad []float64, weight, sigma float64) {
	if weight == 0 || math.IsInf(s.z, 0) {
		return
	}
	grad[muAt] += weight / sigma
	grad[eaAt] -= weight * s.dEa
	grad[sigmaAt] += weight * s.z
}

// lnLikelihood returns the logarithm of the check's probability, and takes its gradient off grad.
func (c Check) lnLikelihood(law cure.Arrhenius, point, grad []float64) float64 {
	sigma, n := math.Exp(point[sigmaAt]), float64(c.count)
	before, after := scoreOf(c.before.account(law), point), scoreOf(c.after.account(law), point)
	switch {
	case c.exact:
		return n * c.lnExact(law, after, point, grad)
	case c.after == nil:
		ln := lnBelow(-before.z)
		before.subtract(grad, -n*math.Exp(lnDensity(before.z)-ln), sigma)
		return n * ln
	case c.before == nil:
		ln := lnBelow(after.z)
		after.subtract(grad, n*math.Exp(lnDensity(after.z)-ln), sigma)
		return n * ln
	default:
		ln := lnBetween(before.z, after.z)
		after.subtract(grad, n*math.Exp(lnDensity(after.z)-ln), sigma)
		before.subtract(grad, -n*math.Exp(lnDensity(before.z)-ln), sigma)
		return n * ln
	}
}

// lnExact is the log density of the event's time. The density of ln(age) is turned into one of clock time by the rate at
// the end of the history over the age, which depends on the activation energy unless the history is steady.
func (c Check) lnExact(law cure.Arrhenius, at score, point, grad []float64) float64 {
	sigma, n := math.Exp(point[sigmaAt]), float64(c.count)
	acc := c.after.account(law)
	var end cure.Account
	endC := c.after[len(c.after)-1].ToC
	law.Add(&end, endC, endC, 1)
	at.subtract(grad, -n*at.z, sigma)
	grad[eaAt] -= n * eaUnitJ * (end.DEa/end.Age - acc.DEa/acc.Age)
	grad[sigmaAt] += n
	return lnDensity(at.z) - point[sigmaAt] + math.Log(end.Age/acc.Age)
}
