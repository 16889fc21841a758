package journal

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/sensors"
)

func TestRedateMovesThisBootAlone(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	old := shop(0, 900, 2) // 75 minutes before the power cut
	appendAll(t, j, old)
	require.NoError(t, j.Flush(ctx))
	before, err := j.AppendMark(ctx, model.Mark{Kind: model.Begun, Mold: "frieze", At: noon, Entered: noon})
	require.NoError(t, err)

	first := noon.Add(2 * time.Hour)
	boot := sensors.Boot{ID: "two", Zero: first.Add(-time.Minute), First: first}
	require.NoError(t, j.PutBoot(ctx, boot))
	var fresh []sensors.Reading
	for _, r := range shop(0, 1300, 2) { // over the turn of an hour, so that part of it is packed
		r.At = r.At.Add(first.Sub(noon))
		fresh = append(fresh, r)
	}
	appendAll(t, j, fresh)
	require.NoError(t, j.Flush(ctx))
	late, err := j.AppendMark(ctx, model.Mark{Kind: model.CoatOn, Mold: "frieze", At: noon.Add(time.Minute), Entered: first.Add(time.Minute)})
	require.NoError(t, err)
	now, err := j.AppendMark(ctx, model.Mark{Kind: model.Mixed, Mold: "frieze", At: first.Add(2 * time.Minute), Entered: first.Add(2 * time.Minute)})
	require.NoError(t, err)

	const by = 5*time.Hour + 7*time.Minute + 123*time.Millisecond
	moved, err := j.Redate(ctx, boot, by)
	require.NoError(t, err)
	require.Equal(t, first.Add(by), moved.First)
	want := append([]sensors.Reading(nil), old...)
	for _, r := range fresh {
		r.At = r.At.Add(by)
		want = append(want, r)
	}
	late.Entered = late.Entered.Add(by) // when it was entered moves, when it happened was before this boot
	now.At, now.Entered = now.At.Add(by), now.Entered.Add(by)
	check := func(j *Journal) {
		require.Equal(t, want, everything(t, j))
		marks, err := j.Marks(ctx)
		require.NoError(t, err)
		require.Equal(t, []model.Mark{before, late, now}, marks)
		boots, err := j.Boots(ctx)
		require.NoError(t, err)
		require.Equal(t, []sensors.Boot{moved}, boots)
	}
	check(j)
	more := fresh[len(fresh)-1]
	more.At = more.At.Add(by + time.Second)
	appendAll(t, j, []sensors.Reading{more})
	want = append(want, more)
	require.NoError(t, j.Close(ctx))
	check(opened(t, path, Options{}))
}
