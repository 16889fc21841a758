package chips_test

import (
	"context"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/onewire"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

const (
	bmeAddr    = 0x76
	bridgeAddr = 0x18
)

// benchAir is what the simulated chips feel unless a test says otherwise.
var benchAir = simulated.Air{TempC: 20.5, Humidity: 0.47}

func bmeOnBus() (*simulated.Bus, *simulated.BME280) {
	bus := simulated.NewBus("board")
	chip := simulated.NewBME280(func() simulated.Air { return benchAir })
	bus.Attach(bmeAddr, chip)
	return bus, chip
}

func thermometersOnLine(tempC ...float64) (*simulated.Line, []*simulated.DS18B20) {
	line := simulated.NewLine(sensors.RealClock{})
	var all []*simulated.DS18B20
	for i, t := range tempC {
		all = append(all, simulated.NewDS18B20(simulated.ROM(0x070E41AC+uint64(i)), func() float64 { return t }))
	}
	line.Attach(all...)
	return line, all
}

// sense opens a probe and measures once.
func sense(open sensors.Opener) (sensors.Sample, error) {
	p, err := open(context.Background())
	if err != nil {
		return sensors.Sample{}, err
	}
	defer p.Close()
	return p.Sense(context.Background())
}

func TestBME280MeasuresTheAir(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, _ := bmeOnBus()
		s, err := sense(chips.BME280(bus, bmeAddr))
		require.NoError(t, err)
		require.InDelta(t, benchAir.TempC, s.TempC, 0.011)
		require.InDelta(t, benchAir.Humidity, s.Humidity, 0.001)
	})
}

func TestDS18B20MeasuresThePattern(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		line, all := thermometersOnLine(18.3, -4.8)
		for _, bus := range map[string]chips.WireOpener{"direct": chips.Direct(line), "bridge": bridged(line)} {
			wire := chips.NewWire(bus, sensors.RealClock{})
			for i, want := range []float64{18.3125, -4.8125} {
				began := time.Now()
				s, err := sense(wire.DS18B20(all[i].Address()))
				require.NoError(t, err)
				require.Equal(t, want, s.TempC)
				require.True(t, math.IsNaN(s.Humidity))
				require.WithinDuration(t, began, s.At, 100*time.Millisecond)
			}
		}
	})
}

func bridged(line *simulated.Line) chips.WireOpener {
	bus := simulated.NewBus("board")
	bus.Attach(bridgeAddr, simulated.NewBridge(line))
	return chips.Bridge(bus, bridgeAddr)
}

func TestSearchFindsEveryThermometer(t *testing.T) {
	line, all := thermometersOnLine(1, 2, 3)
	var want []onewire.Address
	for _, c := range all {
		want = append(want, c.Address())
	}
	for _, open := range []chips.WireOpener{chips.Direct(line), bridged(line)} {
		found, err := chips.NewWire(open, sensors.RealClock{}).Search(false)
		require.NoError(t, err)
		require.ElementsMatch(t, want, found)
	}
}
