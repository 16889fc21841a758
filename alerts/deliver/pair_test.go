package deliver_test

import (
	"fmt"
	"io"
	"net"
	"net/http/httptest"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/alerts/deliver"
)

// relay passes on what Alertmanagers tell each other, until it is cut: packets and connections to one address.
type relay struct {
	address string
	cut     atomic.Bool
}

func newRelay(t *testing.T, to string) *relay {
	t.Helper()
	streams, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	packets, err := net.ListenPacket("udp", streams.Addr().String())
	require.NoError(t, err)
	out, err := net.Dial("udp", to)
	require.NoError(t, err)
	t.Cleanup(func() { packets.Close(); streams.Close(); out.Close() })
	r := &relay{address: packets.LocalAddr().String()}
	go func() {
		for buf := make([]byte, 64<<10); ; {
			n, _, err := packets.ReadFrom(buf)
			if err != nil {
				return
			}
			if !r.cut.Load() {
				_, _ = out.Write(buf[:n]) // it may be down
			}
		}
	}()
	go func() {
		for {
			c, err := streams.Accept()
			if err != nil {
				return
			}
			go r.stream(c, to)
		}
	}()
	return r
}

func (r *relay) stream(c net.Conn, to string) {
	defer c.Close()
	far, err := net.Dial("tcp", to)
	if err != nil || r.cut.Load() {
		return
	}
	defer far.Close()
	go func() { _, _ = io.Copy(far, c) }()
	_, _ = io.Copy(c, far)
}

// pair are two real Alertmanagers that belong together, a daemon that tells both, and whoever they call.
type pair struct {
	*office
	hook   *rings
	ams    [2]*alertmanager
	relays [2]*relay
}

func newPair(t *testing.T) *pair {
	t.Helper()
	p := &pair{hook: &rings{by: map[string]int{}}}
	srv := httptest.NewServer(p.hook)
	t.Cleanup(srv.Close)
	var own, told []string
	for i := range p.ams {
		own = append(own, "127.0.0.1:"+freePort(t))
		p.relays[i] = newRelay(t, own[i])
		told = append(told, p.relays[i].address)
	}
	o := deliver.Options{}
	for i := range p.ams {
		p.ams[i] = newAlertmanager(t, srv.URL, own[i], "--cluster.advertise-address="+told[i], "--cluster.peer="+told[1-i],
			"--cluster.gossip-interval=50ms", "--cluster.pushpull-interval=1s", "--cluster.probe-interval=300ms", "--cluster.reconnect-interval=1s", "--cluster.tcp-timeout=1s")
		o.Alertmanagers = append(o.Alertmanagers, to(fmt.Sprint("am", i), p.ams[i].address))
	}
	for _, a := range p.ams {
		a.up(t)
	}
	p.together(t)
	p.office = openOffice(t, o)
	return p
}

// together waits until they know each other.
func (p *pair) together(t *testing.T) {
	t.Helper()
	eventually(t, "they know each other", func() bool { return p.ams[0].peers(t) == 2 && p.ams[1].peers(t) == 2 })
}

func (p *pair) split(cut bool) {
	for _, r := range p.relays {
		r.cut.Store(cut)
	}
}

// held waits until both hold so many alerts as firing.
func (p *pair) held(t *testing.T, n int) {
	t.Helper()
	for _, a := range p.ams {
		eventually(t, fmt.Sprint(n, " are held"), func() bool { return len(a.held(t)) == n })
	}
}

// called waits until whoever is called has heard so of the alert.
func (p *pair) called(t *testing.T, how string) {
	t.Helper()
	eventually(t, "it is called "+how, func() bool { return p.hook.of("PourwardDoubtful "+how) > 0 })
}

// pondered waits until an Alertmanager has thought once more about a call.
func (p *pair) pondered(t *testing.T, i int) {
	t.Helper()
	before := p.ams[i].considered(t)
	eventually(t, "it has thought about it", func() bool { return p.ams[i].considered(t) != before })
}

// Two Alertmanagers that belong together, of which one is down, both are, one dies in between, or that cannot hear
// each other: what began and what ended is called out at least once, and as both have it by the same labels, once
// only as long as they hear each other.
func TestPairInTrouble(t *testing.T) {
	doubt := alert("PourwardDoubtful", "frieze", alerts.Critical)
	for name, c := range map[string]struct {
		trouble func(*testing.T, *pair) // lets it begin, and ends with both holding it
		most    int                     // calls
	}{
		"first is down":  {func(t *testing.T, p *pair) { p.downAtBegin(t, doubt, 0) }, 1},
		"second is down": {func(t *testing.T, p *pair) { p.downAtBegin(t, doubt, 1) }, 1},
		"both are down": {func(t *testing.T, p *pair) {
			p.ams[0].kill()
			p.ams[1].kill()
			p.tell(doubt)
			eventually(t, "neither is reached", func() bool { return p.d.Health()[0].Failed > 0 && p.d.Health()[1].Failed > 0 })
			p.ams[0].up(t)
			p.ams[1].up(t)
		}, 2},
		"first dies": {func(t *testing.T, p *pair) { p.diesAfterwards(t, doubt, 0) }, 1},
		"split": {func(t *testing.T, p *pair) {
			p.split(true)
			eventually(t, "each is alone", func() bool { return p.ams[0].peers(t) == 1 && p.ams[1].peers(t) == 1 })
			p.tell(doubt)
			p.held(t, 1)
			p.called(t, "firing")
			p.split(false)
			p.together(t)
		}, 2},
		"split between begin and end": {func(t *testing.T, p *pair) {
			p.tell(doubt)
			p.called(t, "firing")
			p.split(true)
			eventually(t, "each is alone", func() bool { return p.ams[0].peers(t) == 1 && p.ams[1].peers(t) == 1 })
		}, 2},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // it waits more than it works
			p := newPair(t)
			c.trouble(t, p)
			p.held(t, 1)
			p.called(t, "firing")
			require.Equal(t, p.ams[0].held(t), p.ams[1].held(t), "the same labels")
			p.pondered(t, 0)
			p.pondered(t, 1)
			require.LessOrEqual(t, p.hook.of("PourwardDoubtful firing"), c.most)
			p.tell()
			p.held(t, 0)
			p.called(t, "resolved")
			p.settled()
		})
	}
}

// downAtBegin lets it begin while one is down, which then comes back.
func (p *pair) downAtBegin(t *testing.T, a alerts.Alert, down int) {
	t.Helper()
	p.ams[down].kill()
	p.tell(a)
	eventually(t, "the other is told", func() bool { return len(p.ams[1-down].held(t)) == 1 })
	p.called(t, "firing")
	p.ams[down].up(t)
	p.together(t)
}

// diesAfterwards lets one die after it began, and come back empty. It would be told again within a minute; a daemon
// that starts anew tells it at once.
func (p *pair) diesAfterwards(t *testing.T, a alerts.Alert, dies int) {
	t.Helper()
	p.tell(a)
	p.held(t, 1)
	p.called(t, "firing")
	p.pondered(t, 1-dies) // it knows of the call
	p.ams[dies].kill()
	eventually(t, "it is missed", func() bool { return p.ams[1-dies].peers(t) == 1 })
	p.ams[dies].up(t)
	p.together(t)
	p.restart()
	p.tell(a)
}
