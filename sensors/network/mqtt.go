package network

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"strings"
	"sync/atomic"
	"time"

	"pourward/sensors"
)

// MQTTOptions describe a broker and the probes whose messages it passes on.
type MQTTOptions struct {
	// Broker is its address: "tcp://host:1883", or "tls://host:8883" for an encrypted connection. The
	// port may be left out. It must speak MQTT 5 (OASIS standard, 2019).
	Broker         string
	TLS            TLSFiles // for a tls address
	User, Password string   // "" when the broker asks for none

	// ClientID must be unlike that of everyone else at the broker; the broker chooses one when empty.
	ClientID string

	// KeepFor is how long the broker is asked to keep messages while this source is away; not at all
	// when zero. A message that waited may only be stamped by its own time, so it needs probes whose
	// time is trusted, and a ClientID.
	KeepFor time.Duration

	// KeepAlive is how often a quiet connection is tested, in whole seconds; 20 s when zero. One that
	// is dead is noticed within twice that.
	KeepAlive time.Duration

	// Filters are subscribed to in place of the probes' topics, for brokers with many of them:
	// "shop/+/climate". Each topic must match one, and only one, else its messages come twice.
	Filters []string

	Probes []MQTTProbe
	Clock  sensors.Clock // RealClock when nil
	Log    *slog.Logger  // silent when nil
}

// MQTTProbe is one probe that sends messages.
type MQTTProbe struct {
	Name   string // the maker's name for the probe
	Topic  string // without wildcards; several probes may be in one message
	Format Format

	// TrustTime stamps the readings with the time in the message, not with that of its arrival. A time
	// more than a minute ahead of the shop's clock, or older than Oldest, is refused all the same.
	TrustTime bool
	Oldest    time.Duration // 24 h when zero

	// Fresh is how old a message may be that the broker retained; 2 min when zero.
	Fresh time.Duration

	// Recorded is the instant of the probe's last reading on record. What arrives within a moment of it
	// is stamped after it. Zero when there is none.
	Recorded time.Time

	Availability Availability
	Limits       sensors.Limits
}

// Availability is where a probe, or by its last will the broker for it, says that it is gone. The probe
// is told as failed at once then, and its next message must agree with those before or be confirmed.
type Availability struct {
	Topic string   // "" when there is none; several probes may share one
	Path  string   // of the word in a JSON message; "" when the message is the word
	Off   []string // words for gone; "offline" when empty
}

const (
	mqttPort, mqttsPort  = "1883", "8883"
	defaultKeepAlive     = 20 * time.Second
	mqttRemember         = 32 // readings by which a probe may lag behind with its repetitions
	longestTopic         = 65535
	longestSessionExpiry = 7 * 24 * time.Hour
)

// MQTT is the [sensors.Source] of readings that a broker passes on. Make it with [NewMQTT].
type MQTT struct {
	opts      MQTTOptions
	address   string // host:port
	encrypted bool
	forms     []form // one a probe
	off       []path // one a probe
	ledger    *ledger
	connected atomic.Bool
}

var _ sensors.Source = (*MQTT)(nil)

// NewMQTT returns a source, or an error that says what the options lack. The broker need not be there.
func NewMQTT(o MQTTOptions) (*MQTT, error) {
	m := &MQTT{}
	var errs []error
	var err error
	if m.address, m.encrypted, err = brokerAddress(o.Broker); err != nil {
		errs = append(errs, err)
	}
	o.Probes = append([]MQTTProbe(nil), o.Probes...)
	for i := range o.Probes {
		f, off, err := o.Probes[i].prepare()
		if err != nil {
			errs = append(errs, fmt.Errorf("probe %q: %w", o.Probes[i].Name, err))
		}
		m.forms, m.off = append(m.forms, f), append(m.off, off)
	}
	if err := errors.Join(append(errs, o.check()...)...); err != nil {
		return nil, fmt.Errorf("set up MQTT broker %s: %w", withoutPassword(o.Broker), err)
	}
	if o.KeepAlive == 0 {
		o.KeepAlive = defaultKeepAlive
	}
	o.Clock, o.Log = withDefaults(o.Clock, o.Log)
	m.opts, m.ledger = o, newLedger(o.Clock, o.Log)
	return m, nil
}

// Refused returns how often what was refused, by probe and refusal, since the source was made.
func (m *MQTT) Refused() []Count { return m.ledger.counts() }

