package doubt_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model/doubt"
)

func TestRiskyFacesAreKnownByTheirWords(t *testing.T) {
	for _, row := range table(t, "faces.csv") {
		var names []string
		for _, m := range doubt.RiskyIn(row["face"]) {
			names = append(names, m.Name)
		}
		require.Equal(t, row["risky"], strings.Join(names, "|"), row["face"])
	}
}
