package network

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"time"

	"pourward/sensors"
)

// QueryOptions describe a server with the query API of Prometheus, and the probes it has samples of.
type QueryOptions struct {
	URL            string   // "http://host:9090", or https; with a path when the API is below one
	TLS            TLSFiles // for an https URL
	User, Password string   // "" when the server asks for none
	Token          string   // bearer token; "" when the server asks for none

	Every    time.Duration // between queries, on the Clock; 30 s when zero
	Timeout  time.Duration // for one query, in real time; 10 s when zero
	Stale    time.Duration // a newest sample older than this is no data; 5 min when zero
	Backfill time.Duration // how far back a gap is filled; 24 h when zero, never when negative
	Step     time.Duration // between the samples that fill a gap; Every when zero

	Probes []QueryProbe
	Clock  sensors.Clock // RealClock when nil
	Log    *slog.Logger  // silent when nil
}

// QueryProbe is one probe that the server has samples of. Each expression must give one series.
type QueryProbe struct {
	Name         string // the maker's name for the probe
	Temp         string // PromQL expression of the temperature; "" when it is not measured
	TempUnit     TempUnit
	Humidity     string // PromQL expression of the relative humidity; "" when it is not measured
	HumidityUnit HumidityUnit

	// After is the instant of the last reading on record; what came since is filled in at the start.
	// Nothing is filled in then when zero, or ahead of the clock: it was recorded while the clock was wrong.
	After time.Time

	Limits sensors.Limits
}

const (
	defaultQueryEvery   = 30 * time.Second
	defaultQueryTimeout = 10 * time.Second
	defaultStale        = 5 * time.Minute // as long as a server itself looks back (Prometheus documentation, "Staleness")
	defaultBackfill     = 24 * time.Hour
	firstQueryWait      = time.Second
	mostHeld            = 24 * time.Hour // behind the last sample the clock may be set without it being forgotten
	mostTimeouts        = 2              // in a row; then the others of the round are not asked
	mostFillTries       = 3              // rounds in which filling a gap may fail before it is given up
	chunkSteps          = 500            // in one range query; a server gives up to 11,000 (Prometheus documentation, "HTTP API")
)

// Query is the [sensors.Source] of samples that a Prometheus-compatible server has. Make it with [NewQuery].
type Query struct {
	opts   QueryOptions
	base   string
	ledger *ledger
	trip   http.RoundTripper
	probes []*asked
}

// asked is one probe.
type asked struct {
	QueryProbe
	judge  *sensors.Judge
	newest time.Time // of the samples told
	early  time.Time // of those refused since, because they lie ahead of the clock
	missed bool      // there may be a gap after it
	tries  int       // failed attempts to fill it
}

var _ sensors.Source = (*Query)(nil)

// NewQuery returns a source, or an error that says what the options lack. The server need not be there.
func NewQuery(o QueryOptions) (*Query, error) {
	base, encrypted, err := queryBase(o.URL)
	errs := append(o.check(), err, o.TLS.check())
	if err := errors.Join(errs...); err != nil {
		return nil, fmt.Errorf("set up queries to %s: %w", withoutPassword(o.URL), err)
	}
	o.setDefaults()
	o.Clock, o.Log = withDefaults(o.Clock, o.Log)
	q := &Query{opts: o, base: base, ledger: newLedger(o.Clock, o.Log), trip: transport(o.TLS, encrypted)}
	for _, p := range o.Probes {
		q.probes = append(q.probes, &asked{QueryProbe: p, judge: sensors.NewJudge(p.Limits), newest: p.After})
	}
	return q, nil
}

func (o *QueryOptions) setDefaults() {
	usual := func(d *time.Duration, v time.Duration) {
		if *d == 0 {
			*d = v
		}
	}
	usual(&o.Every, defaultQueryEvery)
	usual(&o.Timeout, defaultQueryTimeout)
	usual(&o.Stale, defaultStale)
	usual(&o.Backfill, defaultBackfill)
	usual(&o.Step, o.Every)
}

// queryBase returns the URL of the API, and whether it is encrypted.
func queryBase(text string) (base string, encrypted bool, err error) {
	u, err := url.Parse(text)
	switch {
	case err != nil:
		return "", false, errors.New("the URL cannot be understood; write e.g. http://prometheus:9090")
	case u.Scheme != "http" && u.Scheme != "https" || u.Hostname() == "":
		return "", false, errors.New("the URL must begin with http:// or https:// and a host")
	case u.User != nil:
		return "", false, errors.New("give user and password apart from the URL, which is shown in logs")
	case u.RawQuery != "" || u.Fragment != "":
		return "", false, errors.New("the URL must end with its path")
	}
	return strings.TrimSuffix(u.String(), "/") + "/api/v1/", u.Scheme == "https", nil
}

