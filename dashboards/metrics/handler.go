package metrics

import (
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"github.com/klauspost/compress/gzhttp"
	"github.com/klauspost/compress/gzip"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/collectors/version"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"

	"pourward/model"
)

// inFlight is how many scrapes may run at once; a shop has one or two Prometheus servers.
const inFlight = 8

// Handler serves the metrics of the shop, of the Go runtime and of the process, and what was built, from
// a registry of its own. snapshot gives the newest snapshot, nil before the first outlook, and now is the shop clock;
// any goroutine may call them. log takes what goes wrong in a scrape and must not be nil. It fails when a metric
// contradicts another, which a test excludes for those of [Table].
func Handler(snapshot func() *model.Snapshot, now func() time.Time, log *slog.Logger) (http.Handler, error) {
	s := &scrapes{snapshot: snapshot}
	reg := prometheus.NewRegistry()
	for _, c := range []prometheus.Collector{
		version.NewCollector("pourward"),
		collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
		&clock{snapshot, now, s.outlook.trouble, describe(clockMetric())},
	} {
		if err := reg.Register(c); err != nil {
			return nil, fmt.Errorf("registering metrics: %w", err)
		}
	}
	opts := promhttp.HandlerOpts{
		AcceptedFormats:     accepted(),
		DisableCompression:  true,                     // done here, around all of an answer
		ErrorHandling:       promhttp.ContinueOnError, // one bad label must not hide the whole shop
		ErrorLog:            slog.NewLogLogger(log.Handler(), slog.LevelError),
		MaxRequestsInFlight: inFlight,
		Registry:            reg,
	}
	s.live = promhttp.HandlerFor(reg, opts)
	s.some = promhttp.HandlerFor(prometheus.Gatherers{reg, prometheus.GathererFunc(s.gather)}, opts)
	pack, err := gzhttp.NewWrapper(gzhttp.EnableZstd(false), gzhttp.CompressionLevel(gzip.BestSpeed))
	if err != nil {
		return nil, fmt.Errorf("setting up the compression of metrics: %w", err)
	}
	return pack(s), nil
}

// accepted are the formats that may be asked for.
func accepted() []expfmt.Format { return expfmt.DefaultOpenMetricsAcceptedFormats() }

// scrapes answers with what the newest snapshot tells, as it is kept, and after it with what is of this very instant.
type scrapes struct {
	snapshot func() *model.Snapshot
	outlook  kept
	live     http.Handler // of what is of this instant
	some     http.Handler // of everything, for who wants only some of it by name
}

func (s *scrapes) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.URL.Query().Has("name[]") {
		s.some.ServeHTTP(w, r)
		return
	}
	format := expfmt.NegotiateAccept(r.Header, accepted()...) // the rule by which the live ones find theirs
	s.live.ServeHTTP(&led{w, s.outlook.as(s.snapshot(), format)}, r)
}

func (s *scrapes) gather() ([]*dto.MetricFamily, error) { return Gather(s.snapshot()) }

// led is an answer that begins with something, unless it is an error.
type led struct {
	http.ResponseWriter
	by []byte
}

// WriteHeader is called before the first Write by who tells of an error.
func (l *led) WriteHeader(code int) {
	if code != http.StatusOK {
		l.by = nil
	}
	l.ResponseWriter.WriteHeader(code)
}

func (l *led) Write(p []byte) (int, error) {
	if by := l.by; by != nil {
		l.by = nil
		if _, err := l.ResponseWriter.Write(by); err != nil {
			return 0, err
		}
	}
	return l.ResponseWriter.Write(p)
}
