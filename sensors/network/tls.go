package network

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"os"
	"time"

	"pourward/sensors"
)

// TLSFiles are the PEM files of an encrypted connection. They are read at every connection, so a
// certificate that was renewed is used from the next one on.
type TLSFiles struct {
	CA         string // whom to believe; the system's authorities when empty
	Cert, Key  string // to show who this is; both or none
	ServerName string // in the server's certificate; the host of the address when empty
}

func (f TLSFiles) check() error {
	if (f.Cert == "") != (f.Key == "") {
		return errors.New("a client certificate needs both its file and that of its key")
	}
	return nil
}

// Config reads the files for a connection to a host.
func (f TLSFiles) Config(host string) (*tls.Config, error) {
	c := &tls.Config{ServerName: host, MinVersion: tls.VersionTLS12}
	if f.ServerName != "" {
		c.ServerName = f.ServerName
	}
	if f.CA != "" {
		pem, err := os.ReadFile(f.CA)
		if err != nil {
			return nil, fmt.Errorf("read the authorities to believe: %w", err)
		}
		c.RootCAs = x509.NewCertPool()
		if !c.RootCAs.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("read the authorities to believe: there is no certificate in %s", f.CA)
		}
	}
	if f.Cert != "" {
		pair, err := tls.LoadX509KeyPair(f.Cert, f.Key)
		if err != nil {
			return nil, fmt.Errorf("read the client certificate: %w", err)
		}
		c.Certificates = []tls.Certificate{pair}
	}
	return c, nil
}

// dialTimeout is how long a connection may take to come about.
const dialTimeout = 10 * time.Second

// dial opens a connection, encrypted where files are given.
func dial(ctx context.Context, address string, files *TLSFiles) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(ctx, dialTimeout)
	defer cancel()
	plain := &net.Dialer{}
	if files == nil {
		return plain.DialContext(ctx, "tcp", address)
	}
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, err
	}
	config, err := files.Config(host)
	if err != nil {
		return nil, err
	}
	return (&tls.Dialer{NetDialer: plain, Config: config}).DialContext(ctx, "tcp", address)
}

// unreached gives the error of a connection its kind.
func unreached(err error, format string, args ...any) *sensors.FaultError {
	kind := sensors.NoResponse
	var timeout net.Error
	if errors.As(err, &timeout) && timeout.Timeout() || errors.Is(err, context.DeadlineExceeded) {
		kind = sensors.Timeout
	}
	return &sensors.FaultError{Fault: kind, Doing: fmt.Sprintf(format, args...), Cause: err}
}
