package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"path/filepath"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/model"
	"pourward/model/material"
	"pourward/sensors"
)

// crowdProbe is one of many. Some never answer well: they are gone, say nonsense, or hang until they are given up.
type crowdProbe struct {
	number int
	leak   <-chan struct{} // until it is closed, a goroutine is left behind whenever it is asked; nil: none is
}

// failing reports whether it is one of the three in ten that fail.
func (p crowdProbe) failing() bool { return p.number%10 < 3 }

// Sense implements [sensors.Probe].
func (p crowdProbe) Sense(ctx context.Context) (sensors.Sample, error) {
	time.Sleep(time.Duration(20+p.number) * time.Millisecond)
	if p.leak != nil {
		go func() { <-p.leak }()
	}
	switch p.number % 10 {
	case 0:
		return sensors.Sample{}, &sensors.FaultError{Fault: sensors.NoResponse, Doing: "ask", Cause: errors.New("no answer")}
	case 1:
		return sensors.Sample{TempC: math.NaN(), Humidity: math.NaN()}, nil
	case 2:
		<-ctx.Done()
		return sensors.Sample{}, ctx.Err()
	}
	return sensors.Sample{TempC: 18 + math.Sin(float64(time.Now().Unix())/3600+float64(p.number)), Humidity: math.NaN()}, nil
}

// Close implements [sensors.Probe].
func (crowdProbe) Close() error { return nil }

// crowd is a shop of 300 probes on 30 buses, three in ten of which fail.
type crowd struct {
	shop    *rehearsal
	journal string
	rounds  atomic.Int64 // snapshots that were told
	longest time.Duration
	silent  map[string]bool // probes whose silence fires
	told    time.Time
}

func crowded(t *testing.T, leak <-chan struct{}) *crowd {
	c := &crowd{journal: filepath.Join(t.TempDir(), "crowd.journal"), silent: map[string]bool{}, told: time.Now()}
	o := shopOptions{name: "Crowd", zone: time.UTC, journal: c.journal, clock: sensors.RealClock{},
		tell: 30 * time.Second, log: slog.New(slog.DiscardHandler), setup: model.Setup{Zone: time.UTC, Shelf: material.Generic()}}
	var buses []sensors.Source
	for b := range 30 {
		o.setup.Places = append(o.setup.Places, fmt.Sprintf("bench %d", b))
		bus := &sensors.Poller{Clock: o.clock, Seed: uint64(b)}
		for i := range 10 {
			p := crowdProbe{10*b + i, leak}
			name := fmt.Sprintf("p%d", p.number)
			o.setup.Probes = append(o.setup.Probes, model.Probe{Name: name, Place: o.setup.Places[b], Every: time.Minute})
			bus.Probes = append(bus.Probes, sensors.Polled{Name: name, Every: time.Minute, Deadline: 5 * time.Second,
				Open: func(context.Context) (sensors.Probe, error) { return p, nil }})
		}
		buses = append(buses, bus)
	}
	o.sources = func(context.Context, past, sensors.Clock) ([]sensors.Source, error) { return buses, nil }
	o.watch = c.watch
	c.shop = rehearse(t, o)
	return c
}

// watch is told every snapshot.
func (c *crowd) watch(_ *model.Snapshot, changes []alerts.Change) {
	c.rounds.Add(1)
	c.longest = max(c.longest, time.Since(c.told))
	c.told = time.Now()
	for _, change := range changes {
		if change.Alert.Name == "PourwardProbeSilent" && !change.Ended {
			c.silent[change.Alert.Labels["probe"]] = true
		}
	}
}

// hour lets an hour pass and returns the goroutines at its begin and the most that there were after every ten
// minutes of it, and by how much the memory in use grew.
func (c *crowd) hour() (first, most int, grown int64) {
	time.Sleep(10*time.Minute + time.Second)
	first, before := burden()
	var heap uint64
	for range 6 {
		time.Sleep(10 * time.Minute)
		var n int
		n, heap = burden()
		most = max(most, n)
	}
	return first, most, int64(heap) - int64(before)
}

// An hour with 300 probes of which 90 fail: the other 210 are heard every minute, the 90 are called out, and
// neither goroutines nor memory nor the time between two rounds grow.
func TestCrowdOfProbes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := crowded(t, nil)
		first, most, grown := c.hour()
		require.LessOrEqual(t, most, first+30, "a goroutine a bus may wait for a probe that hangs, and no more")
		require.Less(t, grown, int64(24<<20), "bytes in use")
		numbers := c.shop.get(t, "/metrics")
		for i := range 300 {
			p := crowdProbe{number: i}
			silent := value(t, numbers, fmt.Sprintf(`pourward_probe_silent{probe="p%d"}`, i))
			require.Equal(t, p.failing(), silent == 1, "p%d", i)
		}
		require.NoError(t, c.shop.end())
		require.Less(t, c.longest, 2*time.Minute, "between two rounds")
		require.Len(t, c.silent, 90)
		heard := map[string]int{}
		_, readings := onRecord(t, c.journal)
		for _, r := range readings {
			if r.Temp.OK() {
				heard[r.Probe]++
			}
		}
		require.Len(t, heard, 210)
		for name, n := range heard {
			require.InDelta(t, 70, n, 3, "%s, in 70 minutes", name)
		}
		t.Logf("%d readings, %d rounds, at most %v between two; goroutines %d, at most %d; %d bytes more in use",
			len(readings), c.rounds.Load(), c.longest, first, most, grown)
	})
}

// What the crowd must find out: probes that leave something behind whenever they are asked.
func TestCrowdFindsWhatPilesUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		leak := make(chan struct{})
		defer close(leak)
		c := crowded(t, leak)
		first, most, _ := c.hour()
		require.Greater(t, most, first+1000)
		require.NoError(t, c.shop.end())
	})
}
