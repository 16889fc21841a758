package page

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"pourward/model"
	"pourward/model/material"
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
	// Alerts returns the alerts raised now. Nil shows none.
	Alerts func() []Alert

	// Hosts are the names the page answers to besides localhost, names ending in .localhost and any IP
	// address, without port. A request for another one gets 421.
	Hosts []string

	Shelf    *material.Shelf  // materials the forms offer
	Zone     *time.Location   // of every time shown and typed; nil = UTC
	Unit     Unit             // for visitors who have not chosen
	Places   []string         // offered when a mold is begun, besides those of the outlook
	Now      func() time.Time // the shop's clock; nil = the board's
	Log      *slog.Logger     // nil = discarded
	ShopName string           // heading of the page; empty = "Shop"
}

// beginPath is where a mold is begun. It is not below /molds/, where a mold of that name would be.
const beginPath = "/begin"

// maxBody is the largest request body read, in bytes.
const maxBody = 64 << 10

// New returns the handler of the whole page. It sets its own security headers, refuses requests for
// hosts that are none of its own and requests that change anything from other origins, and changes
// nothing on GET.
func New(opts Options) http.Handler {
	s := newSite(withDefaults(opts))
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.now)
	mux.HandleFunc("GET "+beginPath, s.begin)
	mux.HandleFunc("GET /molds/{name}", s.mold)
	mux.HandleFunc("GET /places/{name}", s.place)
	mux.HandleFunc("GET /snapshot.json", s.snapshotJSON)
	mux.HandleFunc("GET /assets/{file}", s.assets.serve)
	mux.HandleFunc("GET /", s.notFound)
	mux.HandleFunc("POST /marks", s.postMark)
	mux.HandleFunc("POST /unit", s.postUnit)

	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(s.denied))
	return withHeaders(s.onlyOwnHosts(guard.Handler(http.MaxBytesHandler(mux, maxBody))))
}

func withDefaults(o Options) Options {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.ShopName == "" {
		o.ShopName = "Shop"
	}
	if o.Shelf == nil {
		o.Shelf = material.NewShelf()
	}
	if o.Refused == nil {
		o.Refused = func(error) bool { return true }
	}
	return o
}
