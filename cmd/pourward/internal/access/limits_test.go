package access

import (
	"net/http"
	"net/http/httptest"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestAddresses(t *testing.T) {
	for _, row := range rowsOf(t, "addresses.csv") {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.RemoteAddr = row["remote"]
		r.Header.Set("X-Forwarded-For", "203.0.113.9") // anyone can write that
		require.Equal(t, row["counted for"], addressOf(r), row["source"])
	}
}

func TestLimit(t *testing.T) {
	clock := newWatch()
	l := newLimit(clock.now, 60, 2)
	require.Equal(t, []bool{true, true, false}, []bool{l.allow("a"), l.allow("a"), l.allow("a")})
	require.True(t, l.allow("b"))
	clock.on(time.Second)
	require.Equal(t, []bool{true, false}, []bool{l.allow("a"), l.allow("a")})
}

// However many names or addresses are made up, what is remembered is bounded, and nobody who did nothing
// is shut out for long.
func TestLimitsRememberSoMany(t *testing.T) {
	clock := newWatch()
	l := newLimit(clock.now, 60, 2)
	for i := range 2 * mostKeys {
		l.allow(strconv.Itoa(i))
	}
	require.Len(t, l.byKey, mostKeys)
	require.False(t, l.allow("new"), "those there is no room for share one limit")
	clock.on(2 * time.Second)
	require.True(t, l.allow("new"))
	require.Len(t, l.byKey, 1, "who has done nothing lately is forgotten")
}
