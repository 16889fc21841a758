package chips_test

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/hdc302x"
	"periph.io/x/devices/v3/scd4x"

	"pourward/sensors/simulated"
)

func TestDriverOfHDC302xDoesNotComeBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x44, simulated.NewHDC302x(1, air))
		dev, err := hdc302x.NewI2C(bus, 0x44, hdc302x.RateHertz)
		require.NoError(t, err)
		_, _, err = senses(dev)
		require.NoError(t, err)
		chip.LosePower()
		for range 3 {
			time.Sleep(time.Minute)
			e, _, err := senses(dev)
			require.Error(t, err, "for ever")
			require.Zero(t, e.Temperature, "0 K beside the error")
		}
		require.NoError(t, dev.Reset())
		time.Sleep(time.Minute)
		_, _, err = senses(dev)
		require.Error(t, err, "after a reset as well")
		require.NoError(t, dev.Halt())
		_, _, err = senses(dev)
		require.NoError(t, err, "only this helps")
	})
}

// scdSense makes one measurement with the driver of SCD4x, which has an Env of its own.
type scdSense struct{ *scd4x.Dev }

func (d scdSense) Sense(e *physic.Env) error {
	own := scd4x.Env{Env: *e}
	err := d.Dev.Sense(&own)
	*e = own.Env
	return err
}

func TestDriverOfSCD4x(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x62, simulated.NewSCD4x(1, air))
		dev, err := scd4x.NewI2C(bus, 0x62)
		require.NoError(t, err)
		time.Sleep(5 * time.Second)
		e, _, err := senses(scdSense{dev})
		require.NoError(t, err)
		require.InDelta(t, benchAir.TempC, e.Temperature.Celsius(), 0.003)
		chip.LosePower()
		for range 2 {
			e, took, err := senses(scdSense{dev})
			require.ErrorContains(t, err, "timeout waiting for data ready status")
			require.InDelta(t, 6, took.Seconds(), 0.5)
			require.Zero(t, e.Temperature, "0 K beside the error")
		}
		require.NoError(t, dev.Halt())
		_, _, err = senses(scdSense{dev})
		require.NoError(t, err, "only this helps")
	})
}

// 4 K is 0x05DA: 175 K are 65535 (SCD4x data sheet, "set_temperature_offset").
func TestDriverOfSCD4xSpoilsTheOffset(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x62, simulated.NewSCD4x(1, air))
		dev, err := scd4x.NewI2C(settled{bus}, 0x62)
		require.NoError(t, err)
		require.NoError(t, dev.Halt())
		cfg, err := dev.GetConfiguration()
		require.NoError(t, err)
		require.EqualValues(t, 4, cfg.TemperatureOffset, "nanokelvin")
		cfg.TemperatureOffset = 4 * physic.Kelvin
		require.NoError(t, dev.SetConfiguration(cfg))
		require.NotEqual(t, uint16(0x05DA), chip.Offset())
		t.Logf("set to 4 K the chip has %#04x, not 0x05DA", chip.Offset())
	})
}

// settled answers the settings that the simulated chip does not have.
type settled struct{ *simulated.Bus }

func (b settled) Tx(addr uint16, w, r []byte) error {
	if len(w) == 2 && len(r) == 3 && w[0] != 0xE4 && !(w[0] == 0x23 && w[1] == 0x18) {
		copy(r, []byte{0, 0, 0x81})
		return nil
	}
	return b.Bus.Tx(addr, w, r)
}
