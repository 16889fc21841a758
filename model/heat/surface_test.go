package heat

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestNusselt(t *testing.T) {
	for _, r := range table(t, "nusselt.csv") {
		nusselt := map[string]func(prandtl, grashof float64) float64{"plate": PlateNusselt, "cylinder": CylinderNusselt}[r["body"]]
		got := nusselt(r.number(t, "prandtl"), r.number(t, "grashof"))
		require.InDelta(t, r.number(t, "nusselt"), got, r.number(t, "tolerance"), "%v", r)
	}
}

func TestSurfaceCoefficients(t *testing.T) {
	for _, r := range table(t, "coefficients.csv") {
		got := RadiationH(0.9, r.number(t, "kelvin_or_celsius"))
		if r["part"] == "convection" {
			got = ConvectionH(r.number(t, "height_m"), r.number(t, "kelvin_or_celsius"))
		}
		require.InDelta(t, r.number(t, "h"), got, r.number(t, "tolerance"), "%v", r)
	}
}

// The default lies between the parts put together and ISO 6946's 1/0.13.
func TestDefaultCoefficient(t *testing.T) {
	together := RadiationH(0.9, 20) + ConvectionH(0.2, 2)
	require.InDelta(t, DefaultH, together, 0.6)
	require.InDelta(t, DefaultH, 1/0.13, 0.4)
}
