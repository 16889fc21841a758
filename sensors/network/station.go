package network

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"github.com/eclipse/paho.golang/paho"

	"pourward/sensors"
)

// station is a running [MQTT]. Its messages are taken one after the other.
type station struct {
	*MQTT
	line     *line
	queue    chan sensors.Reading
	probes   []*listener
	topics   map[string][]*listener // by topic of their messages
	watches  map[string][]*listener // by topic of their availability
	unpaid   chan unpaid
	outage   atomic.Bool     // everyone has been told that the broker is away
	finished <-chan struct{} // closed when the run ends
}

// listener is one probe of a station.
type listener struct {
	MQTTProbe
	form  form
	off   path
	inlet inlet
}

// queued is how many readings may wait for the shop loop. When there are more, messages wait at the broker.
const queued = 1024

func newStation(m *MQTT) *station {
	s := &station{MQTT: m, queue: make(chan sensors.Reading, queued), unpaid: make(chan unpaid, queued),
		topics: map[string][]*listener{}, watches: map[string][]*listener{}}
	for i, p := range m.opts.Probes {
		l := &listener{MQTTProbe: p, form: m.forms[i], off: m.off[i]}
		l.inlet = inlet{probe: p.Name, trustTime: p.TrustTime, fresh: p.Fresh, oldest: p.Oldest, recorded: p.Recorded,
			judge: sensors.NewJudge(p.Limits), memory: memory{most: mqttRemember}}
		s.probes = append(s.probes, l)
		s.topics[p.Topic] = append(s.topics[p.Topic], l)
		if t := p.Availability.Topic; t != "" {
			s.watches[t] = append(s.watches[t], l)
		}
	}
	return s
}

// run keeps the connection and hands on what comes by it.
func (s *station) run(ctx context.Context, out chan<- sensors.Reading) error {
	s.finished = ctx.Done()
	ended, err := s.connect(ctx)
	if err != nil {
		return err
	}
	defer func() {
		s.connected.Store(false)
		ended()
	}()
	return forward(ctx, s.queue, out)
}

