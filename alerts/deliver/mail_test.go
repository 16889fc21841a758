package deliver_test

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"log/slog"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/alerts/deliver"
)

func alert(name, mold string, severity alerts.Severity) alerts.Alert {
	return alerts.Alert{
		Name: name, Severity: severity, Labels: map[string]string{"mold": mold, "step": "batch-1"},
		Since:   time.Now().UTC().Truncate(time.Second),
		Summary: name + " is so.", Description: "Something is so at 21 °C.", WhatToDo: "Look.",
	}
}

// office is a deliverer that can be killed and started again; what it wrote to its log is kept.
type office struct {
	t    *testing.T
	opts deliver.Options
	d    *deliver.Deliverer
	stop func()
	log  notes
}

type notes struct {
	mu   sync.Mutex
	text []byte
}

func (n *notes) Write(p []byte) (int, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.text = append(n.text, p...)
	return len(p), nil
}

func (n *notes) String() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return string(n.text)
}

func openOffice(t *testing.T, o deliver.Options) *office {
	t.Helper()
	f := &office{t: t, opts: o}
	f.opts.Shop, f.opts.Zone, f.opts.Now = "Annex", time.UTC, time.Now
	f.opts.File = filepath.Join(t.TempDir(), "annex.messages")
	f.opts.Log = slog.New(slog.NewTextHandler(&f.log, nil))
	f.start()
	t.Cleanup(func() { f.stop() })
	return f
}

func (f *office) start() {
	f.t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	d, err := deliver.Open(ctx, f.opts)
	require.NoError(f.t, err)
	ended := make(chan struct{})
	go func() {
		_ = d.Run(ctx)
		close(ended)
	}()
	f.d = d
	f.stop = sync.OnceFunc(func() {
		cancel()
		<-ended
		require.NoError(f.t, d.Close())
	})
}

func (f *office) restart() {
	f.t.Helper()
	f.stop()
	f.start()
}

func (f *office) tell(active ...alerts.Alert) {
	f.d.Tell(deliver.State{At: time.Now(), Trusted: true, Active: active})
}

// settled waits until nothing is left to tell.
func (f *office) settled() {
	f.t.Helper()
	eventually(f.t, "everything is told", func() bool {
		for _, h := range f.d.Health() {
			if h.Waiting > 0 || h.Err != "" {
				return false
			}
		}
		return true
	})
}

func toMaker(m *mailServer) deliver.Mail {
	port, _ := strconv.Atoi(m.port)
	return deliver.Mail{
		Name: "maker", Host: "127.0.0.1", Port: port, Encryption: deliver.Plaintext,
		From: "pourward@example.org", To: "maker@example.org",
	}
}

// The mail server is killed, and the daemon is started again while it is away: in the end the server's own list
// holds each thing once. What came and went meanwhile is told in one message with what stands.
func TestMailServerThatIsKilled(t *testing.T) {
	m := startMail(t)
	f := openOffice(t, deliver.Options{Mails: []deliver.Mail{toMaker(m)}})
	cold, dry := alert("PourwardShopTooCold", "frieze", alerts.Warning), alert("PourwardCoatDry", "corbel", alerts.Info)
	dry.Passing = true
	f.tell(cold, dry)
	eventually(t, "both molds are told of", func() bool { return len(m.took(t)) == 2 })
	f.settled()

	m.kill()
	over, short := alert("PourwardWorkingLifeOver", "frieze", alerts.Critical), alert("PourwardAirTooDamp", "frieze", alerts.Warning)
	f.tell(cold, over, short)
	f.tell(over)
	eventually(t, "it does not get through", func() bool { return f.d.Health()[0].Failed > 0 })
	require.Equal(t, 3, f.d.Health()[0].Waiting)
	f.restart()
	require.Len(t, f.d.Standing(), 1)
	f.tell(over)
	eventually(t, "it does not get through either", func() bool { return f.d.Health()[0].Failed > 0 })

	m.up(t)
	eventually(t, "the rest is told", func() bool { return len(m.took(t)) == 3 })
	f.settled()
	f.restart()
	f.tell()
	f.settled()
	eventually(t, "the end is told", func() bool { return len(m.took(t)) == 4 })
	require.Equal(t, []string{
		"corbel: PourwardCoatDry is so.", "frieze: 1 began, 2 ended", "frieze: PourwardShopTooCold is so.",
		"frieze: ended: PourwardWorkingLifeOver is so.",
	}, m.subjects(t))

	ids := map[string]bool{}
	for _, l := range m.took(t) {
		ids[l.Get("Message-ID")] = true
		require.Regexp(t, `^<[0-9a-f]{32}@example\.org>$`, l.Get("Message-ID"))
		require.Equal(t, "auto-generated", l.Get("Auto-Submitted"))
		require.Equal(t, "<maker@example.org>", l.Get("To"))
	}
	require.Len(t, ids, 4)
	rest := m.took(t)[1].text
	require.Contains(t, rest, "critical, since")
	require.Contains(t, rest, "Something is so at 21 °C.\nWhat to do: Look.")
	require.Contains(t, rest, "while no message could be sent (mold frieze)\nPourwardAirTooDamp is so.")
}

