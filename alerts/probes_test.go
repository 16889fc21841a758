package alerts_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/model"
	"pourward/sensors"
)

func TestDisagreeingProbesCall(t *testing.T) {
	apart := func(s *model.Snapshot) {
		s.Outlook.Places[0].OffProbe, s.Outlook.Places[0].OffK = "bench-low", -1.72
	}
	e := follower(t)
	require.Empty(t, minutes(e, 0, 15, apart))
	active := minutes(e, 15, 16, apart)
	require.Equal(t, []string{"PourwardProbesDisagree"}, names(active))
	require.Equal(t, "Two probes at bench differ by 1.7 °C.", active[0].Description)
	require.Len(t, minutes(e, 16, 76, func(*model.Snapshot) {}), 1)
	require.Empty(t, minutes(e, 76, 77, func(*model.Snapshot) {}))
}

// delivering counts attempts, one a minute, of which the faulty ones came to nothing from a minute on.
func delivering(minute, faultyFrom, oneIn int) func(*model.Snapshot) {
	return func(s *model.Snapshot) {
		errors := 0
		if minute > faultyFrom {
			errors = (minute - faultyFrom) / oneIn
		}
		s.Health.Probes = []model.ProbeHealth{{
			Name: "bench-air", Reads: uint64(minute), Faults: map[sensors.Fault]uint64{sensors.BadChecksum: uint64(errors)},
		}}
	}
}

// falter steps through hours of a probe that fails one time in so many.
func falter(e *alerts.Evaluator, from, to, faultyFrom, oneIn int, also func(*model.Snapshot)) []alerts.Alert {
	for i := from; i < to; i++ {
		minutes(e, i, i+1, both(delivering(i, faultyFrom, oneIn), also))
	}
	return e.Active()
}

func TestFalteringProbeCalls(t *testing.T) {
	quiet := func(*model.Snapshot) {}
	e := follower(t)
	require.Empty(t, falter(e, 0, 200, 200, 5, quiet))
	require.Empty(t, falter(e, 200, 260, 200, 5, quiet), "one in ten of two hours: so many come by the first hour")
	active := falter(e, 260, 300, 200, 5, quiet) // at the end 19 of 120
	require.Equal(t, []string{"PourwardProbeFaltering"}, names(active))
	require.Equal(t, "Probe bench-air gave nothing to trust in 16 of a hundred attempts of the last two hours.", active[0].Description)

	require.Empty(t, falter(follower(t), 0, 600, 0, 11, quiet), "fewer than one in ten")
	require.Empty(t, falter(follower(t), 0, 100, 0, 10, quiet), "not ten yet")
	silent := func(s *model.Snapshot) { s.Outlook.Probes[0].Silent, s.Outlook.Probes[0].Last = true, begin }
	e = follower(t)
	require.Equal(t, []string{"PourwardProbeSilent"}, names(falter(e, 0, 200, 0, 1, silent)), "that is another alert")
	require.Empty(t, falter(e, 200, 319, 200, 100, quiet), "nor does it falter for having been silent")
}

func TestUntrustedClockCalls(t *testing.T) {
	untrusted := func(s *model.Snapshot) { s.Health.ClockTrusted = false }
	e := follower(t)
	require.Empty(t, minutes(e, 0, 10, untrusted), "it takes a while to learn the time after a start")
	active := minutes(e, 10, 11, untrusted)
	require.Equal(t, []string{"PourwardClockUntrusted"}, names(active))
	require.Equal(t, "The board's clock cannot be trusted. Times told may all be off by the same amount.", active[0].Description)
	require.Empty(t, minutes(e, 11, 12, func(*model.Snapshot) {}))
}
