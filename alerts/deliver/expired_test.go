package deliver_test

import (
	"crypto/ed25519"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"math/big"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts/deliver"
)

// expired serves encrypted connections on loopback with a certificate that ran out a minute ago, which is believed
// otherwise.
func expired(t *testing.T) (address string, believe deliver.TLS) {
	t.Helper()
	public, private, err := ed25519.GenerateKey(rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(-time.Minute),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	raw, err := x509.CreateCertificate(rand.Reader, template, template, public, private)
	require.NoError(t, err)
	cert, err := x509.ParseCertificate(raw)
	require.NoError(t, err)
	l, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{raw}, PrivateKey: private}}})
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			_ = c.(*tls.Conn).Handshake() // the other end refuses
			c.Close()
		}
	}()
	roots := x509.NewCertPool()
	roots.AddCert(cert)
	return l.Addr().String(), func() (*tls.Config, error) {
		return &tls.Config{RootCAs: roots, ServerName: "127.0.0.1", MinVersion: tls.VersionTLS12}, nil
	}
}

// A receiver whose certificate has run out is told nothing, and the reason is said.
func TestReceiversWhoseCertificateHasRunOut(t *testing.T) {
	address, believe := expired(t)
	access := deliver.Access{Token: "plaster-and-wax", TLS: believe}
	_, port, err := net.SplitHostPort(address)
	require.NoError(t, err)
	to := toMaker(&mailServer{port: port})
	to.Encryption, to.TLS = deliver.Implicit, believe
	tried, err := deliver.Try(t.Context(), deliver.Options{Shop: "Annex", Zone: time.UTC, Now: time.Now,
		Alertmanagers: []deliver.Alertmanager{{Name: "am", URL: "https://" + address, Access: access}},
		Webhooks:      []deliver.Webhook{{Name: "phone", URL: "https://" + address, Access: access}},
		Mails:         []deliver.Mail{to},
	}, "")
	require.NoError(t, err)
	require.Len(t, tried, 3)
	for _, one := range tried {
		require.ErrorContains(t, one.Err, "certificate has expired", one.Target)
	}
}
