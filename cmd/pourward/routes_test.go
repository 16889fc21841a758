package main

import (
	"log/slog"
	"maps"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/access"
	"pourward/cmd/pourward/internal/config"
	"pourward/dashboards/page"
	"pourward/sensors"
)

// A route that nobody thought about must not be open by mistake, nor be shut to those who need it: each
// one that is served says what it needs, and each that says so is served.
func TestEveryRouteSaysWhatItNeeds(t *testing.T) {
	dir := t.TempDir()
	layTree(t, dir, map[string]string{"push.token": sharedToken})
	c, err := config.Parse(filepath.Join(dir, "annex.yml"), shopText("push: {token_file: push.token}\n", "push: {}"))
	require.NoError(t, err)
	o, err := fromConfig(c, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	o.board, o.clock = nil, sensors.RealClock{}
	s, err := openShop(t.Context(), o)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.close(t.Context())) }()
	bell, err := newBell(s.opts, s.calls)
	require.NoError(t, err)
	served, err := pageOptions(s.opts, s.journal, s.loop, bell)
	require.NoError(t, err)
	require.Equal(t, slices.Sorted(maps.Keys(access.Table())), page.Patterns(served))
}
