package fit

import (
	"cmp"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Curve is a function to be fitted: its value at observation i for the given parameters.
type Curve func(params []float64, i int) float64

// LeastSquares is a nonlinear least-squares fit.
type LeastSquares struct {
	Params []Normal // estimates with their asymptotic standard errors
	RSS    float64  // residual sum of squares
	DF     int      // degrees of freedom
}

const (
	// differenceStep is the relative step of a central difference, the cube root of the rounding error.
	differenceStep = 6e-6

	squaresSteps  = 1000  // the certified problems take up to some hundreds
	squaresSettle = 1e-10 // relative size of a step that ends the search, when it gains nothing to speak of
	squaresGain   = 1e-13 // relative gain not worth speaking of
	squaresExact  = 1e-26 // of the sum of squares of the observations: the curve goes through all of them
)

// FitCurve fits a curve to observations from a start, by Levenberg and Marquardt's method with central differences. It
// fails with fewer observations than parameters, or when it does not settle: try a start nearer to the data.
func FitCurve(curve Curve, observed, start []float64) (LeastSquares, error) {
	if len(observed) <= len(start) {
		return LeastSquares{}, fmt.Errorf("fit curve: %d observations for %d parameters: give more", len(observed), len(start))
	}
	s := squares{curve: curve, observed: observed, params: append([]float64(nil), start...), damping: 1e-3}
	for _, p := range start {
		s.least = append(s.least, differenceStep*cmp.Or(math.Abs(p)/1000, 1))
	}
	s.residual, s.rss = s.at(s.params)
	if math.IsNaN(s.rss) || math.IsInf(s.rss, 0) {
		return LeastSquares{}, errors.New("fit curve: the curve has no value at the start: choose another")
	}
	for range squaresSteps {
		settled, err := s.step()
		if err != nil {
			return LeastSquares{}, err
		}
		if settled {
			return s.result()
		}
	}
	return LeastSquares{}, fmt.Errorf("fit curve: not settled after %d steps: start nearer to the data", squaresSteps)
}

// squares is the state of one search.
type squares struct {
	curve            Curve
	observed, params []float64
	least            []float64 // smallest differences to take the derivatives by
	residual         []float64 // observed minus curve
	rss, damping     float64
}

func (s *squares) at(params []float64) (residual []float64, rss float64) {
	residual = make([]float64, len(s.observed))
	for i, y := range s.observed {
		residual[i] = y - s.curve(params, i)
	}
	return residual, floats.Dot(residual, residual)
}

// step tries one damped step and says whether the search has settled.
func (s *squares) step() (settled bool, err error) {
	jacobian, scale := s.jacobian()
	for ; s.damping < 1e16; s.damping *= 4 {
		move, err := s.solve(jacobian)
		if err != nil {
			continue
		}
		trial, length := append([]float64(nil), s.params...), 0.0
		for j := range trial {
			length = math.Hypot(length, trial[j]*scale[j])
			trial[j] += move.AtVec(j) / scale[j]
		}
		size := mat.Norm(move, 2) / length
		residual, rss := s.at(trial)
		if rss <= s.rss {
			gain := s.rss - rss
			s.params, s.residual, s.rss = trial, residual, rss
			s.damping = max(s.damping/8, 1e-14)
			settled = size < squaresSettle && gain <= squaresGain*rss
			return settled || rss <= squaresExact*floats.Dot(s.observed, s.observed), nil
		}
		if size < squaresSettle {
			return true, nil // the optimum, as far as rounding lets it be seen
		}
	}
	return false, errors.New("fit curve: no step improves the fit: start nearer to the data")
}

// jacobian holds the derivatives of the curve with every column scaled to unit length, and the lengths.
func (s *squares) jacobian() (*mat.Dense, []float64) {
	n, k := len(s.observed), len(s.params)
	j, scale := mat.NewDense(n, k, nil), make([]float64, k)
	moved := append([]float64(nil), s.params...)
	for col, p := range s.params {
		h := max(differenceStep*math.Abs(p), s.least[col])
		column := make([]float64, n)
		for i := range column {
			moved[col] = p + h
			up := s.curve(moved, i)
			moved[col] = p - h
			column[i] = (up - s.curve(moved, i)) / (2 * h)
		}
		moved[col] = p
		scale[col] = max(floats.Norm(column, 2), 1e-300)
		floats.Scale(1/scale[col], column)
		j.SetCol(col, column)
	}
	return j, scale
}

// solve returns the damped step in scaled parameters, by QR of the Jacobian over a damping block.
func (s *squares) solve(jacobian *mat.Dense) (*mat.VecDense, error) {
	n, k := jacobian.Dims()
	tall := mat.NewDense(n+k, k, nil)
	tall.Slice(0, n, 0, k).(*mat.Dense).Copy(jacobian)
	right := mat.NewVecDense(n+k, nil)
	for i, r := range s.residual {
		right.SetVec(i, r)
	}
	for j := range k {
		tall.Set(n+j, j, math.Sqrt(s.damping))
	}
	var qr mat.QR
	qr.Factorize(tall)
	move := mat.NewVecDense(k, nil)
	err := qr.SolveVecTo(move, false, right)
	var condition mat.Condition
	if errors.As(err, &condition) {
		err = nil // ill-conditioned but solved: the step is judged by what it does
	}
	return move, err
}

// result adds the standard errors, from the inverse of the triangular factor.
func (s *squares) result() (LeastSquares, error) {
	jacobian, scale := s.jacobian()
	var qr mat.QR
	qr.Factorize(jacobian)
	var r, inverse mat.Dense
	qr.RTo(&r)
	k := len(s.params)
	err := inverse.Inverse(r.Slice(0, k, 0, k))
	var condition mat.Condition
	if err != nil && !errors.As(err, &condition) {
		return LeastSquares{}, errors.New("fit curve: the observations do not tell the parameters apart: leave one out")
	}
	fit := LeastSquares{RSS: s.rss, DF: len(s.observed) - k}
	sd := math.Sqrt(s.rss / float64(fit.DF))
	for j, p := range s.params {
		fit.Params = append(fit.Params, Normal{Mean: p, SD: sd * floats.Norm(inverse.RawRowView(j), 2) / scale[j]})
	}
	return fit, nil
}
