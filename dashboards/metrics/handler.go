package metrics

import (
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/collectors/version"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"pourward/model"
)

// inFlight is how many scrapes may run at once; a shop has one or two Prometheus servers.
const inFlight = 8

// Handler serves the metrics of the shop, of the Go runtime and of the process, and what was built, from
// a registry of its own. The arguments are those of [NewCollector]; log takes what goes wrong in a
// scrape and must not be nil. It fails when a metric contradicts another, which a test excludes for those of [Table].
func Handler(snapshot func() *model.Snapshot, now func() time.Time, log *slog.Logger) (http.Handler, error) {
	reg := prometheus.NewRegistry()
	for _, c := range []prometheus.Collector{
		NewCollector(snapshot, now),
		version.NewCollector("pourward"),
		collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
	} {
		if err := reg.Register(c); err != nil {
			return nil, fmt.Errorf("registering metrics: %w", err)
		}
	}
	return promhttp.HandlerFor(reg, promhttp.HandlerOpts{
		EnableOpenMetrics:   true,
		ErrorHandling:       promhttp.ContinueOnError, // one bad label must not hide the whole shop
		ErrorLog:            slog.NewLogLogger(log.Handler(), slog.LevelError),
		MaxRequestsInFlight: inFlight,
		Registry:            reg,
	}), nil
}
