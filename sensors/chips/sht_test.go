package chips_test

import (
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

// An SHT3x without serial number is known by its status register.
func TestSHT3xWithoutSerialNumber(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, _ := benched(0x44, simulated.NewHDC302x(1, air)) // takes the commands of SHT3x except for that
		s, err := sense(chips.SHT3x(bus, 0x44))
		require.NoError(t, err)
		require.InDelta(t, benchAir.TempC, s.TempC, 0.01)
	})
}

// Once it told its number, a chip that tells none is another.
func TestSHT3xThatLosesItsNumber(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, _ := benched(0x44, simulated.NewSHT3x(1, air))
		open := chips.SHT3x(bus, 0x44)
		_, err := sense(open)
		require.NoError(t, err)
		bus.Attach(0x44, simulated.NewHDC302x(1, air))
		_, err = sense(open)
		require.ErrorContains(t, err, "it tells no number, before it was 00000001")
		bus.Attach(0x44, simulated.NewSHT3x(2, air))
		_, err = sense(open)
		require.Equal(t, sensors.OtherFault, sensors.FaultOf(err))
		require.ErrorContains(t, err, "its number is 00000002, not 00000001")
		bus.Attach(0x44, simulated.NewSHT3x(1, air))
		_, err = sense(open)
		require.NoError(t, err, "plugged in again")
	})
}
