package page

import (
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

func TestProbesThatDisagree(t *testing.T) {
	at := model.PlaceOutlook{Probe: "air-1", OffProbe: "board", OffK: 2.5}
	require.Equal(t, "air-1 is believed; board reads 2.5 °C lower. A probe comparison is due.", plain(cannedVoice().off(at)))
	at.OffK = -2.5
	// NIST SP 811 (2008) B.8: a difference of 1 K is 1.8 °F
	require.Equal(t, "air-1 is believed; board reads 4.5 °F higher. A probe comparison is due.", plain(voice{unit: Fahrenheit}.off(at)))
	require.Empty(t, cannedVoice().off(model.PlaceOutlook{Probe: "air-1"}))

	require.Contains(t, rowOf(t, plagued(), "bench"), "two probes disagree:</b> air-1 is believed; board reads 2.1 °C higher. A probe comparison is due.")
	require.NotContains(t, rowOf(t, plagued(), "warm box"), "disagree")
	page := plain(get(t, New(cannedOptions(plagued())), "/places/bench").Body.String())
	require.Contains(t, page, "<b>Two probes disagree.</b> air-1 is believed; board reads 2.1 °C higher.")
	for _, probe := range []string{
		`<b>air-1</b> <span class="stamp wait">believed</span><br>14.2 °C, 68 % humidity, now</li>`,
		"<b>board</b><br>16.4 °C, 57 % humidity, 2 min ago; disagrees with air-1</li>",
		"<b>rafter</b><br>12.9 °C, 70 % humidity, 8 h 30 min ago; silent</li>",
	} {
		require.Contains(t, page, probe)
	}
	wire := wireOf(plagued()).Places[0]
	require.Equal(t, "board", wire.OffProbe)
	require.InDelta(t, -2.14, *wire.OffK, 1e-12)
}

// A lone probe has nobody to disagree with, and is believed without saying so.
func TestALoneProbe(t *testing.T) {
	page := get(t, New(cannedOptions(annex())), "/places/bench").Body.String()
	require.NotContains(t, page, "believed")
	require.NotContains(t, page, "Its probes")
	require.Contains(t, get(t, New(cannedOptions(plagued())), "/").Body.String(), "<td>bench, believed</td>")
	require.NotContains(t, get(t, New(cannedOptions(annex())), "/").Body.String(), ", believed")
}
