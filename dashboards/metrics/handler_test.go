package metrics_test

import (
	"bytes"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/dashboards/metrics"
	"pourward/model"
)

// scrape asks the handler as a Prometheus that accepts would.
func scrape(t *testing.T, h http.Handler, accept string) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "/metrics", nil)
	r.Header.Set("Accept", accept)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	require.Equal(t, http.StatusOK, w.Code)
	return w
}

func handler(t testing.TB, snapshot func() *model.Snapshot, log *slog.Logger) http.Handler {
	t.Helper()
	h, err := metrics.Handler(snapshot, func() time.Time { return at(15, 30) }, log)
	require.NoError(t, err)
	return h
}

var silent = slog.New(slog.DiscardHandler)

// Nothing is known then, and nothing must read as a zero.
func TestHandlerTellsTheBuildBeforeTheFirstOutlook(t *testing.T) {
	for _, s := range []*model.Snapshot{nil, {}} {
		h := handler(t, func() *model.Snapshot { return s }, silent)
		body := scrape(t, h, "text/plain").Body.String()
		ours := regexp.MustCompile(`(?m)^pourward_[a-z_]+`).FindAllString(body, -1)
		require.Equal(t, []string{"pourward_build_info"}, ours)
		require.Contains(t, body, "\ngo_goroutines ")
		require.Contains(t, body, "\nprocess_start_time_seconds ")
	}
}

// OpenMetrics 1.0: the content type is application/openmetrics-text, the text ends in "# EOF".
func TestHandlerSpeaksOpenMetrics(t *testing.T) {
	w := scrape(t, handler(t, annex, silent), "application/openmetrics-text; version=1.0.0")
	require.Contains(t, w.Header().Get("Content-Type"), "application/openmetrics-text; version=1.0.0")
	body := w.Body.String()
	require.True(t, strings.HasSuffix(body, "# EOF\n"))
	require.Contains(t, body, `pourward_step_standing{kind="cure",mold="cornice",pourward_step_standing="maybe",step="cure"} 1.0`)
	require.Contains(t, body, "# TYPE pourward_probe_reads counter\n")
}

// Two molds of one name cannot come from the model; if they ever do, the rest must stay in sight.
func TestHandlerKeepsTheRestWhenSeriesCollide(t *testing.T) {
	s := annex()
	s.Outlook.Molds = append(s.Outlook.Molds, cornice())
	var log bytes.Buffer
	h := handler(t, func() *model.Snapshot { return s }, slog.New(slog.NewTextHandler(&log, nil)))
	require.Contains(t, scrape(t, h, "text/plain").Body.String(), `pourward_place_temperature_celsius{place="bench"} 16.25`)
	require.Contains(t, log.String(), "was collected before with the same name and label values")
}

// Run with -race: scrapes and the shop loop meet only at the snapshot.
func TestScrapesWhileTheShopGoesOn(t *testing.T) {
	var newest atomic.Pointer[model.Snapshot]
	h := handler(t, newest.Load, silent)
	var scrapers sync.WaitGroup
	for range 4 {
		scrapers.Go(func() {
			for range 20 {
				h.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/metrics", nil))
			}
		})
	}
	for range 200 {
		newest.Store(annex())
	}
	scrapers.Wait()
}
