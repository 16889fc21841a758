package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net"
	"net/http"
	"time"

	"golang.org/x/net/netutil"

	"pourward/cmd/pourward/internal/access"
	"pourward/dashboards/metrics"
	"pourward/dashboards/page"
	"pourward/model"
	"pourward/model/journal"
	"pourward/model/loop"
	"pourward/model/material"
	"pourward/model/report"
)

// handler puts the page and the metrics on one address, until ctx ends.
func handler(ctx context.Context, o shopOptions, j *journal.Keeper, l *loop.Loop, b *bell) (http.Handler, error) {
	opts, err := pageOptions(o, j, l, b)
	if err != nil {
		return nil, err
	}
	opts.Ended = ctx.Done()
	return page.New(opts), nil
}

// pageOptions are those of the page, with all that is served beside it.
func pageOptions(o shopOptions, j shopRecord, l *loop.Loop, b *bell) (page.Options, error) {
	numbers, err := metrics.Handler(l.Snapshot, o.clock.Now, o.log)
	if err != nil {
		return page.Options{}, fmt.Errorf("set up the metrics: %w", err)
	}
	opts := page.Options{
		Snapshot: l.Snapshot,
		Record:   l.Mark,
		Refused:  func(err error) bool { return errors.Is(err, loop.ErrRefused) },
		Trace:    tracer(j),
		Report: func(ctx context.Context, mold string) (*report.Report, error) {
			return report.Read(ctx, loop.Past{Setup: o.setup, Record: j, Log: o.log}, mold, o.clock.Now())
		},
		Alerts: b.active,
		Door:   o.door,
		Beside: map[string]http.Handler{"GET /metrics": numbers},
		Sight:  l.Sight, Hours: o.work, HeatC: heatedTo(o.setup),
		Shelf: shelfOf(o.setup), Scale: o.setup.Scale,
		Zone: o.zone, Unit: o.unit, Places: o.setup.Places, Now: o.clock.Now, Late: o.late, Log: o.log, ShopName: o.name, Hosts: o.hosts,
	}
	maps.Copy(opts.Beside, o.extra)
	if r, ok := j.(loop.Standing); ok && r.Stand().State == model.RecordInUse {
		return opts, nil // the links are those of its keeper
	}
	links, err := access.OpenLinks(o.journal+".links", o.clock.Now)
	if err != nil { // the shop is watched all the same
		o.log.Error("no links are handed out, and none opens", "error", err)
		return opts, nil
	}
	opts.Links = links
	return opts, nil
}

// heatedTo is what places are heated to where the maker says so, °C.
func heatedTo(s model.Setup) map[string]float64 {
	out := map[string]float64{}
	for place, h := range s.Heated {
		out[place] = h.HeatedC
	}
	return out
}

func shelfOf(s model.Setup) *material.Shelf {
	if s.Shelf == nil {
		return material.Generic()
	}
	return s.Shelf
}

// tracer reads a probe's recorded readings for the page.
func tracer(j shopRecord) func(context.Context, string, time.Time, time.Time) ([]page.Point, error) {
	return func(ctx context.Context, probe string, from, to time.Time) ([]page.Point, error) {
		readings, err := j.Trace(ctx, probe, from, to)
		if err != nil {
			return nil, err
		}
		points := make([]page.Point, 0, len(readings))
		for _, r := range readings {
			points = append(points, page.Point{At: r.At, TempC: orNaN(r.Temp), Humidity: orNaN(r.Humidity)})
		}
		return points, nil
	}
}

// Limits of one request, and of how many connections there may be: a phone has a few, Prometheus one.
const (
	headerTimeout  = 5 * time.Second
	requestTimeout = 20 * time.Second // for a request to arrive, body included
	answerTimeout  = 2 * time.Minute
	mostHeader     = 16 << 10 // bytes
	mostConns      = 256
)

// serveHTTP serves until ctx ends, then lets requests under way finish.
func serveHTTP(ctx context.Context, at net.Listener, h http.Handler, door *access.Door, log *slog.Logger) error {
	srv := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: headerTimeout,
		ReadTimeout:       requestTimeout,
		WriteTimeout:      answerTimeout,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    mostHeader,
		TLSConfig:         door.TLS(),
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelDebug),
	}
	if !door.HTTP2() {
		srv.Protocols = new(http.Protocols)
		srv.Protocols.SetHTTP1(true)
	}
	ended := make(chan struct{})
	stopped := context.AfterFunc(ctx, func() {
		defer close(ended)
		end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 3*time.Second)
		defer cancel()
		if srv.Shutdown(end) != nil { // what is still open after that is cut
			_ = srv.Close()
		}
	})
	defer func() {
		if !stopped() {
			<-ended
		}
	}()
	at = netutil.LimitListener(at, mostConns)
	var err error
	if srv.TLSConfig != nil {
		err = srv.ServeTLS(at, "", "")
	} else {
		err = srv.Serve(at)
	}
	if !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve the page: %w", err)
	}
	return nil
}
