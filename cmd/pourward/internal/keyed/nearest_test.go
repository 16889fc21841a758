package keyed

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSlips(t *testing.T) {
	for _, c := range []struct {
		a, b   string
		want   int
		source string
	}{
		{"kitten", "sitting", 3, "the usual textbook pair for Levenshtein's distance; from memory"},
		{"ca", "abc", 3, "the usual pair that tells the restricted distance (3) from the full one (2); from memory"},
		{"zoen", "zone", 1, "one swap, by definition"},
		{"zome", "zone", 1, "one change, by definition"},
		{"zon", "zone", 1, "one letter to add, by definition"},
		{"", "zone", 4, "all to add, by definition"},
	} {
		require.Equal(t, c.want, slips([]rune(c.a), []rune(c.b)), "%s, %s: %s", c.a, c.b, c.source)
	}
}

func TestSlipsIsSymmetricAndBounded(t *testing.T) {
	word := rapid.StringMatching(`[a-d]{0,7}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := []rune(word.Draw(t, "a")), []rune(word.Draw(t, "b"))
		n := slips(a, b)
		require.Equal(t, n, slips(b, a))
		require.LessOrEqual(t, n, max(len(a), len(b)))
		require.Equal(t, string(a) == string(b), n == 0)
	})
}

func TestNearest(t *testing.T) {
	keys := []string{"address", "bus", "sys"}
	require.Equal(t, "address", Nearest("adress", keys))
	require.Equal(t, "sys", Nearest("sy", keys))
	require.Empty(t, Nearest("voltage", keys))
	require.Empty(t, Nearest("", keys))
}
