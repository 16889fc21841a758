package fit

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"pourward/model/cure"
)

const kelvin = 273.15 // 0 degC in K

// Line is the least-squares line of the logarithm of isothermal event times over 1/T, centered on the mean 1/T so that its
// two parameters are uncorrelated.
type Line struct {
	EaJ Normal  // activation energy and its standard error, J/mol
	S   float64 // residual standard deviation of ln(seconds)
	DF  int     // degrees of freedom

	meanX, meanY, sumXX float64
	n                   int
}

// FitLine fits a line to at least three times at two or more temperatures.
func FitLine(times []cure.Timing) (Line, error) {
	xs, ys := make([]float64, len(times)), make([]float64, len(times))
	for i, timing := range times {
		if !(timing.Seconds > 0) || !(timing.TempC > -kelvin) {
			return Line{}, fmt.Errorf("fit line: time %d is %g s at %g °C: give a time above zero and a real temperature", i+1, timing.Seconds, timing.TempC)
		}
		xs[i], ys[i] = 1/(timing.TempC+kelvin), math.Log(timing.Seconds)
	}
	return fitLine(xs, ys)
}

// fitLine fits ln t = meanY + slope*(x - meanX) over x = 1/T in 1/K.
func fitLine(xs, ys []float64) (Line, error) {
	if len(xs) < 3 {
		return Line{}, fmt.Errorf("fit line: %d times: give at least three", len(xs))
	}
	l := Line{n: len(xs), DF: len(xs) - 2, meanX: stat.Mean(xs, nil), meanY: stat.Mean(ys, nil)}
	var sumXY float64
	for i, x := range xs {
		l.sumXX += (x - l.meanX) * (x - l.meanX)
		sumXY += (x - l.meanX) * (ys[i] - l.meanY)
	}
	if !(l.sumXX > 0) {
		return Line{}, errors.New("fit line: all times are at one temperature: give a second one")
	}
	slope := sumXY / l.sumXX
	var rss float64
	for i, x := range xs {
		residual := ys[i] - l.meanY - slope*(x-l.meanX)
		rss += residual * residual
	}
	l.S = math.Sqrt(rss / float64(l.DF))
	l.EaJ = Normal{Mean: slope * cure.GasConstant, SD: l.S / math.Sqrt(l.sumXX) * cure.GasConstant}
	return l, nil
}

// LnSeconds returns the fitted logarithm of the time at tempC (degC) and its standard error, without the scatter of a
// single time.
func (l Line) LnSeconds(tempC float64) Normal {
	dx := 1/(tempC+kelvin) - l.meanX
	se := l.S * math.Sqrt(1/float64(l.n)+dx*dx/l.sumXX)
	return Normal{Mean: l.meanY + l.EaJ.Mean/cure.GasConstant*dx, SD: se}
}

// Predict returns the likely seconds of a new time at tempC (degC) and the interval that holds it with the given
// probability (0..1), by Student's t.
func (l Line) Predict(tempC, probability float64) (low, likely, high float64) {
	at := l.LnSeconds(tempC)
	half := l.student(probability) * math.Hypot(l.S, at.SD)
	return math.Exp(at.Mean - half), math.Exp(at.Mean), math.Exp(at.Mean + half)
}

// EaInterval returns the interval in J/mol that holds the activation energy with the given probability (0..1).
func (l Line) EaInterval(probability float64) (low, high float64) {
	half := l.student(probability) * l.EaJ.SD
	return l.EaJ.Mean - half, l.EaJ.Mean + half
}

func (l Line) student(probability float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(l.DF)}.Quantile((1 + probability) / 2)
}

// FromTwo returns the activation energy in J/mol between two isothermal times to the same event, when each is known to the
// relative standard deviation relSD.
func FromTwo(first, second cure.Timing, relSD float64) (Normal, error) {
	band, err := cure.EaFromTwo(first, second, 0)
	if err != nil {
		return Normal{}, fmt.Errorf("fit two times: %w", err)
	}
	perLn := cure.GasConstant / math.Abs(1/(first.TempC+kelvin)-1/(second.TempC+kelvin))
	return Normal{Mean: band.LikelyJ, SD: perLn * relSD * math.Sqrt2}, nil
}
