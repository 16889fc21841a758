package sensors

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestLinuxBoard(t *testing.T) {
	id, err := LinuxBoard{}.BootID()
	require.NoError(t, err)
	require.Len(t, id, 36, "a UUID, random(4)")
	a, err := LinuxBoard{}.SinceBoot()
	require.NoError(t, err)
	b, err := LinuxBoard{}.SinceBoot()
	require.NoError(t, err)
	require.Greater(t, a, time.Duration(0))
	require.GreaterOrEqual(t, b, a)
	require.WithinDuration(t, time.Now(), LinuxBoard{}.Wall(), time.Second)
}

func TestBatteryClockIsTrusted(t *testing.T) {
	root := t.TempDir()
	require.False(t, LinuxBoard{Root: root}.batteryClock())
	for name, set := range map[string]string{"rtc0": "0\n", "rtc1": "1\n"} {
		dir := filepath.Join(root, "sys/class/rtc", name)
		require.NoError(t, os.MkdirAll(dir, 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "hctosys"), []byte(set), 0o644))
	}
	require.True(t, LinuxBoard{Root: root}.batteryClock(), "the kernel says that it took its time from rtc1 (Documentation/ABI/testing/rtc-cdev, hctosys)")
}
