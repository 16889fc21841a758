package page

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// rowOf is the part of the first page about one place.
func rowOf(t *testing.T, snap *model.Snapshot, place string) string {
	t.Helper()
	page := get(t, New(cannedOptions(snap)), "/").Body.String()
	_, row, ok := strings.Cut(page, `href="`+placePath(place)+`"`)
	require.True(t, ok)
	row, _, _ = strings.Cut(row, "</li>")
	return plain(row)
}

// A probe on a pattern measures no air to pour in: it carries no verdict of its own.
func TestSurfaceCarriesNoVerdict(t *testing.T) {
	row := rowOf(t, annex(), "pattern")
	require.Contains(t, row, "surface of Frieze, left end; Rosette")
	require.Contains(t, row, "13.4 °C")
	require.Contains(t, row, "5.0 °C above the dew point of bench") // 13.4 − 8.36
	require.NotContains(t, row, "stamp")
	require.NotContains(t, row, "gate\"")
	require.NotContains(t, row, "near the dew point")
	require.Contains(t, rowOf(t, annex(), "bench"), "stamp notfit")

	page := plain(get(t, New(cannedOptions(annex())), "/places/pattern").Body.String())
	require.Contains(t, page, `Surface of <a href="/molds/frieze-left">Frieze, left end</a>; <a href="/molds/rosette">Rosette</a>`)
	require.NotContains(t, page, "stamp")
	require.NotContains(t, page, "To pour:")
	require.NotContains(t, page, "Relative humidity, %")
}

func TestSurfaceNearTheDewPoint(t *testing.T) {
	snap := annex()
	snap.Outlook.Places[1].TempC = 7.4
	snap.Outlook.Molds[0].Pour.Reasons = append(snap.Outlook.Molds[0].Pour.Reasons, model.Reason{Code: model.ReasonDew, Text: "near"})
	row := rowOf(t, snap, "pattern")
	require.Contains(t, row, "1.0 °C below the dew point of bench") // 7.4 − 8.36
	require.Contains(t, row, "near the dew point")

	snap.Outlook.Places[0].Known = false
	require.Contains(t, rowOf(t, snap, "pattern"), "distance to the dew point of bench not known")
	snap.Outlook.Places[1].Known = false
	require.Contains(t, rowOf(t, snap, "pattern"), "no reading")

	k := voice{unit: Fahrenheit}
	require.Equal(t, "5.4 °F", plain(k.difference(3))) // NIST SP 811 (2008) B.8: a difference of 1 K is 1.8 °F
}

// Air is air: where humidity is measured, where a mold stands, and where no mold in work has its surface.
func TestWhatIsNoSurface(t *testing.T) {
	for name, change := range map[string]func(o *model.Outlook){
		"humidity is measured":    func(o *model.Outlook) { o.Places[1].Humidity = 0.6 },
		"a mold stands there too": func(o *model.Outlook) { o.Molds[2].Place = "pattern" },
		"the molds are demolded": func(o *model.Outlook) {
			o.Molds[0].Demolded, o.Molds[1].Demolded = hm(0, 10, 0), hm(0, 10, 0)
		},
		"no mold has it": func(o *model.Outlook) { o.Molds[0].Surface, o.Molds[1].Surface = "", "" },
	} {
		snap := annex()
		change(snap.Outlook)
		require.Contains(t, rowOf(t, snap, "pattern"), "stamp notfit", name)
	}
}
