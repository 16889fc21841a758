package air

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A probe that is warmer than the air around it, as on a board that heats it, reads too dry: at 20 °C one
// kelvin costs 3 % relative humidity at 50 % and 5.4 % at 90 % (Vaisala, Humidity Conversion and measurement
// guides, as commonly quoted; here with the Magnus constants 17.62 and 243.12 °C).
func TestWarmProbeReadsTooDry(t *testing.T) {
	for humidity, reads := range map[float64]float64{0.50: 0.4701, 0.90: 0.8462} {
		require.InDelta(t, reads, VapourPa(20, humidity)/SaturationPa(21), 0.0005)
	}
}
