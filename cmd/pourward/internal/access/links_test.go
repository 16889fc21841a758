package access

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func openLinks(t require.TestingT, file string, clock *watch) *Links {
	l, err := OpenLinks(file, clock.now)
	require.NoError(t, err)
	return l
}

func TestLinks(t *testing.T) {
	clock, file := newWatch(), filepath.Join(t.TempDir(), "shop.journal.links")
	l := openLinks(t, file, clock)
	_, ok := l.Opens("")
	require.False(t, ok)
	made, err := l.Make("frieze", time.Hour, "anna")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(made.Token)*6, 128, "bits of a token in base64")
	mold, ok := l.Opens(made.Token)
	require.True(t, ok)
	require.Equal(t, "frieze", mold)

	kept, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NotContains(t, string(kept), made.Token, "what is on disk opens nothing")
	require.Contains(t, string(kept), made.ID)
	info, err := os.Stat(file)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	left, err := filepath.Glob(file + ".new-*")
	require.NoError(t, err)
	require.Empty(t, left)

	again := openLinks(t, file, clock) // after a restart
	_, ok = again.Opens(made.Token)
	require.True(t, ok)
	list := again.Of("frieze")
	require.Len(t, list, 1)
	require.Empty(t, list[0].Token, "it is told once")
	require.Empty(t, again.Of("rosette"))
	clock.on(time.Hour)
	_, ok = again.Opens(made.Token)
	require.False(t, ok, "its time is over")
	require.Empty(t, again.Of(""))
	_, err = again.Revoke(made.ID)
	require.ErrorContains(t, err, "has expired")
}

func TestLinksThatCannotBe(t *testing.T) {
	clock := newWatch()
	l := openLinks(t, filepath.Join(t.TempDir(), "links"), clock)
	for _, lasts := range []time.Duration{-time.Hour, 0, ShortestLink - 1, LongestLink + 1} {
		_, err := l.Make("frieze", lasts, "")
		require.EqualError(t, err, "a link lasts from a minute to 90 days")
	}
	for range mostLinks {
		l.kept = append(l.kept, keptLink{Until: clock.now().Add(time.Hour)})
	}
	_, err := l.Make("frieze", time.Hour, "")
	require.ErrorContains(t, err, "revoke some")
	gone := openLinks(t, filepath.Join(t.TempDir(), "no folder", "links"), clock)
	_, err = gone.Make("frieze", time.Hour, "")
	require.ErrorContains(t, err, "keep the links")
	require.Empty(t, gone.Of(""), "what is not on disk does not open")

	file := filepath.Join(t.TempDir(), "links")
	require.NoError(t, os.WriteFile(file, []byte(`[{"id":`), 0o600))
	_, err = OpenLinks(file, clock.now)
	require.ErrorContains(t, err, "is damaged")
}

// Whatever is made, revoked, waited for and restarted: a token opens its mold until its time, unless it
// was revoked, and no other ever does.
func TestLinksOpenWhatTheyShould(t *testing.T) {
	dir, n := t.TempDir(), 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		clock, file := newWatch(), filepath.Join(dir, fmt.Sprint(n))
		l := openLinks(t, file, clock)
		type known struct {
			token, id, mold string
			until           time.Time
			revoked         bool
		}
		var all []*known
		t.Repeat(map[string]func(*rapid.T){
			"make": func(t *rapid.T) {
				mold := rapid.SampledFrom([]string{"frieze", "rosette", `a/b"<`}).Draw(t, "mold")
				lasts := time.Duration(rapid.IntRange(60, 100000).Draw(t, "seconds")) * time.Second
				made, err := l.Make(mold, lasts, "")
				require.NoError(t, err)
				all = append(all, &known{made.Token, made.ID, mold, clock.at.Add(lasts), false})
			},
			"revoke": func(t *rapid.T) {
				if len(all) == 0 {
					return
				}
				k := rapid.SampledFrom(all).Draw(t, "link")
				_, err := l.Revoke(k.id)
				require.Equal(t, !k.revoked && clock.at.Before(k.until), err == nil)
				k.revoked = true
			},
			"wait":    func(t *rapid.T) { clock.on(time.Duration(rapid.IntRange(1, 50000).Draw(t, "wait")) * time.Second) },
			"restart": func(t *rapid.T) { l = openLinks(t, file, clock) },
			"": func(t *rapid.T) {
				open := 0
				for _, k := range all {
					mold, ok := l.Opens(k.token)
					want := !k.revoked && clock.at.Before(k.until)
					require.Equal(t, want, ok)
					if ok {
						require.Equal(t, k.mold, mold)
						open++
					}
					_, ok = l.Opens(k.token[:len(k.token)-1])
					require.False(t, ok)
				}
				require.Len(t, l.Of(""), open)
				require.False(t, slices.ContainsFunc(all, func(k *known) bool { return strings.Contains(fmt.Sprint(l.Of("")), k.token) }))
			},
		})
	})
}
