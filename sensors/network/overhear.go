package network

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"net"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
)

// OverhearOptions say which broker to listen to, and for how long.
type OverhearOptions struct {
	Broker         string   // as in [MQTTOptions]
	TLS            TLSFiles // for a tls address
	User, Password string   // "" when the broker asks for none
	Filters        []string // of topics; all that anyone may listen to when empty
	For            time.Duration
}

// Overheard is a topic on which a message came.
type Overheard struct {
	Topic    string
	Payload  []byte // of the newest message, at most [MaxPayload] of it
	Messages int    // that came
	Retained bool   // the broker had kept the newest, and it may be old
}

// MostOverheard is how many topics are told apart; messages of more are left out.
const MostOverheard = 1000

// Overhear listens to a broker to find out what is there, and returns its topics in their order. Nothing
// is published. When ctx ends before the time is over, what was heard so far comes with its error.
func Overhear(ctx context.Context, o OverhearOptions) ([]Overheard, error) {
	conn, err := o.dial(ctx)
	if err != nil {
		return nil, fmt.Errorf("listen to MQTT broker %s: %w", withoutPassword(o.Broker), err)
	}
	defer conn.Close()
	e := &ear{topics: map[string]Overheard{}, lost: make(chan error, 1)}
	if err := e.listen(ctx, conn, o); err != nil {
		return e.heard(), fmt.Errorf("listen to MQTT broker %s: %w", withoutPassword(o.Broker), err)
	}
	return e.heard(), nil
}

// dial checks the options and opens the connection.
func (o *OverhearOptions) dial(ctx context.Context) (net.Conn, error) {
	address, encrypted, err := brokerAddress(o.Broker)
	errs := []error{err, o.TLS.check()}
	if len(o.Filters) == 0 {
		o.Filters = []string{"#"}
	}
	for _, f := range o.Filters {
		if err := checkFilter(f); err != nil {
			errs = append(errs, fmt.Errorf("filter %q: %w", f, err))
		}
	}
	if o.Password != "" && o.User == "" {
		errs = append(errs, errors.New("a password needs a user"))
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	if !encrypted {
		return dial(ctx, address, nil)
	}
	return dial(ctx, address, &o.TLS)
}

// ear is a connection that only listens.
type ear struct {
	mu     sync.Mutex
	topics map[string]Overheard
	lost   chan error // holds one
}

// listen listens until the time is over.
func (e *ear) listen(ctx context.Context, conn net.Conn, o OverhearOptions) error {
	client := paho.NewClient(paho.ClientConfig{
		Conn: packets.NewThreadSafeConn(guarded(conn)), PacketTimeout: packetTimeout,
		OnPublishReceived:  []func(paho.PublishReceived) (bool, error){e.take},
		OnClientError:      e.end,
		OnServerDisconnect: func(d *paho.Disconnect) { e.end(errors.New("the broker ends the connection: " + reason(d.ReasonCode))) },
	})
	limited, cancel := context.WithTimeout(ctx, connectTimeout)
	defer cancel()
	if err := o.greet(limited, client); err != nil {
		return err
	}
	wanted := &paho.Subscribe{}
	for _, f := range o.Filters {
		wanted.Subscriptions = append(wanted.Subscriptions, paho.SubscribeOptions{Topic: f})
	}
	answer, err := client.Subscribe(limited, wanted)
	switch {
	case answer != nil && len(answer.Reasons) > 0 && slices.Max(answer.Reasons) >= 0x80:
		return fmt.Errorf("the broker refuses: %s; name topics that this user may listen to", reason(slices.Max(answer.Reasons)))
	case err != nil:
		return err
	}
	over := time.NewTimer(o.For)
	defer over.Stop()
	select {
	case <-over.C:
		return client.Disconnect(&paho.Disconnect{})
	case err := <-e.lost:
		return err
	case <-ctx.Done():
		return errors.Join(ctx.Err(), client.Disconnect(&paho.Disconnect{}))
	}
}

// greet makes the connection one of MQTT.
func (o *OverhearOptions) greet(ctx context.Context, client *paho.Client) error {
	packet, inFlight := uint32(mostPacket), uint16(queued)
	answer, err := client.Connect(ctx, &paho.Connect{
		CleanStart: true, KeepAlive: uint16(defaultKeepAlive / time.Second),
		UsernameFlag: o.User != "", Username: o.User, PasswordFlag: o.Password != "", Password: []byte(o.Password),
		Properties: &paho.ConnectProperties{MaximumPacketSize: &packet, ReceiveMaximum: &inFlight},
	})
	if answer != nil && answer.ReasonCode >= 0x80 {
		return fmt.Errorf("the broker refuses: %s", reason(answer.ReasonCode))
	}
	return err
}

// end keeps why the connection was lost; the client may say it several times.
func (e *ear) end(err error) {
	select {
	case e.lost <- err:
	default:
	}
}

// take keeps a message.
func (e *ear) take(p paho.PublishReceived) (bool, error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	topic := strings.Clone(p.Packet.Topic)
	before, known := e.topics[topic]
	if !known && len(e.topics) == MostOverheard {
		return true, nil
	}
	e.topics[topic] = Overheard{
		Topic: topic, Payload: slices.Clone(p.Packet.Payload[:min(len(p.Packet.Payload), MaxPayload)]),
		Messages: before.Messages + 1, Retained: p.Packet.Retain,
	}
	return true, nil
}

// heard returns what came, by topic.
func (e *ear) heard() []Overheard {
	e.mu.Lock()
	defer e.mu.Unlock()
	var out []Overheard
	for _, topic := range slices.Sorted(maps.Keys(e.topics)) {
		out = append(out, e.topics[topic])
	}
	return out
}
