package page

import (
	"context"
	"log/slog"
	"maps"
	"net/http"
	"slices"
	"time"

	"github.com/klauspost/compress/gzhttp"
	"github.com/klauspost/compress/gzip"

	"pourward/model"
	"pourward/model/material"
	"pourward/model/mix"
	"pourward/model/plan"
	"pourward/model/report"
)

// Unit is the temperature scale shown. Inside, everything stays in °C.
type Unit uint8

const (
	Celsius Unit = iota
	Fahrenheit
)

// Alert is one alert that is raised now, as the page shows it.
type Alert struct {
	Name        string    // short, stable
	Severity    string    // "critical" and "warning" are set apart; anything else is shown plainly
	Summary     string    // one line
	Description string    // what to do; may be empty
	Since       time.Time // when it was raised
}

// Point is one recorded measurement of a probe.
type Point struct {
	At       time.Time
	TempC    float64 // °C; NaN = none trusted
	Humidity float64 // ratio 0..1; NaN = none trusted or not measured
}

// Options are what the page needs. Only Snapshot and Shelf must be given.
type Options struct {
	// Snapshot returns what the shop loop told last; nil before it told anything.
	Snapshot func() *model.Snapshot
	// Record keeps a mark and returns it with its ID. An error is shown to the maker, so it should be
	// one clear sentence. Nil makes the page show only.
	Record func(ctx context.Context, m model.Mark) (model.Mark, error)
	// Refused tells an error of Record that is the mark's own fault (answered 422) from one of the
	// machinery (answered 503). Nil takes every error as the mark's fault.
	Refused func(error) bool
	// Trace returns what a probe recorded in [from, to), in order of time. Nil shows no traces.
	Trace func(ctx context.Context, probe string, from, to time.Time) ([]Point, error)
	// Report returns the report of a mold; an error that wraps [report.ErrNoMold] is answered 404. Nil
	// gives none.
	Report func(ctx context.Context, mold string) (*report.Report, error)
	// Alerts returns the alerts raised now. Nil shows none.
	Alerts func() []Alert

	// Sight returns how the air of a place may go, for plans. Nil plans nothing. An error is shown to the maker.
	Sight func(ctx context.Context, place string) (plan.Sight, error)
	Hours plan.Hours         // working hours, where a plan is not asked for others; nil = [plan.UsualHours]
	HeatC map[string]float64 // by place: what it is heated to, °C, where a plan is not asked for another; 22 where not told

	// Door decides who may come in. Nil lets everyone who reaches the page do everything.
	Door Door
	// Links are the links to molds that were handed out. Nil hands out none.
	Links Links
	// Beside is what else is served at this address, by pattern. It stands behind the same checks of host,
	// origin and door, and bounds the bodies it reads by itself.
	Beside map[string]http.Handler

	// Ended is closed when the server is about to end, so that listeners do not hold it up. Nil is never.
	Ended <-chan struct{}

	// Hosts are the names the page answers to besides localhost, names ending in .localhost and any IP
	// address, without port. A request for another one gets 421.
	Hosts []string

	Shelf    *material.Shelf  // materials the forms offer
	Scale    mix.Scale        // that batches are weighed on; zero = not told
	Zone     *time.Location   // of every time shown and typed; nil = UTC
	Unit     Unit             // for visitors who have not chosen
	Places   []string         // offered when a mold is begun, besides those of the outlook
	Now      func() time.Time // the shop's clock; nil = the board's
	Late     time.Duration    // how old an outlook may be before the page says so; 0 = 2 min
	Log      *slog.Logger     // nil = discarded
	ShopName string           // heading of the page; empty = "Shop"
}

// beginPath is where a mold is begun. It is not below /molds/, where a mold of that name would be.
const beginPath = "/begin"

// maxBody is the largest request body read, in bytes.
const maxBody = 64 << 10

// route is what answers one kind of request.
type route struct {
	pattern string
	handle  http.HandlerFunc
}

// routes are all the page serves. What each needs of a visitor is for the door to know.
func (s *site) routes() []route {
	return []route{
		{"GET /{$}", s.now},
		{"GET " + beginPath, s.begin},
		{"GET /molds/{name}", s.mold},
		{"GET /molds/{name}/label", s.label},
		{"GET /molds/{name}/report", s.report},
		{"GET /molds/{name}/report.csv", s.reportCSV},
		{"GET /places/{name}", s.place},
		{"GET " + planPath, s.plan},
		{"GET " + patchesPath, s.patches},
		{"GET " + patchesPath + "/{name}", s.patch},
		{"GET " + materialsPath, s.showMaterials},
		{"GET " + diaryPath, s.diary},
		{"GET /snapshot.json", s.snapshotJSON},
		{"GET /assets/{file}", s.assets.serve},
		{"GET " + workerPath, s.assets.serveWorker},
		{"GET /", s.notFound},
		{"POST /marks", s.postMark},
		{"POST /unit", s.postUnit},
		{"GET " + LoginPath, s.login},
		{"POST " + LoginPath, s.postLogin},
		{"POST /logout", s.postLogout},
		{"GET " + lookPath + "{token}", s.shared},
		{"GET /links", s.listLinks},
		{"POST /links", s.postLink},
		{"POST /links/revoke", s.postRevoke},
	}
}

// packed sends answers as gzip to those who take it: a phone at the bench may have little to receive with.
func packed(h http.Handler) http.Handler {
	wrap, err := gzhttp.NewWrapper(gzhttp.EnableZstd(false), gzhttp.CompressionLevel(gzip.BestSpeed))
	if err != nil {
		panic(err) // the options do not depend on anything
	}
	return wrap(h)
}

// Patterns are those of every route that [New] serves, so that a door can be held against them.
func Patterns(opts Options) []string {
	out := []string{"GET " + newsPath}
	for _, rt := range newSite(withDefaults(opts)).routes() {
		out = append(out, rt.pattern)
	}
	return slices.Sorted(slices.Values(append(out, slices.Collect(maps.Keys(opts.Beside))...)))
}

// New returns the handler of the whole page. It sets its own security headers, refuses requests for
// hosts that are none of its own, requests that change anything from other origins, and those its door
// does not let in, and changes nothing on GET.
func New(opts Options) http.Handler {
	s := newSite(withDefaults(opts))
	mux := http.NewServeMux()
	for _, rt := range s.routes() {
		mux.Handle(rt.pattern, packed(http.MaxBytesHandler(rt.handle, maxBody)))
	}
	mux.Handle("GET "+newsPath, http.HandlerFunc(s.news)) // each of its words leaves at once
	for pattern, h := range opts.Beside {
		mux.Handle(pattern, h)
	}
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(s.denied))
	return withHeaders(s.onlyOwnHosts(guard.Handler(s.opts.Door.Guard(mux, s.turnAway))))
}

func withDefaults(o Options) Options {
	if o.Snapshot == nil {
		o.Snapshot = func() *model.Snapshot { return nil }
	}
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	if o.Late == 0 {
		o.Late = lateAfter
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Hours == nil {
		o.Hours = plan.UsualHours()
	}
	if o.ShopName == "" {
		o.ShopName = "Shop"
	}
	if o.Shelf == nil {
		o.Shelf = material.NewShelf()
	}
	if o.Door == nil {
		o.Door = openDoor{}
	}
	if o.Links == nil {
		o.Links = noLinks{}
	}
	if o.Refused == nil {
		o.Refused = func(error) bool { return true }
	}
	return o
}
