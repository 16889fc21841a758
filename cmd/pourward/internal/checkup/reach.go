package checkup

import (
	"bufio"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"pourward/alerts/deliver"
	"pourward/cmd/pourward/internal/config"
	"pourward/sensors/network"
)

// reachWithin is how long one connection may take.
const reachWithin = 5 * time.Second

// target is somebody the daemon connects to.
type target struct {
	about, name, address string
	tls                  *network.TLSFiles // nil: not encrypted from the beginning
	greets               bool              // speaks first, with 220 (RFC 5321)
}

// Reach connects to everyone the daemon is to connect to, and hangs up again. Nothing is asked or sent.
func Reach(ctx context.Context, c *config.Config) []Finding {
	all := targets(c)
	out := make([]Finding, len(all))
	var running sync.WaitGroup
	for i, t := range all {
		running.Go(func() { out[i] = t.finding(t.connect(ctx)) })
	}
	running.Wait()
	return out
}

func targets(c *config.Config) (out []target) {
	for _, s := range c.Alerts.Alertmanagers {
		out = append(out, at("alerts", "Alertmanager "+s.Name, s.URL, s.TLS))
	}
	for _, w := range c.Alerts.Webhooks {
		out = append(out, at("alerts", "webhook "+w.Name, w.URL, w.TLS))
	}
	if m := c.Alerts.Mail; m != nil {
		t := target{about: "alerts", name: "mail server", address: net.JoinHostPort(m.Host, strconv.Itoa(m.Port)), greets: true}
		if m.Encryption == deliver.Implicit {
			t.tls = &m.TLS
		}
		out = append(out, t)
	}
	for _, b := range c.Brokers {
		out = append(out, at("probes", "broker "+b.Name, b.URL, b.TLS))
	}
	for _, s := range c.Servers {
		out = append(out, at("probes", "server "+s.Name, s.URL, s.TLS))
	}
	return out
}

// at is the target of an address that the config has checked.
func at(about, name, address string, files network.TLSFiles) target {
	t := target{about: about, name: name, address: address}
	u, err := url.Parse(address)
	if err != nil {
		return t // connecting tells what is wrong with it
	}
	port := u.Port()
	if port == "" {
		port = map[string]string{"http": "80", "https": "443", "tcp": "1883", "tls": "8883"}[u.Scheme]
	}
	t.address = net.JoinHostPort(u.Hostname(), port)
	if u.Scheme == "https" || u.Scheme == "tls" {
		t.tls = &files
	}
	return t
}

func (t target) connect(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, reachWithin)
	defer cancel()
	conn, err := t.dial(ctx)
	if err != nil {
		return err
	}
	defer conn.Close() // nothing was sent that could be lost
	if !t.greets {
		return nil
	}
	if deadline, set := ctx.Deadline(); set {
		if err := conn.SetReadDeadline(deadline); err != nil {
			return err
		}
	}
	line, err := bufio.NewReader(conn).ReadString('\n')
	if err != nil {
		return fmt.Errorf("it does not greet as a mail server does: %w", err)
	}
	if !strings.HasPrefix(line, "220") {
		return fmt.Errorf("it does not greet as a mail server does, but with %.60q", line)
	}
	return nil
}

func (t target) dial(ctx context.Context) (net.Conn, error) {
	plain := &net.Dialer{}
	if t.tls == nil {
		return plain.DialContext(ctx, "tcp", t.address)
	}
	host, _, err := net.SplitHostPort(t.address)
	if err != nil {
		return nil, err
	}
	files, err := t.tls.Config(host)
	if err != nil {
		return nil, err
	}
	return (&tls.Dialer{NetDialer: plain, Config: files}).DialContext(ctx, "tcp", t.address)
}

// finding is what the attempt means.
func (t target) finding(err error) Finding {
	var name *net.DNSError
	var untrusted *tls.CertificateVerificationError
	who := t.name + " at " + t.address
	switch {
	case err == nil:
		return ok(t.about, "%s can be reached", who)
	case errors.As(err, &name):
		return broken(t.about, "check the name's spelling, and that this board has a name server", "%s: nobody knows the name %q", who, name.Name)
	case errors.As(err, &untrusted):
		return broken(t.about, "name the authority to believe with ca, or have the certificate made anew", "%s: its certificate is not believed: %v", who, untrusted.Err)
	case errors.Is(err, syscall.ECONNREFUSED):
		return broken(t.about, "see that it runs and listens there", "%s: nothing listens there", who)
	case errors.Is(err, context.DeadlineExceeded):
		return broken(t.about, "check the network between, and its firewall", "%s does not answer within %v", who, reachWithin)
	}
	return broken(t.about, "check its address and its encryption", "%s: %v", who, err)
}
