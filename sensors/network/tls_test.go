package network

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// authority issues certificates for a test.
type authority struct {
	t      testing.TB
	folder string
	cert   *x509.Certificate
	key    *ecdsa.PrivateKey
	file   string
	serial int64
}

func newAuthority(t testing.TB) *authority {
	a := &authority{t: t, folder: t.TempDir()}
	var err error
	a.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	a.cert = &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "shop authority"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	raw, err := x509.CreateCertificate(rand.Reader, a.cert, a.cert, &a.key.PublicKey, a.key)
	require.NoError(t, err)
	a.cert, err = x509.ParseCertificate(raw)
	require.NoError(t, err)
	a.file = a.write("ca.pem", "CERTIFICATE", raw)
	return a
}

func (a *authority) write(name, kind string, raw []byte) string {
	path := filepath.Join(a.folder, name)
	require.NoError(a.t, os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: raw}), 0o600))
	return path
}

// issue writes a certificate for 127.0.0.1 that is valid until an instant, and its key.
func (a *authority) issue(name string, until time.Time) (cert, key string) {
	a.serial++
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(a.t, err)
	template := &x509.Certificate{SerialNumber: big.NewInt(a.serial + 1), Subject: pkix.Name{CommonName: name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: until, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth}}
	raw, err := x509.CreateCertificate(rand.Reader, template, a.cert, &private.PublicKey, a.key)
	require.NoError(a.t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	require.NoError(a.t, err)
	return a.write(name+".pem", "CERTIFICATE", raw), a.write(name+".key", "PRIVATE KEY", secret)
}

// startEncrypted starts a broker that shows a certificate and wants one.
func startEncrypted(t *testing.T, a *authority, until time.Time) *broker {
	cert, key := a.issue("broker", until)
	return startBroker(t, "cafile "+a.file, "certfile "+cert, "keyfile "+key, "require_certificate true", "allow_anonymous true")
}

func TestEncryptedBroker(t *testing.T) {
	t.Parallel()
	a := newAuthority(t)
	b := startEncrypted(t, a, time.Now().Add(time.Hour))
	cert, key := a.issue("shop", time.Now().Add(time.Hour))
	o := MQTTOptions{Broker: "tls://127.0.0.1:" + b.port, TLS: TLSFiles{CA: a.file, Cert: cert, Key: key}, Probes: []MQTTProbe{probeOf("bench")}}
	_, k := listen(t, b, o)
	_, other := listen(t, b, o)
	other.end()
	k.end()
}

func TestEncryptionThatCannotBeTrusted(t *testing.T) {
	t.Parallel()
	a, stranger := newAuthority(t), newAuthority(t)
	b := startEncrypted(t, a, time.Now().Add(time.Hour))
	old := startEncrypted(t, a, time.Now().Add(-time.Minute))
	cert, key := a.issue("shop", time.Now().Add(time.Hour))
	for want, c := range map[string]struct {
		broker *broker
		files  TLSFiles
	}{
		"unknown authority":       {b, TLSFiles{CA: stranger.file, Cert: cert, Key: key}},
		"expired":                 {old, TLSFiles{CA: a.file, Cert: cert, Key: key}},
		"wanted to match annex":   {b, TLSFiles{CA: a.file, Cert: cert, Key: key, ServerName: "annex"}},
		"no such file":            {b, TLSFiles{CA: filepath.Join(t.TempDir(), "none")}},
		"there is no certificate": {b, TLSFiles{CA: key}},
		"client certificate":      {b, TLSFiles{CA: a.file, Cert: cert, Key: stranger.file}},
	} {
		m := newMQTT(t, MQTTOptions{Broker: "tls://127.0.0.1:" + c.broker.port, TLS: c.files, Probes: []MQTTProbe{probeOf("bench")}})
		k := collect(t, m)
		soon(t, "the probe is told as failed: "+want, func() bool { return len(k.failures("bench")) == 1 })
		require.ErrorContains(t, k.failures("bench")[0], want)
		require.False(t, m.Connected())
		k.end()
	}
}

// A certificate that has run out is replaced on disk; nobody starts the daemon anew.
func TestCertificatesAreReadAnew(t *testing.T) {
	t.Parallel()
	a := newAuthority(t)
	b := startEncrypted(t, a, time.Now().Add(time.Hour))
	cert, key := a.issue("shop", time.Now().Add(-time.Minute))
	m := newMQTT(t, MQTTOptions{Broker: "tls://127.0.0.1:" + b.port, TLS: TLSFiles{CA: a.file, Cert: cert, Key: key}, Probes: []MQTTProbe{probeOf("bench")}})
	k := collect(t, m)
	soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) == 1 })
	a.issue("shop", time.Now().Add(time.Hour))
	soon(t, "the new certificate is used", m.Connected)
	k.end()
}
