package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"pourward/alerts"
	"pourward/alerts/deliver"
	"pourward/cmd/pourward/internal/access"
	"pourward/dashboards/page"
	"pourward/model"
	"pourward/model/journal"
	"pourward/model/loop"
	"pourward/model/plan"
	"pourward/sensors"
	"pourward/sensors/network"
)

// shopOptions are what the daemon and the demo differ in.
type shopOptions struct {
	name    string
	zone    *time.Location
	unit    page.Unit
	listen  string
	hosts   []string     // names the page answers to, besides localhost and addresses
	work    plan.Hours   // in which somebody is there, for plans; nil = the usual ones
	door    *access.Door // who may come in; nil asks nobody
	setup   model.Setup
	journal string           // file
	back    time.Duration    // how far back readings are asked for at the start, where the journal keeps marks alone; else 0
	flush   time.Duration    // see [loop.Options]
	tell    time.Duration    // see [loop.Options]
	late    time.Duration    // see [page.Options]
	clock   sensors.Clock    // the shop clock; nil where board is given
	board   sensors.Board    // the computer to tell the time from
	calls   *deliver.Options // who is told of alerts; nil: nobody
	minder  *minder          // the service manager to tell that the loop lives; nil: none
	log     *slog.Logger

	extra   map[string]http.Handler // what else is served, by pattern; used once the sources are made
	sources func(ctx context.Context, past past, clock sensors.Clock) ([]sensors.Source, error)
	watch   func(*model.Snapshot, []alerts.Change) // told of every snapshot, on the loop's goroutine; may be nil
	ready   func(url string)                       // told once the page can be reached; may be nil
	beside  func(ctx context.Context, l *loop.Loop) error
}

// past is what sources ask of the record: how far it goes.
type past interface {
	Span(context.Context) (first, last time.Time, err error)
	LastOf(ctx context.Context, probe string) (time.Time, error)
}

// shop is everything that runs, put together.
type shop struct {
	opts    shopOptions
	journal *journal.Keeper
	record  shopRecord // of readings and marks: the journal, or memory over it
	loop    *loop.Loop
	calls   *deliver.Deliverer // nil: nobody is told of alerts
	sources []sensors.Source
	pages   http.Handler
}

// errTakenOver ends a shop that has come to keep a journal which another daemon kept: it begins anew, as the
// one that tells of alerts.
var errTakenOver = errors.New("the other daemon has gone")

// runShop runs a whole shop until ctx ends: sources, loop, journal, alerts, page and metrics.
func runShop(ctx context.Context, o shopOptions) error {
	for {
		at, err := runShopOnce(ctx, o)
		if !errors.Is(err, errTakenOver) || ctx.Err() != nil {
			return err
		}
		o.log.Warn("the other daemon has gone: this one keeps the journal from now on")
		o.listen, o.ready = at, nil
	}
}

// runShopOnce returns the address at which the page was.
func runShopOnce(ctx context.Context, o shopOptions) (at string, err error) {
	s, err := openShop(ctx, o)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, s.close(ctx)) }()
	listener, err := net.Listen("tcp", o.listen)
	if err != nil {
		return "", fmt.Errorf("open the page at %s: %w; choose another address with listen", o.listen, err)
	}
	if o.ready != nil {
		scheme := "http://"
		if s.opts.door.TLS() != nil {
			scheme = "https://"
		}
		o.ready(scheme + listener.Addr().String())
	}
	return listener.Addr().String(), s.run(ctx, listener)
}

// openShop puts a shop together and folds what is on record. Close it in any case but an error.
func openShop(ctx context.Context, o shopOptions) (_ *shop, err error) {
	s := &shop{}
	if o.door == nil {
		if o.door, err = access.New(access.Options{Log: o.log}); err != nil {
			return nil, err
		}
	}
	if s.journal, err = journal.Keep(ctx, o.journal, journal.Options{Log: o.log}); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.close(ctx))
		}
	}()
	if o.board != nil {
		if o.clock, err = boardClock(ctx, o.board, s.journal); err != nil {
			return nil, err
		}
	}
	s.opts = o
	if s.sources, err = o.sources(ctx, s.journal, o.clock); err != nil {
		return nil, err
	}
	s.record = s.journal
	if o.back > 0 {
		if s.record, err = askBack(ctx, s.journal, s.sources, o); err != nil {
			return nil, err
		}
	}
	if s.journal.Stand().State == model.RecordInUse { // its keeper tells of alerts, and has their book
		s.opts.calls, o.calls = nil, nil
	}
	if s.calls, err = openCalls(ctx, o); err != nil {
		return nil, err
	}
	bell, err := newBell(o, s.calls)
	if err != nil {
		return nil, err
	}
	opts := loop.Options{
		Setup: o.setup, Record: s.record, Clock: o.clock, Flush: o.flush, Tell: o.tell, Publish: bell.step, Log: o.log,
		Refused: refusedBy(s.sources), Deliver: callsHealth(s.calls),
	}
	s.loop, err = loop.New(ctx, opts)
	if err != nil && s.journal.SetAside(ctx, err) == nil { // damage that only reading it whole has shown
		s.loop, err = loop.New(ctx, opts)
	}
	if err != nil {
		return nil, err
	}
	s.pages, err = handler(ctx, o, s.journal, s.loop, bell)
	return s, err
}

