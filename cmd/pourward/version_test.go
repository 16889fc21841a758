package main

import (
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestStamped(t *testing.T) {
	info := &debug.BuildInfo{
		GoVersion: "go1.26.0", Main: debug.Module{Path: "pourward", Version: "v1.2.3"},
		Settings: []debug.BuildSetting{
			{Key: "vcs.revision", Value: "8e04648"}, {Key: "vcs.time", Value: "2026-01-15T12:00:00Z"},
			{Key: "GOOS", Value: "linux"}, {Key: "GOARCH", Value: "arm"}, {Key: "GOARM", Value: "6"},
		},
	}
	require.Equal(t, `pourward v1.2.3
commit   8e04648
of       2026-01-15T12:00:00Z
built    by go1.26.0 for linux arm 6
`, stamped(info))
	info.Settings = append(info.Settings, debug.BuildSetting{Key: "vcs.modified", Value: "true"})
	require.Contains(t, stamped(info), "\nchanged  since that commit\n")
	require.Contains(t, stamped(nil), "pourward (devel)\ncommit   not known\n")
}
