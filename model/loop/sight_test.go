package loop_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
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

		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		_, err = l.Sight(ctx, "bench")
		require.ErrorIs(t, err, context.DeadlineExceeded, "nobody answers any more")
	})
}
