package journal

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

func TestBackupIsTheWholeRecord(t *testing.T) {
	ctx := context.Background()
	j := opened(t, newPath(t), Options{})
	all := shop(0, 3000, 2)
	appendAll(t, j, all[:2500])
	m, err := j.AppendMark(ctx, markOf("kept"))
	require.NoError(t, err)
	appendAll(t, j, all[2500:])
	copied := filepath.Join(t.TempDir(), "copy of the annex.journal")
	require.NoError(t, j.Backup(ctx, copied))
	require.ErrorContains(t, j.Backup(ctx, copied), "choose another")

	again := opened(t, copied, Options{})
	require.Equal(t, all, everything(t, again))
	marks, err := again.Marks(ctx)
	require.NoError(t, err)
	require.Equal(t, []model.Mark{m}, marks)

	second := filepath.Join(t.TempDir(), "second.journal")
	require.NoError(t, opened(t, j.path, Options{ReadOnly: true}).Backup(ctx, second))
	require.Equal(t, all, everything(t, opened(t, second, Options{})))
}
