package deliver

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"pourward/alerts"
	"pourward/sensors"
)

// Channel is a way out of the shop.
type Channel string

// The channels.
const (
	ByAlertmanager Channel = "alertmanager"
	ByMail         Channel = "mail"
	ByWebhook      Channel = "webhook"
)

// Options say who is told. Names of targets are unique among all of them.
type Options struct {
	Shop string // its name; the same for every daemon on the same probes
	Zone *time.Location
	File string // of the books; empty: they are kept in memory alone

	Alertmanagers []Alertmanager
	Mails         []Mail
	Webhooks      []Webhook
	Quiet         *Quiet // nil: there are none; an Alertmanager has its own

	Now func() time.Time // the shop clock
	Log *slog.Logger
}

// TLS gives what an encrypted connection goes by; it is asked at every connection. nil where none is encrypted.
type TLS func() (*tls.Config, error)

// State is what fires at an instant.
type State struct {
	At      time.Time       // by the shop clock
	Trusted bool            // the time of day is known: else no hours are quiet
	Shifts  []sensors.Shift // of the shop clock's labels in this run, in order
	Active  []alerts.Alert
}

// Deliverer tells everyone. Its methods may be called by any goroutine.
type Deliverer struct {
	opts     Options
	couriers []*courier
	news     chan struct{} // holds a token while something in told waits

	tellMu sync.Mutex // guards what follows; held for no longer than it takes to copy
	told   []State    // not in the books yet

	mu      sync.Mutex // guards what follows
	book    *book
	trusted bool
	failed  error // why the books could not be written last; nil when they could

	disk  sync.Mutex // one writer at a time; taken before mu
	store *store     // nil: in memory alone
}

// Open reads the books and sets up a courier for each target. It fails when the options make no sense, not
// when the books cannot be had: then it goes on in memory, and says so in the log.
func Open(ctx context.Context, o Options) (*Deliverer, error) {
	couriers, err := hire(o)
	if err != nil {
		return nil, err
	}
	return open(ctx, o, couriers)
}

// open sets up a deliverer with its couriers.
func open(ctx context.Context, o Options, couriers []*courier) (*Deliverer, error) {
	d := &Deliverer{opts: o, couriers: couriers, news: make(chan struct{}, 1), trusted: true}
	var targets []string
	for _, c := range d.couriers {
		targets = append(targets, c.target)
	}
	if len(slices.Compact(slices.Sorted(slices.Values(targets)))) < len(targets) {
		return nil, fmt.Errorf("set up the messages: two targets have one name, of %q", targets)
	}
	d.book = newBook(o.Shop, targets)
	if o.File == "" {
		return d, nil
	}
	if err := d.openBooks(ctx); err != nil {
		d.failed, d.store = err, nil
		d.book = newBook(o.Shop, targets)
		o.Log.Error("what was told to whom is not kept on disk; a restart may tell it again", "why", err)
	}
	return d, ctx.Err()
}

func (d *Deliverer) openBooks(ctx context.Context) error {
	var aside error
	for range 2 {
		s, why, err := openStore(ctx, d.opts.File, aside != nil)
		if err != nil {
			return err
		}
		if why != nil {
			d.opts.Log.Error("the books of messages cannot be used and are set aside; what stands is told again", "why", why)
		}
		if err = s.load(ctx, d.book, d.opts.Now()); err == nil {
			d.store = s
			return nil
		}
		aside = err
		d.opts.Log.Error("the books of messages cannot be read and are set aside; what stands is told again", "why", err)
		d.book = newBook(d.opts.Shop, d.book.targets)
		if err := s.close(); err != nil {
			return err
		}
	}
	return aside
}

// Close closes the books. Run must have ended.
func (d *Deliverer) Close() error { return d.store.close() }

// Standing are the alerts that fire by the books, for [alerts.Evaluator.Resume].
func (d *Deliverer) Standing() []alerts.Alert {
	d.mu.Lock()
	defer d.mu.Unlock()
	var out []alerts.Alert
	for _, e := range d.book.standing() {
		out = append(out, e.alert)
	}
	return out
}

// mostTold is how many states may wait for the books. It is reached only when the disk stands still.
const mostTold = 512

// Tell takes what fires now. It never waits.
func (d *Deliverer) Tell(s State) {
	s.Active = slices.Clone(s.Active)
	d.tellMu.Lock()
	if n := len(d.told); n > 0 && (n >= mostTold || sameAlerts(d.told[n-1].Active, s.Active)) {
		d.told[n-1] = s
	} else {
		d.told = append(d.told, s)
	}
	d.tellMu.Unlock()
	select {
	case d.news <- struct{}{}:
	default:
	}
}

