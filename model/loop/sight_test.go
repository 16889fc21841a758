package loop_test

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

func TestAnyoneMayAskForTheAirToCome(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, stop := running(t, &shelf{})
		time.Sleep(2 * time.Hour)
		synctest.Wait()
		s, err := l.Sight(t.Context(), "bench")
		require.NoError(t, err)
		require.Equal(t, "bench", s.Place)
		require.WithinDuration(t, time.Now(), s.At, 20*time.Second)
		_, err = l.Sight(t.Context(), "moon")
		require.ErrorContains(t, err, "moon")
		stop()

		begun := time.Now()
		_, err = l.Sight(t.Context(), "bench")
		require.ErrorContains(t, err, "the shop is being closed")
		_, err = l.Mark(t.Context(), model.Mark{Kind: model.Begun, Mold: "frieze", Place: "bench", Material: "platinum-slow"})
		require.ErrorContains(t, err, "the shop is being closed")
		require.Equal(t, begun, time.Now(), "nobody waits for an answer that never comes")
	})
}
