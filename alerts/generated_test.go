package alerts_test

import (
	"bytes"
	"flag"
	"io"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
)

var update = flag.Bool("update", false, "write the generated files instead of comparing with them")

// The rule file and the guide are committed, so that they can be read and used without Go.
func TestGeneratedFilesFollowTheTable(t *testing.T) {
	for file, write := range map[string]func(io.Writer) error{
		"pourward.rules.yml": alerts.WriteRules,
		"ALERTS.md":          alerts.WriteGuide,
	} {
		t.Run(file, func(t *testing.T) {
			var want bytes.Buffer
			require.NoError(t, write(&want))
			if *update {
				require.NoError(t, os.WriteFile(file, want.Bytes(), 0o644))
			}
			got, err := os.ReadFile(file)
			require.NoError(t, err)
			require.Equal(t, want.String(), string(got), "run: go test ./alerts -run Generated -update")
		})
	}
}
