package sensors

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"time"
)

// Polled is one probe that a [Poller] asks.
type Polled struct {
	Name     string        // the maker's name for the probe
	Every    time.Duration // between measurements, on the Poller's clock; 60 s when zero
	Deadline time.Duration // how long one may take, in real time; 10 s when zero
	Open     Opener
	Limits   Limits // what is believable at its place
	Correct  Correction
}

// Poller is the [Source] that asks the probes of one bus, one after the other and never two at once.
// A probe that fails or gives a doubtful value is closed and opened afresh, after 1, 2, 4 ... 60 s.
// A measurement that blocks in the kernel cannot be ended from here; it is reported as [Timeout] and
// nothing else is started on the bus until it returns.
//
// A reading's instant is what the clock showed when its measurement began. When the clock is set back,
// so are the instants; the rhythm goes on undisturbed.
type Poller struct {
	Clock  Clock // RealClock when nil
	Probes []Polled
	Log    *slog.Logger // says when a probe fails and when it is back; silent when nil
	Seed   uint64       // of the ±20 % by which the waits vary, so that several buses do not fall into step
}

const (
	defaultEvery    = time.Minute
	defaultDeadline = 10 * time.Second
	confirmAfter    = time.Second // between a first value that needs another and that other
	goodsToForget   = 3           // good samples in a row after which failures are forgotten
	longestBackOff  = time.Minute
	jitter          = 0.2
)

// Run polls until ctx ends and then closes the probes. With no probes it returns at once.
func (p *Poller) Run(ctx context.Context, out chan<- Reading) error {
	b, err := p.begin()
	if err != nil {
		return err
	}
	defer b.close()
	for len(b.targets) > 0 {
		b.catchUp()
		t := b.next()
		if err := b.clock.Wait(ctx, t.due); err != nil {
			return err
		}
		r := b.poll(ctx, t)
		if err := ctx.Err(); err != nil {
			return err
		}
		select {
		case out <- r.Rounded():
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

func (p *Poller) begin() (*bus, error) {
	b := &bus{clock: p.Clock, log: p.Log, rand: rand.New(rand.NewPCG(p.Seed, 0))}
	if b.clock == nil {
		b.clock = RealClock{}
	}
	if b.log == nil {
		b.log = slog.New(slog.DiscardHandler)
	}
	now := b.clock.Now()
	for _, probe := range p.Probes {
		if probe.Name == "" || probe.Open == nil || probe.Every < 0 || probe.Deadline < 0 {
			return nil, fmt.Errorf("poll probe %q: it needs a name, a way to open it and no negative times", probe.Name)
		}
		if probe.Every == 0 {
			probe.Every = defaultEvery
		}
		if probe.Deadline == 0 {
			probe.Deadline = defaultDeadline
		}
		b.targets = append(b.targets, &target{Polled: probe, judge: NewJudge(probe.Limits), begin: now, due: now})
	}
	return b, nil
}

// bus is the running state of a Poller.
type bus struct {
	clock   Clock
	log     *slog.Logger
	rand    *rand.Rand
	targets []*target
	hung    *hung // the call that did not return, if any
}

// target is a probe and what has become of it. Instants keep the clock's monotonic part, so a step of
// the wall clock does not disturb the rhythm.
type target struct {
	Polled
	judge  *Judge
	probe  Probe // nil while closed
	stale  bool  // the open probe gave a doubtful value and is to be replaced
	begin  time.Time
	due    time.Time
	misses int // failures not yet forgotten
	goods  int // good samples since the last failure
}

// catchUp asks probes at once whose turn lies further ahead than it ever does: the clock was set back.
func (b *bus) catchUp() {
	now := b.clock.Now()
	for _, t := range b.targets {
		if longest := time.Duration(float64(max(t.Every, longestBackOff)) * (1 + jitter)); t.due.Sub(now) > longest {
			t.due = now
		}
	}
}

// next returns the probe that is due first; among equals the one named first, so that the probes of
// one round follow each other.
func (b *bus) next() *target {
	first := b.targets[0]
	for _, t := range b.targets[1:] {
		if t.due.Before(first.due) {
			first = t
		}
	}
	return first
}

// poll makes one attempt and sets when the next is due.
func (b *bus) poll(ctx context.Context, t *target) Reading {
	o := b.attempt(ctx, t)
	if ctx.Err() != nil {
		return Reading{}
	}
	if o.err != nil {
		b.failed(t, o.err)
		return Failed(t.Name, o.at.UTC(), o.err)
	}
	r := Reading{Probe: t.Name, At: o.at.UTC()}
	r.Temp, r.Humidity = t.Correct.apply(t.judge.Judge(o.at, o.sample))
	switch f := doubt(r); f {
	case NoFault:
		b.succeeded(t)
	case Unsure:
		t.due = b.clock.Now().Add(min(confirmAfter, t.Every))
	default:
		t.stale = true
		b.failed(t, &FaultError{Fault: f, Doing: fmt.Sprintf("probe %q measured %g °C, humidity %g", t.Name, o.sample.TempC, o.sample.Humidity)})
	}
	return r
}

// doubt returns the fault for which the probe should be opened afresh, or [Unsure] if it only needs
// to be asked again.
func doubt(r Reading) Fault {
	worst := NoFault
	for _, m := range [...]Measure{r.Temp, r.Humidity} {
		switch {
		case m.Fault == NoFault:
		case worst == NoFault || worst == Unsure:
			worst = m.Fault
		}
	}
	return worst
}

func (b *bus) succeeded(t *target) {
	if t.goods++; t.goods == goodsToForget && t.misses > 0 {
		b.log.Info("probe is back", "probe", t.Name, "failures", t.misses)
		t.misses = 0
	}
	now := b.clock.Now()
	since := now.Sub(t.begin) % t.Every
	if since < 0 { // the clock was set back to before the beginning
		since += t.Every
	}
	t.due = now.Add(t.Every - since)
}

func (b *bus) failed(t *target, err error) {
	if t.misses == 0 {
		b.log.Warn("probe fails", "probe", t.Name, "fault", FaultOf(err).String(), "err", err)
	}
	t.goods = 0
	t.misses++
	wait := float64(backOff(t.misses, t.Every))
	t.due = b.clock.Now().Add(time.Duration(wait * (1 + jitter*(2*b.rand.Float64()-1))))
}

// backOff returns the wait after a number of failures: doubling from a second up to a minute, or to the
// probe's own interval where that is longer.
func backOff(misses int, every time.Duration) time.Duration {
	if misses > 6 {
		return max(longestBackOff, every)
	}
	return time.Duration(math.Exp2(float64(misses-1))) * time.Second
}