// forward hands on what is queued until ctx ends.
func forward(ctx context.Context, queue <-chan sensors.Reading, out chan<- sensors.Reading) error {
	for {
		select {
		case r := <-queue:
			select {
			case out <- r:
			case <-ctx.Done():
				return ctx.Err()
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// put queues a reading, waiting for room.
func (s *station) put(r sensors.Reading) {
	select {
	case s.queue <- r:
	case <-s.finished:
	}
}

// received takes a message. The client calls it for one after the other.
func (s *station) received(p paho.PublishReceived) (bool, error) {
	s.take(p.Packet.Topic, p.Packet.Payload, p.Packet.Retain, p.Packet.Duplicate())
	select {
	case s.unpaid <- unpaid{s.receipt(), p}:
	case <-s.finished:
	}
	return true, nil
}

// unpaid is a message that the broker waits to hear of.
type unpaid struct {
	receipt *sensors.Receipt
	message paho.PublishReceived
}

// receipt asks to be told when what was taken so far has arrived.
func (s *station) receipt() *sensors.Receipt {
	r := sensors.NewReceipt(s.opts.KeepFor > 0)
	s.put(sensors.Reading{Receipt: r})
	return r
}

// acknowledge tells the broker of one message after the other once what it said has arrived. While that
// cannot be made safe, the broker keeps the messages.
func (s *station) acknowledge(ctx context.Context) {
	for {
		select {
		case u := <-s.unpaid:
			for !s.arrived(ctx, u.receipt) {
				if wait(ctx, afterSilence) != nil {
					return
				}
				u.receipt = s.receipt()
			}
			_ = u.message.Client.Ack(u.message.Packet) // after a loss of the connection the broker sends it again
		case <-ctx.Done():
			return
		}
	}
}

func (s *station) arrived(ctx context.Context, r *sensors.Receipt) bool {
	select {
	case err := <-r.Settled():
		return err == nil
	case <-ctx.Done():
		return false
	}
}

// wait waits unless ctx ends.
func wait(ctx context.Context, d time.Duration) error {
	return sensors.RealClock{}.Wait(ctx, time.Now().Add(d))
}

func (s *station) take(topic string, payload []byte, retained, again bool) {
	now := s.opts.Clock.Now()
	for _, l := range s.watches[topic] {
		s.watch(now, l, payload)
	}
	probes := s.topics[topic]
	if len(probes) == 0 {
		if len(s.watches[topic]) == 0 {
			s.ledger.note("", refuse(Unknown, "no probe is set up for topic %.80q", topic))
		}
		return
	}
	doc, r := decode(payload)
	if r != nil && retained {
		r = refuse(Retained, "the broker kept this message, and it cannot be understood: %s", r.why)
	}
	for _, l := range probes {
		if r != nil {
			s.refuse(now, l, r)
			continue
		}
		s.listen(now, l, doc, retained, again)
	}
}

// listen makes a reading of what a message says of one probe.
func (s *station) listen(now time.Time, l *listener, doc any, retained, again bool) {
	a, faults := l.form.read(doc)
	a.retained, a.again = retained, again
	if !retained || !a.sample.At.IsZero() { // else nothing in it matters
		for _, r := range faults {
			s.refuse(now, l, r)
		}
		if a.empty() {
			return
		}
	}
	reading, r := l.inlet.admit(now, a)
	for r != nil && r.kind == Full && s.pause() { // what follows waits at the broker
		now = s.opts.Clock.Now()
		reading, r = l.inlet.admit(now, a)
	}
	if r != nil {
		s.refuse(now, l, r)
		return
	}
	s.put(reading)
}

// pause waits a little, and reports whether the run goes on.
func (s *station) pause() bool {
	select {
	case <-time.After(10 * time.Millisecond):
		return true
	case <-s.finished:
		return false
	}
}

// refuse counts a refusal and tells of the probe's failure, if it is one.
func (s *station) refuse(now time.Time, l *listener, r *refused) {
	if s.ledger.note(l.Name, r) && !r.kind.usual() {
		s.put(r.failure(l.Name, now))
	}
}

// watch takes a message on a probe's availability. A retained one counts as well: it says what is.
func (s *station) watch(now time.Time, l *listener, payload []byte) {
	word, r := l.word(payload)
	switch {
	case r != nil:
		s.ledger.note(l.Name, r)
	case slices.Contains(l.Availability.Off, word) && !l.inlet.off:
		l.inlet.off = true
		r = refuse(Off, "%s says %q; check the probe's supply and its network", l.Availability.Topic, word)
		s.ledger.note(l.Name, r)
		s.put(sensors.Failed(l.Name, now.UTC(), &sensors.FaultError{Fault: sensors.NoResponse,
			Doing: fmt.Sprintf("listen to probe %q", l.Name), Cause: r}))
	}
}

// word returns what a message on availability says.
func (l *listener) word(payload []byte) (string, *refused) {
	if l.Availability.Path == "" {
		return strings.TrimSpace(string(payload[:min(len(payload), 100)])), nil
	}
	doc, r := decode(payload)
	if r != nil {
		return "", r
	}
	switch v, _ := l.off.find(doc); v := v.(type) {
	case string:
		return v, nil
	case bool:
		return fmt.Sprint(v), nil
	case json.Number:
		return v.String(), nil
	}
	return "", refuse(Malformed, "there is no word at %s of %s", l.Availability.Path, l.Availability.Topic)
}

// away tells every probe as failed, once for each time the broker goes.
func (s *station) away(cause error) {
	if s.outage.Swap(true) {
		return
	}
	now := s.opts.Clock.Now().UTC()
	for _, l := range s.probes {
		s.put(sensors.Failed(l.Name, now, unreached(cause, "listen to probe %q at MQTT broker %s", l.Name, s.opts.Broker)))
	}
}