// Connected reports whether the broker is connected and subscribed to.
func (m *MQTT) Connected() bool { return m.connected.Load() }

// Run delivers readings until ctx ends. A broker that is away is tried again and again; each probe is
// told as failed once for every time it goes.
func (m *MQTT) Run(ctx context.Context, out chan<- sensors.Reading) error {
	return newStation(m).run(ctx, out)
}

// withoutPassword returns an address as it may be shown.
func withoutPassword(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		return "at the address given"
	}
	return u.Redacted()
}

// brokerAddress returns host and port, and whether the connection is encrypted.
func brokerAddress(text string) (address string, encrypted bool, err error) {
	u, err := url.Parse(text)
	if err != nil {
		return "", false, errors.New("the address cannot be understood; write e.g. tcp://broker:1883") // url's error shows passwords
	}
	port := mqttPort
	switch strings.ToLower(u.Scheme) {
	case "tcp", "mqtt":
	case "tls", "ssl", "mqtts":
		port, encrypted = mqttsPort, true
	default:
		return "", false, errors.New("the address must begin with tcp:// or tls://")
	}
	switch {
	case u.User != nil:
		return "", false, errors.New("give user and password apart from the address, which is shown in logs")
	case u.Hostname() == "" || strings.Trim(u.Path, "/") != "" || u.RawQuery != "":
		return "", false, errors.New("the address needs a host and nothing after it; write e.g. tcp://broker:1883")
	case u.Port() != "":
		port = u.Port()
	}
	return net.JoinHostPort(u.Hostname(), port), encrypted, nil
}

// check returns what is wrong with the options as a whole.
func (o *MQTTOptions) check() []error {
	var errs []error
	want := func(ok bool, format string, args ...any) {
		if !ok {
			errs = append(errs, fmt.Errorf(format, args...))
		}
	}
	want(len(o.Probes) > 0, "no probe is given")
	want(o.KeepAlive >= 0 && o.KeepAlive <= time.Hour && o.KeepAlive%time.Second == 0, "keep-alive must be whole seconds up to an hour")
	want(o.KeepFor >= 0 && o.KeepFor <= longestSessionExpiry, "messages can be kept for up to %s", longestSessionExpiry)
	want(o.KeepFor == 0 || o.ClientID != "", "keeping messages needs a client id")
	want(o.Password == "" || o.User != "", "a password needs a user")
	errs = append(errs, o.TLS.check())
	for _, f := range o.Filters {
		want(checkFilter(f) == nil, "filter %q: %w", f, checkFilter(f))
	}
	names := map[string]bool{}
	for _, p := range o.Probes {
		want(!names[p.Name], "probe %q is given twice", p.Name)
		names[p.Name] = true
		want(o.KeepFor == 0 || p.TrustTime, "probe %q: messages can only be kept for probes whose time is trusted", p.Name)
		for _, t := range []string{p.Topic, p.Availability.Topic} {
			n := 0
			for _, f := range o.Filters {
				if matches(f, t) {
					n++
				}
			}
			want(t == "" || len(o.Filters) == 0 || n == 1, "probe %q: topic %q matches %d filters; it must be one", p.Name, t, n)
		}
	}
	return errs
}

// prepare checks a probe's options and fills in what was left out.
func (p *MQTTProbe) prepare() (form, path, error) {
	f, err := p.Format.compile()
	errs := []error{err}
	want := func(ok bool, what string) {
		if !ok {
			errs = append(errs, errors.New(what))
		}
	}
	want(p.Name != "", "it has no name")
	want(p.Topic != "", "it has no topic")
	errs = append(errs, checkTopic(p.Topic), checkTopic(p.Availability.Topic))
	want(!p.TrustTime || p.Format.Time != "", "its time is trusted, but no path to it is given")
	want(p.Oldest >= 0 && p.Fresh >= 0, "durations cannot be negative")
	if p.Oldest == 0 {
		p.Oldest = defaultOldest
	}
	if p.Fresh == 0 {
		p.Fresh = defaultFresh
	}
	if len(p.Availability.Off) == 0 {
		p.Availability.Off = []string{"offline"}
	}
	var off path
	if p.Availability.Path != "" {
		off, err = parsePath(p.Availability.Path)
		errs = append(errs, err)
	}
	return f, off, errors.Join(errs...)
}