// refuser is a source over the network, which may be sent what it does not take.
type refuser interface{ Refused() []network.Count }

// refusedBy adds up what the sources refused, by kind; nil where no source can be sent anything.
func refusedBy(sources []sensors.Source) func() map[string]uint64 {
	var all []refuser
	for _, s := range sources {
		if w, ok := s.(interface{ Unwrap() sensors.Source }); ok {
			s = w.Unwrap()
		}
		if r, ok := s.(refuser); ok {
			all = append(all, r)
		}
	}
	if len(all) == 0 {
		return nil
	}
	return func() map[string]uint64 {
		out := map[string]uint64{}
		for _, r := range all {
			for _, c := range r.Refused() {
				out[c.Refusal.String()] += c.N
			}
		}
		return out
	}
}

// close makes everything safe, whether or not ctx has ended.
func (s *shop) close(ctx context.Context) error {
	err := s.journal.Close(context.WithoutCancel(ctx))
	if s.calls != nil {
		err = errors.Join(err, s.calls.Close())
	}
	return err
}

// boardClock is the shop clock of a computer, labelled as the record has it.
func boardClock(ctx context.Context, board sensors.Board, j *journal.Keeper) (sensors.Clock, error) {
	_, last, err := j.Span(ctx)
	if err != nil {
		return nil, err
	}
	boots, err := j.Boots(ctx)
	if err != nil {
		return nil, err
	}
	return sensors.NewBoardClock(board, last, boots)
}

// run runs the goroutines of a shop until ctx ends. The loop ends last, so that nothing on its way to it
// is lost.
func (s *shop) run(ctx context.Context, at net.Listener) error {
	g, ctx := errgroup.WithContext(ctx)
	readings := make(chan sensors.Reading)
	for _, source := range s.sources {
		g.Go(func() error { return unlessEnded(ctx, source.Run(ctx, readings)) })
	}
	g.Go(func() error { return s.loop.Run(ctx, readings) })
	if s.calls != nil {
		g.Go(func() error { return unlessEnded(ctx, s.calls.Run(ctx)) })
	}
	g.Go(func() error { return serveHTTP(ctx, at, s.pages, s.opts.door, s.opts.log) })
	if s.opts.minder != nil {
		g.Go(func() error { s.opts.minder.run(ctx, s.loop); return nil })
	}
	if s.journal.Stand().State == model.RecordInUse {
		g.Go(func() error { return s.untilTakenOver(ctx) })
	}
	if s.opts.beside != nil {
		g.Go(func() error { return unlessEnded(ctx, s.opts.beside(ctx, s.loop)) })
	}
	return g.Wait()
}

// takeOverLook is how often a shop whose journal another daemon keeps looks whether it has come to keep it.
const takeOverLook = time.Second

// untilTakenOver waits until this shop keeps the journal.
func (s *shop) untilTakenOver(ctx context.Context) error {
	look := time.NewTicker(takeOverLook)
	defer look.Stop()
	for s.journal.Stand().State == model.RecordInUse {
		select {
		case <-look.C:
		case <-ctx.Done():
			return nil
		}
	}
	return errTakenOver
}

// unlessEnded drops an error that only says that the context has ended.
func unlessEnded(ctx context.Context, err error) error {
	if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		return nil
	}
	return err
}

// bell evaluates the alerts on the loop's goroutine and shows the active ones to everyone.
type bell struct {
	eval  *alerts.Evaluator
	log   *slog.Logger
	calls *deliver.Deliverer // nil: nobody is told
	watch func(*model.Snapshot, []alerts.Change)
	now   atomic.Pointer[[]page.Alert]
}

func newBell(o shopOptions, calls *deliver.Deliverer) (*bell, error) {
	eval, err := alerts.NewEvaluator(alerts.Table(), o.zone)
	if err != nil {
		return nil, fmt.Errorf("set up the alerts: %w", err)
	}
	if calls != nil {
		eval.Resume(calls.Standing())
	}
	return &bell{eval: eval, log: o.log, calls: calls, watch: o.watch}, nil
}

func (b *bell) step(s *model.Snapshot) {
	changes := b.eval.Step(s)
	for _, c := range changes {
		b.log.Info("alert", "name", c.Alert.Name, "ended", c.Ended, "labels", c.Alert.Labels, "says", c.Alert.Description)
	}
	active := b.eval.Active()
	if b.calls != nil && s.Outlook != nil {
		b.calls.Tell(deliver.State{At: s.Outlook.At, Trusted: s.Health.ClockTrusted, Shifts: s.Health.Shifts, Active: active})
	}
	var shown []page.Alert
	for _, a := range active {
		shown = append(shown, page.Alert{
			Name: a.Name, Severity: string(a.Severity), Summary: a.Summary, Since: a.Since,
			Description: a.Description + " " + a.WhatToDo,
		})
	}
	b.now.Store(&shown)
	if b.watch != nil {
		b.watch(s, changes)
	}
}

func (b *bell) active() []page.Alert {
	if p := b.now.Load(); p != nil {
		return *p
	}
	return nil
}

// logger writes to w as the config asks.
func logger(w io.Writer, level slog.Level, json bool) *slog.Logger {
	opts := &slog.HandlerOptions{Level: level}
	if json {
		return slog.New(slog.NewJSONHandler(w, opts))
	}
	return slog.New(slog.NewTextHandler(w, opts))
}