func (o *QueryOptions) check() []error {
	var errs []error
	want := func(ok bool, format string, args ...any) {
		if !ok {
			errs = append(errs, fmt.Errorf(format, args...))
		}
	}
	want(o.Every >= 0 && o.Timeout >= 0 && o.Stale >= 0 && o.Step >= 0, "durations cannot be negative")
	want(o.Every == 0 || o.Every >= time.Second, "queries can be a second apart or more")
	want(o.Step == 0 || o.Step >= 100*time.Millisecond, "steps can be 0.1 s or more")
	want(o.Password == "" || o.User != "", "a password needs a user")
	want(o.Token == "" || o.User == "", "give a token or a user, not both")
	want(len(o.Probes) > 0, "no probe is given")
	names := map[string]bool{}
	for _, p := range o.Probes {
		want(p.Name != "", "a probe has no name")
		want(!names[p.Name], "probe %q is given twice", p.Name)
		names[p.Name] = true
		want(p.Temp != "" || p.Humidity != "", "probe %q: no expression is given", p.Name)
		want(p.Temp == "" || p.TempUnit >= Celsius && p.TempUnit <= Kelvin, "probe %q: the unit of the temperature is not given", p.Name)
		want(p.Humidity == "" || p.HumidityUnit == Percent || p.HumidityUnit == Ratio, "probe %q: the unit of the humidity is not given", p.Name)
	}
	return errs
}

// Refused returns how often what was refused, by probe and refusal, since the source was made.
func (q *Query) Refused() []Count { return q.ledger.counts() }

// Run asks in rounds until ctx ends. After a round in which the server failed, the next comes after 1, 2,
// 4 ... seconds, up to Every.
func (q *Query) Run(ctx context.Context, out chan<- sensors.Reading) error {
	if t, ok := q.trip.(*http.Transport); ok {
		defer t.CloseIdleConnections()
	}
	clock := q.opts.Clock
	begin := clock.Now()
	last := begin
	q.suspectGaps()
	q.forgetAhead(begin, ahead)
	for failures := 0; ; {
		now := clock.Now()
		if now.Sub(last) > 3*q.opts.Every { // this machine slept, the loop was held up, or the clock was set forward
			q.suspectGaps()
		}
		if now.Before(last) {
			begin = now // the clock was set back
			q.forgetAhead(now, mostHeld)
		}
		last = now
		if q.round(ctx, out) {
			failures = 0
		} else {
			failures++
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		now = clock.Now()
		due := begin.Add((now.Sub(begin)/q.opts.Every + 1) * q.opts.Every)
		if failures > 0 {
			due = now.Add(backOff(failures, firstQueryWait, q.opts.Every))
		}
		if err := clock.Wait(ctx, due); err != nil {
			return err
		}
	}
}

func (q *Query) suspectGaps() {
	for _, p := range q.probes {
		p.missed = true
	}
}

// forgetAhead begins anew with the probes whose newest sample lies further ahead of the clock than a limit: the time
// until then is too long to wait through.
func (q *Query) forgetAhead(now time.Time, limit time.Duration) {
	for _, p := range q.probes {
		if p.newest.Sub(now) > limit {
			q.opts.Log.Warn("the last sample lies ahead of the shop's clock; what the server has from now on is taken", "probe", p.Name, "last", p.newest)
			p.newest = time.Time{}
		}
	}
}

// round asks for every probe once. It reports whether the server answered any of it.
func (q *Query) round(ctx context.Context, out chan<- sensors.Reading) bool {
	answered, timeouts := false, 0
	var down error
	for _, p := range q.probes {
		err := down
		if err == nil {
			err = q.ask(ctx, p, out)
		}
		var server *serverError
		switch {
		case ctx.Err() != nil:
			return false
		case !errors.As(err, &server):
			answered, timeouts = true, 0
		case server.timeout:
			if timeouts++; timeouts >= mostTimeouts {
				down = err
			}
		default:
			down = err
		}
		if err == nil {
			continue
		}
		p.missed = true
		err = fmt.Errorf("query %s for probe %q: %w", q.opts.URL, p.Name, err)
		if !send(ctx, out, sensors.Failed(p.Name, q.opts.Clock.Now().UTC(), err)) {
			return false
		}
	}
	return answered && down == nil
}

// send hands on a reading; it reports false when ctx has ended.
func send(ctx context.Context, out chan<- sensors.Reading, r sensors.Reading) bool {
	select {
	case out <- r:
		return true
	case <-ctx.Done():
		return false
	}
}
