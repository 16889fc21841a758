package fit

import (
	"fmt"
	"math"
)

// Scan is one calorimeter run at a constant heating rate: where the heat of reaction peaks. Literature gives activation
// energies from such runs; they hold well above the bench temperature and are a prior for it at best.
type Scan struct {
	KelvinPerMinute, PeakC float64
}

// Kissinger returns the activation energy in J/mol from the slope of ln(rate/Tp^2) over 1/Tp (Kissinger 1957; ASTM E698,
// ASTM E2890). It wants at least three scans.
func Kissinger(scans []Scan) (Normal, error) {
	return fitScans(scans, 1, func(rate, peak float64) float64 { return math.Log(peak * peak / rate) })
}

// ozawaFactor is the slope of Doyle's approximation of the temperature integral.
const ozawaFactor = 1.052

// Ozawa returns the activation energy in J/mol from the slope of ln(rate) over 1/Tp by the Ozawa-Flynn-Wall method, which
// is about 0.2 % off where Kissinger's is exact. It wants at least three scans.
func Ozawa(scans []Scan) (Normal, error) {
	return fitScans(scans, ozawaFactor, func(rate, _ float64) float64 { return -math.Log(rate) })
}

func fitScans(scans []Scan, factor float64, ordinate func(rate, peakK float64) float64) (Normal, error) {
	xs, ys := make([]float64, len(scans)), make([]float64, len(scans))
	for i, scan := range scans {
		peakK := scan.PeakC + kelvin
		if !(scan.KelvinPerMinute > 0) || !(peakK > 0) {
			return Normal{}, fmt.Errorf("fit scans: scan %d heats at %g K/min and peaks at %g °C: both must be real", i+1, scan.KelvinPerMinute, scan.PeakC)
		}
		xs[i], ys[i] = 1/peakK, ordinate(scan.KelvinPerMinute, peakK)
	}
	line, err := fitLine(xs, ys)
	if err != nil {
		return Normal{}, fmt.Errorf("fit scans: %w", err)
	}
	return Normal{Mean: line.EaJ.Mean / factor, SD: line.EaJ.SD / factor}, nil
}
