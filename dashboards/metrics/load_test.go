package metrics_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// busy is the annex with so many molds, each like the cornice or, every fourth, like the metope.
func busy(molds int) *model.Snapshot {
	s := annex()
	s.Outlook.Molds = nil
	for i := range molds {
		m := cornice()
		if i%4 == 3 {
			m = metope()
		}
		m.Name = fmt.Sprintf("%s-%d", m.Name, i)
		s.Outlook.Molds = append(s.Outlook.Molds, m)
	}
	return s
}

// nowhere is a response that is thrown away.
type nowhere struct {
	header http.Header
	bytes  int
}

func (n *nowhere) Header() http.Header { return n.header }
func (n *nowhere) WriteHeader(int)     {}
func (n *nowhere) Write(p []byte) (int, error) {
	n.bytes += len(p)
	return len(p), nil
}

func BenchmarkScrape(b *testing.B) {
	const text, open = "text/plain", "application/openmetrics-text; version=1.0.0"
	for _, c := range []struct {
		name, accept, encoding string
		anew                   bool // the shop has told something new before every scrape
	}{
		{"text", text, "", false},
		{"text-anew", text, "", true},
		{"openmetrics-anew", open, "", true},
		{"text-gzip", text, "gzip", false},
		{"text-gzip-anew", text, "gzip", true},
	} {
		b.Run(c.name, func(b *testing.B) {
			s := busy(200)
			h := handler(b, func() *model.Snapshot { return s }, silent)
			r := httptest.NewRequest(http.MethodGet, "/metrics", nil)
			r.Header.Set("Accept", c.accept)
			r.Header.Set("Accept-Encoding", c.encoding)
			b.ReportAllocs()
			for b.Loop() {
				if c.anew {
					next := *s
					s = &next
				}
				w := &nowhere{header: http.Header{}}
				h.ServeHTTP(w, r)
				require.Greater(b, w.bytes, 10_000)
			}
		})
	}
}
