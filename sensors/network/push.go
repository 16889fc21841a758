package network

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"pourward/sensors"
)

// MaxBatch is the most readings that one request may hold.
const MaxBatch = 256

// PushOptions say who may push.
type PushOptions struct {
	// Token may speak for every probe; "" when each has its own. It is given in clear, at least 16
	// characters, or as "sha256:" and the 64 hexadecimal digits of its hash.
	Token string

	Queue  int // how many readings may wait for the shop loop; 1024 when zero, more than [MaxBatch]
	Probes []PushProbe
	Clock  sensors.Clock // RealClock when nil
	Log    *slog.Logger  // silent when nil
}

// PushProbe is one probe whose readings are pushed.
type PushProbe struct {
	Name         string // the maker's name for the probe
	Token        string // may speak for this probe alone; given like the shared one; "" when there is none
	TempUnit     TempUnit
	HumidityUnit HumidityUnit // like TempUnit, to be told in every request when zero

	// TrustTime stamps the readings with the time they carry, not with that of their arrival. A time
	// more than a minute ahead of the shop's clock, or older than Oldest, is refused all the same.
	TrustTime bool
	Oldest    time.Duration // 24 h when zero

	// Recorded is the instant of the probe's last reading on record. What arrives within a moment of it
	// is stamped after it. Zero when there is none.
	Recorded time.Time

	Limits sensors.Limits
}

// Push is the [sensors.Source] of readings that are pushed, and the [http.Handler] they are pushed to.
// Make it with [NewPush]. It forgets the tokens and keeps their hashes.
type Push struct {
	clock  sensors.Clock
	ledger *ledger
	shared *token
	probes map[string]*pusher
	queue  chan sensors.Reading

	mu    sync.Mutex // of all that follows, of the inlets, and to send on queue
	ended bool
	end   chan struct{} // closed when the run ends
}

// pusher is one probe.
type pusher struct {
	PushProbe
	token *token // nil when it has none of its own
	inlet inlet
}

var _ sensors.Source = (*Push)(nil)

// NewPush returns a source, or an error that says what the options lack.
func NewPush(o PushOptions) (*Push, error) {
	clock, log := withDefaults(o.Clock, o.Log)
	p := &Push{clock: clock, ledger: newLedger(clock, log), probes: map[string]*pusher{}}
	var errs []error
	want := func(ok bool, format string, args ...any) {
		if !ok {
			errs = append(errs, fmt.Errorf(format, args...))
		}
	}
	var err error
	p.shared, err = newToken(o.Token)
	want(err == nil, "shared token: %w", err)
	if o.Queue == 0 {
		o.Queue = queued
	}
	want(o.Queue > MaxBatch, "the queue must have room for more than %d readings", MaxBatch)
	want(len(o.Probes) > 0, "no probe is given")
	for _, probe := range o.Probes {
		pr, err := newPusher(probe)
		want(err == nil, "probe %q: %w", probe.Name, err)
		want(p.probes[probe.Name] == nil, "probe %q is given twice", probe.Name)
		want(o.Token != "" || probe.Token != "", "probe %q: there is no token, so anyone could speak for it", probe.Name)
		p.probes[probe.Name] = pr
	}
	if err := errors.Join(errs...); err != nil {
		return nil, fmt.Errorf("set up push: %w", err)
	}
	p.queue, p.end = make(chan sensors.Reading, o.Queue), make(chan struct{})
	return p, nil
}

func newPusher(o PushProbe) (*pusher, error) {
	if o.Oldest == 0 {
		o.Oldest = defaultOldest
	}
	t, err := newToken(o.Token)
	switch {
	case err != nil:
		return nil, err
	case o.Name == "":
		return nil, errors.New("it has no name")
	case o.Oldest < 0:
		return nil, errors.New("durations cannot be negative")
	case o.TempUnit > Kelvin || o.HumidityUnit > Ratio:
		return nil, errors.New("the unit is unknown")
	}
	o.Token = ""
	return &pusher{PushProbe: o, token: t, inlet: inlet{probe: o.Name, trustTime: o.TrustTime, oldest: o.Oldest, recorded: o.Recorded,
		judge: sensors.NewJudge(o.Limits), memory: memory{most: MaxBatch}}}, nil
}

// Refused returns how often what was refused, by probe and refusal, since the source was made.
func (p *Push) Refused() []Count { return p.ledger.counts() }

// Run delivers what is pushed until ctx ends. Requests that come before it runs wait for it; those that
// come afterwards are answered with 503.
func (p *Push) Run(ctx context.Context, out chan<- sensors.Reading) error {
	p.begin()
	defer p.finish()
	return forward(ctx, p.queue, out)
}

func (p *Push) begin() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ended {
		p.ended, p.end = false, make(chan struct{})
	}
}

func (p *Push) finish() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.ended = true
	close(p.end)
}

// taken says what became of the readings of a request.
type taken struct {
	Taken int `json:"taken"` // by the shop loop
	Known int `json:"known"` // taken before

	receipt *sensors.Receipt
	end     <-chan struct{} // closed when there will be none any more
}

// take queues all readings of a request, or none, and a receipt after them.
func (p *Push) take(batch []pushed, safe bool) (taken, *refused) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.clock.Now()
	if p.ended || cap(p.queue)-len(p.queue) < len(batch)+1 {
		r := refuse(Full, "the shop cannot take readings at the moment; send them again in a few seconds")
		p.ledger.note("", r)
		return taken{}, r
	}
	if r := p.check(now, batch); r != nil {
		return taken{}, r
	}
	done := taken{receipt: sensors.NewReceipt(safe), end: p.end}
	for _, b := range batch {
		reading, r := b.to.inlet.admit(now, b.arrival)
		if r != nil {
			p.ledger.note(b.to.Name, r)
			done.Known++
			continue
		}
		p.queue <- reading // there is room, and nobody else sends
		done.Taken++
	}
	p.queue <- sensors.Reading{Receipt: done.receipt}
	return done, nil
}

// check tries the times of all readings, as if those before had been taken.
func (p *Push) check(now time.Time, batch []pushed) *refused {
	last := map[*pusher]time.Time{}
	defer func() {
		for to, at := range last {
			to.inlet.last = at
		}
	}()
	for i, b := range batch {
		in := &b.to.inlet
		if in.memory.has(now, b.arrival) {
			continue
		}
		at, r := in.instant(now, b.arrival)
		if r != nil {
			p.fail(now, b.to.Name, r)
			return refuse(r.kind, "reading %d, of probe %q: %s", i+1, b.to.Name, r.why)
		}
		if _, kept := last[b.to]; !kept {
			last[b.to] = in.last
		}
		in.last = at
	}
	return nil
}

// fail counts a refusal and tells the probe as failed, if there is room for it.
func (p *Push) fail(now time.Time, probe string, r *refused) {
	if p.ledger.note(probe, r) && !p.ended && len(p.queue) < cap(p.queue) {
		p.queue <- r.failure(probe, now)
	}
}
