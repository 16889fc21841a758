package metrics_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
	"weak"

	"github.com/prometheus/common/expfmt"
	names "github.com/prometheus/common/model"
	"github.com/stretchr/testify/require"

	"pourward/dashboards/metrics"
	"pourward/model"
)

// What Prometheus servers ask for, newest first, and what a browser does.
var accepts = []string{
	"application/vnd.google.protobuf;proto=io.prometheus.client.MetricFamily;encoding=delimited",
	"application/openmetrics-text;version=1.0.0;escaping=underscores",
	"application/openmetrics-text;version=1.0.0;escaping=allow-utf-8",
	"application/openmetrics-text",
	"text/plain;version=0.0.4;escaping=values",
	"text/html,*/*;q=0.8",
}

// What is kept is what client_golang's encoder writes of what its registry gathers, to the byte, whatever is asked for.
func TestKeptIsWhatIsGathered(t *testing.T) {
	all := append(drawDay(3, time.Hour, 8), annex(), everything(true), everything(false), busy(40))
	for _, s := range all {
		want, err := metrics.Gather(s)
		require.NoError(t, err)
		h := handler(t, func() *model.Snapshot { return s }, silent)
		for _, accept := range accepts {
			w := scrape(t, h, accept)
			format := expfmt.Format(w.Header().Get("Content-Type"))
			var b bytes.Buffer
			to := expfmt.NewEncoder(&b, format)
			for _, f := range want {
				require.NoError(t, to.Encode(f))
			}
			got := w.Body.Bytes()
			require.True(t, bytes.HasPrefix(got, b.Bytes()), "%s\n%s", accept, firstDifference(b.String(), string(got)))
			rest := string(got[b.Len():])
			require.NotContains(t, rest, "pourward_outlook", accept)
			require.Contains(t, rest, metrics.ShopClock, accept)
			if format.FormatType() == expfmt.TypeOpenMetrics {
				require.Equal(t, len(rest)-len("# EOF\n"), strings.Index(rest, "# EOF\n"), "once, at the end")
			}
		}
	}
}

// firstDifference is the first line in which two texts differ.
func firstDifference(want, got string) string {
	others := strings.Split(got, "\n")
	for i, line := range strings.Split(want, "\n") {
		if i >= len(others) || line != others[i] {
			return "want " + line + "\ngot  " + strings.Join(others[i:min(i+1, len(others))], "")
		}
	}
	return ""
}

// Prometheus looks for names to escape, which the handler spares.
func TestNoNameNeedsToBeEscaped(t *testing.T) {
	for _, m := range metrics.Table() {
		require.True(t, names.LegacyValidation.IsValidMetricName(m.Name), m.Name)
		for _, l := range m.Labels {
			require.True(t, names.LegacyValidation.IsValidLabelName(l), l)
		}
	}
}

// A snapshot is never changed. This one is, to see that it is not written a second time.
func TestSnapshotIsWrittenOnce(t *testing.T) {
	s := annex()
	clock := at(15, 30)
	h, err := metrics.Handler(func() *model.Snapshot { return s }, func() time.Time { return clock }, silent)
	require.NoError(t, err)
	told := func(accept string) string { return scrape(t, h, accept).Body.String() }
	require.Contains(t, told("text/plain"), `pourward_place_temperature_celsius{place="bench"} 16.25`)
	s.Outlook.Places[0].TempC = 17
	clock = at(14, 30) // set back
	kept := told("text/plain")
	require.Contains(t, kept, `pourward_place_temperature_celsius{place="bench"} 16.25`)
	require.Contains(t, kept, "pourward_shop_clock_timestamp_seconds 1.7684874e+09\n", "the clock is told as it is, kept or not")

	next := *s
	s = &next
	require.Contains(t, told("text/plain"), `pourward_place_temperature_celsius{place="bench"} 17`)
	require.Contains(t, told("application/openmetrics-text"), `pourward_place_temperature_celsius{place="bench"} 17.0`)
	s = nil
	require.NotContains(t, told("application/openmetrics-text"), "pourward_place", "nothing is known any more")
}

// An old snapshot is let go of, even if nobody ever asks again.
func TestNoOldSnapshotIsHeld(t *testing.T) {
	newest := annex()
	h := handler(t, func() *model.Snapshot { return newest }, silent)
	scrape(t, h, "text/plain")
	old := weak.Make(newest)
	require.NotNil(t, old.Value())
	newest = nil
	runtime.GC()
	require.Nil(t, old.Value())
}

func TestScrapeIsCompressedForWhoTakesIt(t *testing.T) {
	h := handler(t, annex, silent)
	for _, accept := range accepts {
		plain := scrape(t, h, accept)
		require.Empty(t, plain.Header().Get("Content-Encoding"))
		r := httptest.NewRequest(http.MethodGet, "/metrics", nil)
		r.Header.Set("Accept", accept)
		r.Header.Set("Accept-Encoding", "gzip")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Equal(t, "gzip", w.Header().Get("Content-Encoding"))
		require.ElementsMatch(t, []string{"Accept", "Accept-Encoding"}, w.Header().Values("Vary"))
		require.Equal(t, plain.Header().Get("Content-Type"), w.Header().Get("Content-Type"))
		z, err := gzip.NewReader(w.Body)
		require.NoError(t, err)
		z.Multistream(false) // browsers read no second one
		got, err := io.ReadAll(z)
		require.NoError(t, err)
		outlook := plain.Body.Bytes()[:plain.Body.Len()/2] // which comes first; what is of the instant is another each time
		require.True(t, bytes.HasPrefix(got, outlook), accept)
	}
}

// What one asks for by name is all there is, of the outlook and of the process.
func TestSomeByName(t *testing.T) {
	h := handler(t, annex, silent)
	r := httptest.NewRequest(http.MethodGet, "/metrics?name[]=pourward_open_molds&name[]=go_goroutines", nil)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	parser := expfmt.NewTextParser(names.UTF8Validation)
	got, err := parser.TextToMetricFamilies(w.Body)
	require.NoError(t, err)
	require.ElementsMatch(t, []string{"pourward_open_molds", "go_goroutines"}, slices.Collect(maps.Keys(got)))
}

// More scrapes than may run at once are turned away in words, not with half an answer.
func TestCrowdIsTurnedAway(t *testing.T) {
	held := make(chan struct{})
	begun := make(chan struct{}, 8)
	h, err := metrics.Handler(annex, func() time.Time {
		begun <- struct{}{}
		<-held
		return at(15, 30)
	}, silent)
	require.NoError(t, err)
	answers := make(chan *httptest.ResponseRecorder, 8)
	for range 8 {
		go func() {
			w := httptest.NewRecorder()
			h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
			answers <- w
		}()
	}
	for range 8 {
		<-begun
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	require.Equal(t, http.StatusServiceUnavailable, w.Code)
	require.NotContains(t, w.Body.String(), "pourward_")
	close(held)
	for range 8 {
		w := <-answers
		require.Equal(t, http.StatusOK, w.Code)
		require.Contains(t, w.Body.String(), metrics.ShopClock)
	}
}

func TestPromtoolAcceptsAScrape(t *testing.T) {
	h := handler(t, func() *model.Snapshot { return everything(true) }, silent)
	promtool(t, scrape(t, h, "text/plain").Body, "check", "metrics")
}
