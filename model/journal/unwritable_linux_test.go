package journal

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// asNobody runs f with the file rights of a user who owns nothing; for root, file modes mean nothing.
func asNobody(t *testing.T, f func()) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	if os.Geteuid() == 0 {
		require.NoError(t, syscall.Setfsuid(65534))
		defer func() { require.NoError(t, syscall.Setfsuid(0)) }()
	}
	f()
}

func TestFileThatCannotBeWritten(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.journal")
	j := opened(t, path, Options{})
	all := shop(0, 1000, 2)
	appendAll(t, j, all)
	require.NoError(t, j.Close(ctx))
	require.NoError(t, os.Chmod(filepath.Dir(dir), 0o755))
	require.NoError(t, os.Chmod(path, 0o444))

	require.NoError(t, os.Chmod(dir, 0o555))
	asNobody(t, func() {
		_, err := Open(ctx, filepath.Join(dir, "other.journal"), Options{})
		require.ErrorIs(t, err, ErrReadOnly, "a folder that cannot be written")
		require.ErrorContains(t, err, "other.journal")
		require.Equal(t, all, everything(t, opened(t, path, Options{ReadOnly: true})), "but it can be read")
	})

	require.NoError(t, os.Chmod(dir, 0o777))
	require.NoError(t, os.Remove(path+"-lock"))
	asNobody(t, func() {
		_, err := Open(ctx, path, Options{})
		require.ErrorIs(t, err, ErrReadOnly, "a file that cannot be written")
		require.ErrorContains(t, err, path)
	})
}
