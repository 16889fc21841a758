package fit

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

const (
	hessianStep   = 1e-4  // central difference of the gradient; the parameters are all of order one
	newtonSteps   = 200   // a well-posed fit takes about ten
	newtonHalving = 60    // of one step
	enoughGain    = 1e-12 // expected relative decrease below which one more step ends the search
)

var errNoOptimum = errors.New("the checks do not determine the fit: give more of them, or a tighter prior")

// minimizer seeks the least value of a smooth function over some of its coordinates by damped Newton steps.
type minimizer struct {
	at   func(point, grad []float64) float64 // adds to grad
	free []int                               // coordinates that move
}

// run moves point to the optimum.
func (m minimizer) run(point []float64) error {
	for range newtonSteps {
		grad := make([]float64, len(point))
		value := m.at(point, grad)
		step, gain, err := m.step(point, grad)
		if err != nil || math.IsNaN(value) {
			return errNoOptimum
		}
		if gain < enoughGain*(1+math.Abs(value)) {
			m.move(point, step, 1) // too little for the value to show it, yet the step is good
			return nil
		}
		if !m.descend(point, step, value, gain) {
			return errNoOptimum
		}
	}
	return errNoOptimum
}

// step solves for the Newton step and the decrease it expects, on a Hessian made positive definite where it is not.
func (m minimizer) step(point, grad []float64) (step *mat.VecDense, gain float64, err error) {
	hessian := m.hessian(point)
	down := mat.NewVecDense(len(m.free), nil)
	for i, place := range m.free {
		down.SetVec(i, -grad[place])
	}
	step = mat.NewVecDense(len(m.free), nil)
	for damping := 0.0; damping < 1e12; damping = max(1e-3, 4*damping) {
		damped := mat.NewSymDense(len(m.free), nil)
		damped.CopySym(hessian)
		for i := range m.free {
			damped.SetSym(i, i, damped.At(i, i)+damping)
		}
		var factor mat.Cholesky
		if factor.Factorize(damped) && factor.SolveVecTo(step, down) == nil {
			return step, mat.Dot(step, down) / 2, nil
		}
	}
	return nil, 0, errNoOptimum
}

// descend takes the step, halved until the function falls by a share of what the step expects.
func (m minimizer) descend(point []float64, step *mat.VecDense, value, gain float64) bool {
	trial := make([]float64, len(point))
	for share := 1.0; share > math.Pow(0.5, newtonHalving); share /= 2 {
		copy(trial, point)
		m.move(trial, step, share)
		if m.at(trial, make([]float64, len(point))) <= value-1e-4*share*gain {
			copy(point, trial)
			return true
		}
	}
	return false
}

func (m minimizer) move(point []float64, step *mat.VecDense, share float64) {
	for i, place := range m.free {
		point[place] += share * step.AtVec(i)
	}
}

// hessian differentiates the gradient over the free coordinates.
func (m minimizer) hessian(point []float64) *mat.SymDense {
	n := len(m.free)
	rows := make([][]float64, n)
	for i, place := range m.free {
		rows[i] = m.slope(point, place)
	}
	h := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			h.SetSym(i, j, (rows[i][m.free[j]]+rows[j][m.free[i]])/2)
		}
	}
	return h
}

// slope is the derivative of the gradient along one coordinate.
func (m minimizer) slope(point []float64, place int) []float64 {
	up, down := make([]float64, len(point)), make([]float64, len(point))
	moved := append([]float64(nil), point...)
	moved[place] = point[place] + hessianStep
	m.at(moved, up)
	moved[place] = point[place] - hessianStep
	m.at(moved, down)
	floats.Sub(up, down)
	floats.Scale(1/(2*hessianStep), up)
	return up
}
