package fit

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"pourward/model/cure"
)

// The activation energy is learned only from checks at enough temperatures; from fewer, an error in it and in the
// reference time cannot be told apart. Both figures are a judgement: ASTM E2070 takes isothermal sets over about 10 K.
const (
	wantTemps = 3  // different mean temperatures
	wantStepK = 2  // that differ by this much
	wantSpanK = 10 // and span this much
)

// guessEaJ starts a fit without any prior for the activation energy.
const guessEaJ = 50_000

// Learn updates a prior by checks: the most probable parameters, and their spread from the curvature there (Laplace's
// approximation). With every number Unknown it is the maximum-likelihood fit of an Arrhenius log-normal model to exact,
// left-, right- and interval-censored times (Nelson, Accelerated Testing (1990); Meeker and Escobar (1998), ch. 19), except
// that histories need not be at one temperature.
//
// Until the checks cover three temperatures that span 10 K, the activation energy stays the prior's. No checks give the
// prior back. Errors name the check that cannot be true, or say that the checks do not determine the fit.
func Learn(prior Prior, checks []Check) (Posterior, error) {
	prior = prior.softened()
	for i, check := range checks {
		if err := check.validate(prior.law(prior.likelyEaJ())); err != nil {
			return Posterior{}, fmt.Errorf("learn cure time: check %d %w", i+1, err)
		}
	}
	held := !covers(checks)
	if held && math.IsInf(prior.EaJ.SD, 1) {
		return Posterior{}, errors.New("learn cure time: the checks cover too few temperatures to learn the activation energy: give a prior for it")
	}
	o := objective{prior: prior, checks: checks}
	search := minimizer{at: o.at, free: []int{muAt, eaAt, sigmaAt}}
	if held {
		search.free = []int{muAt, sigmaAt}
	}
	point := prior.start(checks)
	if err := search.run(point); err != nil {
		return Posterior{}, fmt.Errorf("learn cure time from %d checks: %w", len(checks), err)
	}
	spread, err := o.spread(point, held)
	if err != nil {
		return Posterior{}, fmt.Errorf("learn cure time from %d checks: %w", len(checks), err)
	}
	return prior.posterior(o, point, spread, held), nil
}

// softened gives numbers that are held to be exact a spread too small to matter, so that the curvature stays finite.
func (p Prior) softened() Prior {
	p.LnSeconds.SD = max(p.LnSeconds.SD, 1e-6)
	p.EaJ.SD = max(p.EaJ.SD, 1)
	p.LnSigma.SD = max(p.LnSigma.SD, 1e-6)
	return p
}

func (p Prior) likelyEaJ() float64 {
	if math.IsInf(p.EaJ.SD, 1) {
		return guessEaJ
	}
	return p.EaJ.Mean
}

// covers says whether the checks are at enough temperatures to learn the activation energy.
func covers(checks []Check) bool {
	var temps []float64
	for _, check := range checks {
		if tempC, ok := check.longest().meanC(); ok {
			temps = append(temps, tempC)
		}
	}
	if len(temps) < wantTemps {
		return false
	}
	slices.Sort(temps)
	different, last := 1, temps[0]
	for _, tempC := range temps {
		if tempC-last >= wantStepK {
			different, last = different+1, tempC
		}
	}
	return different >= wantTemps && temps[len(temps)-1]-temps[0] >= wantSpanK
}

// start is a point near enough to the optimum: the prior's numbers, and rough ones from the checks for those unknown.
func (p Prior) start(checks []Check) []float64 {
	point := []float64{muAt: p.LnSeconds.Mean, eaAt: p.EaJ.Mean / eaUnitJ, sigmaAt: p.LnSigma.Mean}
	if math.IsInf(p.EaJ.SD, 1) {
		point[eaAt] = roughEaJ(checks) / eaUnitJ
	}
	if math.IsInf(p.LnSeconds.SD, 1) {
		point[muAt] = roughLnSeconds(p.law(point[eaAt]*eaUnitJ), checks)
	}
	if math.IsInf(p.LnSigma.SD, 1) {
		point[sigmaAt] = math.Log(0.5)
	}
	return point
}

// roughEaJ takes the slope of the histories' lengths over their mean temperatures.
func roughEaJ(checks []Check) float64 {
	var times []cure.Timing
	for _, check := range checks {
		if tempC, ok := check.longest().meanC(); ok {
			times = append(times, cure.Timing{TempC: tempC, Seconds: check.longest().seconds()})
		}
	}
	line, err := FitLine(times)
	if err != nil || !(line.EaJ.Mean > 0) {
		return guessEaJ
	}
	return min(line.EaJ.Mean, 4*guessEaJ)
}

func roughLnSeconds(law cure.Arrhenius, checks []Check) float64 {
	var sum, n float64
	for _, check := range checks {
		if age := check.longest().account(law).Age; age > 0 {
			sum, n = sum+math.Log(age)*float64(check.count), n+float64(check.count)
		}
	}
	return sum / max(n, 1)
}

// spread is the covariance of the three parameters at the optimum.
func (o objective) spread(point []float64, held bool) (*mat.SymDense, error) {
	full := minimizer{at: o.at, free: []int{muAt, eaAt, sigmaAt}}
	hessian := full.hessian(point)
	if held {
		// Fixing the activation energy means that the checks say nothing on it: what its own prior says is all its
		// curvature, beyond what the other two parameters take up.
		hessian.SetSym(eaAt, eaAt, heldCurvature(hessian, o.prior.EaJ.SD/eaUnitJ))
	}
	var factor mat.Cholesky
	if !factor.Factorize(hessian) {
		return nil, errNoOptimum
	}
	var covariance mat.SymDense
	if err := factor.InverseTo(&covariance); err != nil {
		return nil, errNoOptimum
	}
	return &covariance, nil
}

// heldCurvature returns the diagonal entry for the activation energy that makes its marginal standard deviation sd: by the
// Schur complement, 1/sd^2 plus the other two parameters' share.
func heldCurvature(h *mat.SymDense, sd float64) float64 {
	a, b, c := h.At(muAt, muAt), h.At(muAt, sigmaAt), h.At(sigmaAt, sigmaAt)
	x, y := h.At(muAt, eaAt), h.At(sigmaAt, eaAt)
	return 1/(sd*sd) + (c*x*x-2*b*x*y+a*y*y)/(a*c-b*b)
}

func (p Prior) posterior(o objective, point []float64, spread *mat.SymDense, held bool) Posterior {
	sd := func(i int) float64 { return math.Sqrt(spread.At(i, i)) }
	likelihood := objective{prior: Prior{RefC: p.RefC, FloorC: p.FloorC, LnSeconds: Unknown(), EaJ: Unknown(), LnSigma: Unknown()}, checks: o.checks}
	return Posterior{
		RefC:         p.RefC,
		FloorC:       p.FloorC,
		LnSeconds:    Normal{Mean: point[muAt], SD: sd(muAt)},
		EaJ:          Normal{Mean: point[eaAt] * eaUnitJ, SD: sd(eaAt) * eaUnitJ},
		Cov:          spread.At(muAt, eaAt) * eaUnitJ,
		LnSigma:      Normal{Mean: point[sigmaAt], SD: sd(sigmaAt)},
		EaHeld:       held,
		LnLikelihood: -likelihood.at(point, make([]float64, parameters)),
	}
}
