package page

import (
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/stretchr/testify/require"
)

// firstView is the most that a phone may have to receive before a crowded shop is seen, in bytes as sent.
const firstView = 100_000

// A phone's first look at 200 molds: the page, and all that it names, with nothing kept from before.
func TestFirstViewIsSmall(t *testing.T) {
	server := httptest.NewServer(New(cannedOptions(crowded(200))))
	defer server.Close()
	plainly := &http.Client{Transport: &http.Transport{DisableCompression: true}} // what is sent is counted, not what it unpacks to
	sent := func(path string) (size int, body []byte) {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+path, nil)
		require.NoError(t, err)
		r.Header.Set("Accept-Encoding", "gzip, deflate, br, zstd") // as a browser does
		answer, err := plainly.Do(r)
		require.NoError(t, err)
		defer func() { require.NoError(t, answer.Body.Close()) }()
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
		counted := &counter{from: answer.Body}
		from := io.Reader(counted)
		if answer.Header.Get("Content-Encoding") == "gzip" {
			require.Contains(t, answer.Header.Get("Vary"), "Accept-Encoding")
			from, err = gzip.NewReader(counted)
			require.NoError(t, err)
		}
		body, err = io.ReadAll(from)
		require.NoError(t, err)
		return counted.n, body
	}

	all, page := sent("/")
	for _, m := range regexp.MustCompile(`(?:src|href)="(/assets/[^"]+|/worker\.js)"`).FindAllSubmatch(page, -1) {
		size, _ := sent(string(m[1]))
		all += size
	}
	t.Logf("%d bytes, of a page of %d", all, len(page))
	require.Less(t, all, firstView)
	require.Equal(t, get(t, New(cannedOptions(crowded(200))), "/").Body.Len(), len(page), "who does not take gzip gets the same, plainly")
}

// counter counts what is read.
type counter struct {
	from io.Reader
	n    int
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.from.Read(p)
	c.n += n
	return n, err
}
