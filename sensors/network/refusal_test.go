package network

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestRefusalsAreLoggedOnceAMinute(t *testing.T) {
	clock, log := newHandClock(), &book{}
	l := newLedger(clock, log.logger())
	lines := func() int { return strings.Count(log.String(), "\n") }
	for range 1000 {
		l.note("bench", refuse(Malformed, "x"))
		l.note("bench", refuse(NoValue, "x"))
		l.note("shelf", refuse(Malformed, "x"))
		clock.add(10 * time.Millisecond)
	}
	require.Equal(t, 3, lines(), "one a probe and kind")
	require.Equal(t, []Count{{"bench", Malformed, 1000}, {"bench", NoValue, 1000}, {"shelf", Malformed, 1000}}, l.counts())
	clock.add(tellEvery - 10*time.Second)
	require.True(t, l.note("bench", refuse(Malformed, "x")))
	require.Contains(t, log.String(), "times=1000", "how many came in between is told")
	require.False(t, l.note("bench", refuse(Malformed, "x")))
	clock.add(-time.Hour)
	require.True(t, l.note("bench", refuse(Malformed, "x")), "a clock that is set back silences nothing")
}