// What SMTP does not allow: the server took the message, and the connection was lost before it said so (RFC 5321,
// 4.2.5 and 6.1; RFC 1047). The message comes again, and is the same to the letter.
func TestMailTakenWithoutAnswer(t *testing.T) {
	m := startMail(t, "--lose=1")
	f := openOffice(t, deliver.Options{Mails: []deliver.Mail{toMaker(m)}})
	f.tell(alert("PourwardDoubtful", "frieze", alerts.Critical))
	eventually(t, "it came twice", func() bool { return len(m.took(t)) == 2 })
	f.settled()
	f.restart()
	f.tell()
	eventually(t, "the end is told", func() bool { return len(m.took(t)) == 3 })
	f.settled()
	took := m.took(t)
	require.Equal(t, took[0].Get("Message-ID"), took[1].Get("Message-ID"))
	require.Equal(t, took[0].text, took[1].text)
	require.NotEqual(t, took[1].Get("Message-ID"), took[2].Get("Message-ID"))
}

// Killed between sending and noting, with the same server.
func TestMailTakenAndDaemonStartedAgain(t *testing.T) {
	m := startMail(t, "--lose=3")
	f := openOffice(t, deliver.Options{Mails: []deliver.Mail{toMaker(m)}})
	f.tell(alert("PourwardDoubtful", "frieze", alerts.Critical))
	eventually(t, "it came", func() bool { return len(m.took(t)) >= 1 })
	f.restart()
	f.settled()
	require.Len(t, m.took(t), 4)
	for _, l := range m.took(t) {
		require.Equal(t, m.took(t)[0].Get("Message-ID"), l.Get("Message-ID"))
	}
}

// An address that the server does not know keeps nobody else from hearing.
func TestMailToNobody(t *testing.T) {
	m := startMail(t, "--refuse=gone@example.org")
	gone := toMaker(m)
	gone.Name, gone.To = "gone", "gone@example.org"
	f := openOffice(t, deliver.Options{Mails: []deliver.Mail{gone, toMaker(m)}})
	f.tell(alert("PourwardDoubtful", "frieze", alerts.Critical))
	eventually(t, "the maker is told", func() bool { return len(m.took(t)) == 1 })
	eventually(t, "the reason is known", func() bool { return f.d.Health()[0].Err != "" })
	h := f.d.Health()
	require.Contains(t, h[0].Err, "nobody of that name")
	require.Equal(t, 1, h[0].Waiting)
	require.Contains(t, f.log.String(), "target=gone")
}

// certificate writes the certificate that package httptest has for 127.0.0.1, and its key.
func certificate(t *testing.T) (cert, key string, believe deliver.TLS) {
	t.Helper()
	srv := httptest.NewTLSServer(nil)
	defer srv.Close()
	pair := srv.TLS.Certificates[0]
	der, err := x509.MarshalPKCS8PrivateKey(pair.PrivateKey)
	require.NoError(t, err)
	dir := t.TempDir()
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	require.NoError(t, os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: pair.Certificate[0]}), 0o600))
	require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), 0o600))
	roots := x509.NewCertPool()
	roots.AddCert(srv.Certificate())
	return cert, key, func() (*tls.Config, error) {
		return &tls.Config{RootCAs: roots, ServerName: "127.0.0.1", MinVersion: tls.VersionTLS12}, nil
	}
}

func TestMailEncryptedAndWithPassword(t *testing.T) {
	cert, key, believe := certificate(t)
	const password = "plaster-and-wax"
	for name, way := range map[string]struct {
		e    deliver.Encryption
		args []string
	}{
		"STARTTLS": {deliver.STARTTLS, nil},
		"implicit": {deliver.Implicit, []string{"--implicit"}},
	} {
		t.Run(name, func(t *testing.T) {
			m := startMail(t, append(way.args, "--cert="+cert, "--key="+key, "--password="+password)...)
			to := toMaker(m)
			to.Encryption, to.TLS, to.User, to.Password = way.e, believe, "annex", password
			try := func(to deliver.Mail) error {
				o := deliver.Options{Shop: "Annex", Zone: time.UTC, Now: time.Now, Mails: []deliver.Mail{to}}
				tried, err := deliver.Try(t.Context(), o, "")
				require.NoError(t, err)
				require.Len(t, tried, 1)
				return tried[0].Err
			}
			require.NoError(t, try(to))
			require.Equal(t, []string{"Annex: a trial, nothing is wrong"}, m.subjects(t))

			wrong := to
			wrong.Password = "clay-and-dust"
			err := try(wrong)
			require.ErrorContains(t, err, "535")
			require.NotContains(t, err.Error(), "clay-and-dust")

			stranger := to
			stranger.TLS = nil
			require.ErrorContains(t, try(stranger), "certificate")
			require.Len(t, m.took(t), 1)
		})
	}
}

// A server that offers no encryption gets neither the password nor the message.
func TestMailIsNotSentInTheClear(t *testing.T) {
	m := startMail(t)
	to := toMaker(m)
	to.Encryption, to.User, to.Password = deliver.STARTTLS, "annex", "plaster-and-wax"
	tried, err := deliver.Try(t.Context(), deliver.Options{Shop: "Annex", Zone: time.UTC, Now: time.Now, Mails: []deliver.Mail{to}}, "maker")
	require.NoError(t, err)
	require.ErrorContains(t, tried[0].Err, "STARTTLS")
	require.Empty(t, m.took(t))

	to.Encryption = deliver.Plaintext
	_, err = deliver.Try(t.Context(), deliver.Options{Shop: "Annex", Zone: time.UTC, Now: time.Now, Mails: []deliver.Mail{to}}, "")
	require.ErrorContains(t, err, "no password is sent without encryption")
}
