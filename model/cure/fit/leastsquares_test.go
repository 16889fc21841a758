package fit

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// certifiedCurve is the model of a NIST data set over its predictors.
func certifiedCurve(t *testing.T, set string) (curve Curve, observed []float64) {
	t.Helper()
	var x1, x2 []float64
	for _, row := range readTable(t, "testdata/strd.csv") {
		if row["set"] != set {
			continue
		}
		y := number(t, row["y"])
		if set == "Nelson" {
			y = math.Log(y)
		}
		observed = append(observed, y)
		x1, x2 = append(x1, number(t, row["x1"])), append(x2, number(t, row["x2"]))
	}
	curve = map[string]Curve{
		"Misra1a": func(b []float64, i int) float64 { return b[0] * (1 - math.Exp(-b[1]*x1[i])) },
		"MGH10":   func(b []float64, i int) float64 { return b[0] * math.Exp(b[1]/(x1[i]+b[2])) },
		"Nelson":  func(b []float64, i int) float64 { return b[0] - b[1]*x1[i]*math.Exp(-b[2]*x2[i]) },
	}[set]
	return curve, observed
}

func TestFitCurveReachesCertifiedValues(t *testing.T) {
	for _, row := range readTable(t, "testdata/certified.csv") {
		t.Run(row["source"], func(t *testing.T) {
			curve, observed := certifiedCurve(t, row["set"])
			fit, err := FitCurve(curve, observed, numbers(t, row["start"]))
			require.NoError(t, err)
			require.InEpsilon(t, number(t, row["rss"]), fit.RSS, 1e-9)
			errs := numbers(t, row["errors"])
			for i, want := range numbers(t, row["parameters"]) {
				require.InEpsilon(t, want, fit.Params[i].Mean, 1e-6)
				require.InEpsilon(t, errs[i], fit.Params[i].SD, 1e-6)
			}
		})
	}
}

func numbers(t *testing.T, list string) (xs []float64) {
	t.Helper()
	for text := range strings.FieldsSeq(list) {
		xs = append(xs, number(t, text))
	}
	return xs
}
