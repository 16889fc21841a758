package network

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"net"
	"net/url"
	"sync"
	"time"

	"github.com/eclipse/paho.golang/autopaho"
	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
)

const (
	firstWait      = 500 * time.Millisecond // before the second attempt to connect
	longestWait    = 10 * time.Second
	jitter         = 0.2
	stable         = 10 * time.Second // a connection that lasted so long was none that failed
	connectTimeout = 10 * time.Second
	packetTimeout  = 5 * time.Second
	partingTimeout = 2 * time.Second // for a farewell to the broker
)

// line is what the client's callbacks, which must not block, say of the connection.
type line struct {
	ctx     context.Context // of the run
	changed chan struct{}   // holds one signal

	mu      sync.Mutex
	up      context.Context // ends when the connection does; nil while there is none
	cut     context.CancelFunc
	cause   error     // why there is none
	since   time.Time // when it last came up
	flights int       // connections in a row that did not last
}

func newLine(ctx context.Context) *line {
	return &line{ctx: ctx, changed: make(chan struct{}, 1), cut: func() {}}
}

// connected notes that the connection has come up.
func (l *line) connected() {
	l.mu.Lock()
	l.since = time.Now()
	l.up, l.cut = context.WithCancel(l.ctx)
	l.mu.Unlock()
	l.signal()
}

// lost notes that the connection has gone, or did not come about.
func (l *line) lost(cause error) {
	l.mu.Lock()
	l.cut()
	switch {
	case !l.since.IsZero() && time.Since(l.since) < stable:
		l.flights++
		l.since = time.Time{}
	case !l.since.IsZero():
		l.flights, l.since = 0, time.Time{}
	}
	l.up, l.cause = nil, cause
	l.mu.Unlock()
	l.signal()
}

func (l *line) signal() {
	select {
	case l.changed <- struct{}{}:
	default:
	}
}

func (l *line) state() (up context.Context, cause error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.up, l.cause
}

// wait returns how long to wait before an attempt to connect; the first after a sound connection is 0.
// A connection that the broker ends at once counts like a failed attempt: two clients of the same id
// would else throw each other out without end.
func (l *line) wait(attempt int) time.Duration {
	l.mu.Lock()
	n := attempt + l.flights
	l.mu.Unlock()
	return backOff(n, firstWait, longestWait)
}

// backOff returns the wait before attempt n: none before attempt 0, then doubling from first to longest,
// spread by ±20 % so that those who lost the same server do not return to it at once.
func backOff(n int, first, longest time.Duration) time.Duration {
	if n <= 0 {
		return 0
	}
	wait := min(float64(first)*math.Exp2(float64(n-1)), float64(longest))
	return time.Duration(wait * (1 + jitter*(2*rand.Float64()-1)))
}

// connect starts to keep the connection. The function it returns ends that and waits for it.
func (s *station) connect(ctx context.Context) (end func(), err error) {
	ctx, cancel := context.WithCancel(ctx)
	s.line = newLine(ctx)
	cm, err := autopaho.NewConnection(ctx, s.clientConfig())
	if err != nil {
		cancel()
		return nil, fmt.Errorf("set up MQTT broker %s: %w", s.opts.Broker, err)
	}
	var kept sync.WaitGroup
	kept.Go(func() { s.keep(ctx, cm) })
	kept.Go(func() { s.acknowledge(ctx) })
	return func() {
		cancel()
		kept.Wait()
		select {
		case <-cm.Done():
		case <-time.After(partingTimeout):
		}
	}, nil
}

func (s *station) clientConfig() autopaho.ClientConfig {
	return autopaho.ClientConfig{
		ServerUrls:            []*url.URL{{Scheme: "tcp", Host: s.address}},
		KeepAlive:             uint16(s.opts.KeepAlive / time.Second),
		SessionExpiryInterval: uint32(s.opts.KeepFor / time.Second),
		ConnectTimeout:        connectTimeout,
		ReconnectBackoff:      s.line.wait,
		AttemptConnection:     s.attempt,
		ConnectUsername:       s.opts.User,
		ConnectPassword:       []byte(s.opts.Password),
		ConnectPacketBuilder:  s.connectPacket,
		OnConnectionUp:        func(*autopaho.ConnectionManager, *paho.Connack) { s.line.connected() },
		OnConnectionDown: func() bool {
			s.line.lost(errors.New("the connection was lost"))
			return true
		},
		OnConnectError: func(err error) { s.line.lost(refusedBy(err)) },
		ClientConfig: paho.ClientConfig{
			ClientID:                   s.opts.ClientID,
			PacketTimeout:              packetTimeout,
			OnPublishReceived:          []func(paho.PublishReceived) (bool, error){s.received},
			EnableManualAcknowledgment: true,
			OnServerDisconnect: func(d *paho.Disconnect) {
				s.opts.Log.Warn("MQTT broker ends the connection", "broker", s.opts.Broker, "reason", reason(d.ReasonCode))
			},
		},
	}
}

// connectPacket bounds what the broker may send, and drops what an earlier connection left behind unless
// messages are to be kept.
func (s *station) connectPacket(c *paho.Connect, _ *url.URL) (*paho.Connect, error) {
	if c.Properties == nil {
		c.Properties = &paho.ConnectProperties{}
	}
	packet, inFlight := uint32(mostPacket), uint16(queued)
	c.Properties.MaximumPacketSize, c.Properties.ReceiveMaximum = &packet, &inFlight
	c.CleanStart = s.opts.KeepFor == 0
	return c, nil
}

// attempt opens the connection to the broker.
func (s *station) attempt(ctx context.Context, _ autopaho.ClientConfig, _ *url.URL) (net.Conn, error) {
	var files *TLSFiles
	if s.encrypted {
		files = &s.opts.TLS
	}
	conn, err := dial(ctx, s.address, files)
	if err != nil {
		return nil, err
	}
	return packets.NewThreadSafeConn(guarded(conn)), nil
}

// keep subscribes whenever the connection has come up, and tells of it when it is away.
func (s *station) keep(ctx context.Context, cm *autopaho.ConnectionManager) {
	again := time.NewTimer(time.Hour)
	defer again.Stop()
	said := ""
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.line.changed:
		case <-again.C:
		}
		again.Stop()
		switch up, cause := s.line.state(); {
		case ctx.Err() != nil:
			return
		case up != nil:
			said = ""
			if wait := s.subscribe(up, cm); wait > 0 {
				again.Reset(wait)
			}
		case cause != nil:
			s.connected.Store(false)
			if said != cause.Error() {
				said = cause.Error()
				s.opts.Log.Warn("MQTT broker is away", "broker", s.opts.Broker, "err", cause)
			}
			s.away(cause)
		}
	}
}

// refusedBy takes from an error of the client what only repeats the address, and adds what the broker's
// number means.
func refusedBy(err error) error {
	var no *autopaho.ConnackError
	if errors.As(err, &no) {
		return fmt.Errorf("the broker refuses: %s %s", reason(no.ReasonCode), no.Reason)
	}
	if cause := errors.Unwrap(err); cause != nil {
		return cause
	}
	return err
}
