package deliver

import (
	"context"
	"time"
)

// sender sends one message to one target.
type sender interface {
	// send fails with a refusal where it is certain that the target did not take the message.
	send(context.Context, *Message) error
}

// messages are the rounds of a target that is sent messages.
type messages struct{ sender sender }

func (m *messages) round(ctx context.Context, d *Deliverer, target string) (n int, rest time.Duration, err error) {
	parcels, rest := d.prepare(ctx, target)
	for _, p := range parcels {
		one := d.one(ctx, target, m.sender, p)
		if one == nil {
			n++
			continue
		}
		if err == nil {
			err = one
		}
		if how, _ := refused(one); !how.answered || ctx.Err() != nil {
			break
		}
	}
	return n, rest, err
}

// prepare lists what must be sent now: first that of which nobody knows whether it was taken.
func (d *Deliverer) prepare(ctx context.Context, target string) ([]*parcel, time.Duration) {
	d.disk.Lock()
	defer d.disk.Unlock()
	now := d.opts.Now()
	d.mu.Lock()
	quiet, rest := d.quietNow(now)
	fresh, c := d.book.plan(target, quiet, now, d.opts.Zone)
	var out []*parcel
	for _, p := range d.book.unsure[target] {
		if !quiet || p.Message.urgent() {
			out = append(out, p)
		}
	}
	d.mu.Unlock()
	d.save(ctx, c, nil)
	return append(out, fresh...), rest
}

// one sends a message. It is on disk before it goes out, so that it goes out with the same key when the daemon
// is killed meanwhile.
func (d *Deliverer) one(ctx context.Context, target string, by sender, p *parcel) error {
	d.disk.Lock()
	d.save(ctx, changes{}, &onTheWay{target: target, parcel: p})
	d.disk.Unlock()

	within, cancel := attempt(ctx)
	err := by.send(within, &p.Message)
	cancel()

	d.disk.Lock()
	defer d.disk.Unlock()
	way := &onTheWay{target: target, parcel: p, settled: true}
	how, certain := refused(err)
	var c changes
	d.mu.Lock()
	was := d.book.forget(target, p)
	switch {
	case err == nil:
		c = d.book.sent(target, p)
	case !certain, was && !how.forGood:
		// It may have been taken, now or at an earlier attempt: it keeps its key.
		d.book.unsure[target] = append(d.book.unsure[target], p)
		way = nil
	}
	d.mu.Unlock()
	d.save(ctx, c, way)
	return err
}
