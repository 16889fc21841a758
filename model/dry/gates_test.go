package dry

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/air"
)

func TestGates(t *testing.T) {
	for _, r := range table(t, "gates.csv") {
		gates := Coat{Class: r.class(t), Ref: time.Hour}.Gates(r.air(t))
		require.Equal(t, r["hold"], gates.Hold.String(), "%v", r)
		require.Equal(t, gates.Hold, Coat{Class: r.class(t), Ref: time.Hour}.Hold(r.air(t)))
		require.Equal(t, r["red"], words(gates.Red), "%v", r)
		require.Equal(t, r["amber"], words(gates.Amber), "%v", r)
		require.Equal(t, r["hold"] == "" && r["red"] == "", gates.Clear())
	}
}

// words joins reasons as the table does.
func words(reasons []Reason) string {
	var all []string
	for _, r := range reasons {
		all = append(all, r.String())
	}
	return strings.Join(all, ";")
}

// The rule of three kelvin over the dew point, as decisions and as the coldest
// surface that passes.
func TestSurfaceRule(t *testing.T) {
	coat := Coat{Class: Naphtha, Ref: time.Hour}
	for _, r := range table(t, "surface.csv") {
		a := r.air(t)
		require.InDelta(t, r.number(t, "dew_c"), air.DewPointC(a.AirC, a.Humidity), r.number(t, "tolerance"), "%v", r)
		if r["near_dew"] != "" {
			require.Equal(t, r["near_dew"] == "true", len(coat.Gates(a).Red) > 0, "%v", r)
			continue
		}
		least := r.number(t, "least_surface_c")
		a.SurfaceC = least + r.number(t, "tolerance")
		require.Empty(t, coat.Gates(a).Red, "%v", r)
		a.SurfaceC = least - r.number(t, "tolerance")
		require.Equal(t, []Reason{NearDewPoint}, coat.Gates(a).Red, "%v", r)
	}
}

func TestFilmFormingTemperatureIsTheSheets(t *testing.T) {
	sealer := Coat{Class: WaterBorne, Ref: time.Hour, FilmFormingC: 14}
	require.Equal(t, BelowFilmForming, sealer.Gates(still(13, 0.5)).Hold)
	require.Equal(t, NoReason, sealer.Gates(still(15, 0.5)).Hold)
}

// A coat without a time, or of a class nobody listed, says so and nothing else.
func TestGatesOfAnUnfinishedCoat(t *testing.T) {
	require.Equal(t, NoReferenceTime, Coat{Class: Lacquer}.Gates(still(23, 0.5)).Hold)
	require.Equal(t, "unknown class", Class(99).String())
	require.False(t, Class(99).Dries())
}

func TestEveryReasonHasWords(t *testing.T) {
	seen := map[string]bool{}
	for r := NoReason; r <= BelowFilmForming; r++ {
		require.NotEqual(t, "unknown reason", r.String())
		require.False(t, seen[r.String()], "two reasons read %q", r)
		seen[r.String()] = true
	}
	require.Equal(t, "unknown reason", (BelowFilmForming + 1).String())
}

// A probe that reads a little past saturation means saturated air, not air
// drier than it is.
func TestProbePastSaturation(t *testing.T) {
	coat := Coat{Class: Lacquer, Ref: time.Hour}
	require.Equal(t, Condensing, coat.Gates(Air{AirC: 20, SurfaceC: math.NaN(), Humidity: 1.03}).Hold)
}