// sameAlerts reports whether the same alerts fire, whatever their words.
func sameAlerts(a, b []alerts.Alert) bool {
	return slices.EqualFunc(a, b, func(x, y alerts.Alert) bool {
		return x.Name == y.Name && maps.Equal(x.Labels, y.Labels)
	})
}

// Run tells everyone until ctx ends. What is being sent then has a moment to get through.
func (d *Deliverer) Run(ctx context.Context) error {
	var all sync.WaitGroup
	for _, c := range d.couriers {
		all.Go(func() { c.run(ctx, d) })
	}
	for ctx.Err() == nil {
		select {
		case <-d.news:
			d.takeNews(ctx)
		case <-ctx.Done():
		}
	}
	all.Wait()
	d.takeNews(context.WithoutCancel(ctx))
	return ctx.Err()
}

// takeNews puts what was told into the books and wakes the couriers.
func (d *Deliverer) takeNews(ctx context.Context) {
	d.tellMu.Lock()
	told := d.told
	d.told = nil
	d.tellMu.Unlock()
	d.disk.Lock()
	defer d.disk.Unlock()
	for _, s := range told {
		d.mu.Lock()
		moved, c := d.book.follow(s.Shifts), d.book.take(s.At, s.Active)
		d.trusted = s.Trusted
		d.mu.Unlock()
		d.save(ctx, moved, nil)
		d.save(ctx, c, nil)
	}
	for _, c := range d.couriers {
		c.wake()
	}
}

// save writes what changed. The caller holds disk. A failure is told in the log, once.
func (d *Deliverer) save(ctx context.Context, c changes, way *onTheWay) {
	if d.store == nil || c.empty() && way == nil {
		return
	}
	err := d.store.save(context.WithoutCancel(ctx), c, way)
	d.mu.Lock()
	was := d.failed
	d.failed = err
	d.mu.Unlock()
	if err != nil && was == nil {
		d.opts.Log.Error("what was told to whom cannot be written; a restart may tell it again", "why", err)
	}
}

// quietNow reports whether only critical alerts are told now, and how long it is at most until that may change.
func (d *Deliverer) quietNow(now time.Time) (quiet bool, change time.Duration) {
	if !d.trusted {
		return false, lookAgain
	}
	return d.opts.Quiet.Contains(now), d.opts.Quiet.change(now, lookAgain)
}

// Health is how the messages to one target stand.
type Health struct {
	Target  string
	Channel Channel
	Waiting int           // alerts and ends of alerts it must still hear, those left out that quiet hours hold back
	Held    int           // those that quiet hours hold back
	Oldest  time.Duration // for how long the one that waits longest does; 0 when none does
	Sent    uint64        // messages it took in this run
	Failed  uint64        // attempts that failed in this run
	Given   uint64        // alerts and ends given up untold in this run
	Err     string        // why the last attempt failed; empty when it did not
}

// Health tells how messages stand, target by target, in the order of the options.
func (d *Deliverer) Health() []Health {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := make([]Health, 0, len(d.couriers))
	for _, c := range d.couriers {
		h := c.health()
		h.Target, h.Channel, h.Given = c.target, c.channel, d.book.given[c.target]
		for _, e := range d.book.episodes {
			s := e.open[c.target]
			switch {
			case s == nil || e.next(s) == "" || s.ended:
			case s.held:
				h.Held++
			default:
				h.Waiting++
				h.Oldest = max(h.Oldest, time.Since(s.due))
			}
		}
		out = append(out, h)
	}
	return out
}

// hire makes the couriers.
func hire(o Options) (out []*courier, err error) {
	var errs []error
	for _, a := range o.Alertmanagers {
		out = append(out, newCourier(a.Name, ByAlertmanager, &standing{newPoster(a, o.Now)}, o.Log))
	}
	for _, m := range o.Mails {
		s, err := newMailer(m)
		errs = append(errs, err)
		out = append(out, newCourier(m.Name, ByMail, &messages{s}, o.Log))
	}
	for _, w := range o.Webhooks {
		s, err := newCaller(w)
		errs = append(errs, err)
		out = append(out, newCourier(w.Name, ByWebhook, &messages{s}, o.Log))
	}
	return out, errors.Join(errs...)
}
