package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"strings"
	"time"
)

// dial is how a command reaches the daemon.
type dial struct{ to, user, passwordFile, ca string }

// dialFlags adds the flags that say how. A password is never one of them: others can see those.
func dialFlags(fs *flag.FlagSet) *dial {
	d := &dial{}
	fs.StringVar(&d.to, "to", "http://127.0.0.1:8673", "`address` of the daemon")
	fs.StringVar(&d.user, "user", "", "`name` to come in with, where the daemon asks for one")
	fs.StringVar(&d.passwordFile, "password-file", "", "`file` with that user's password in one line")
	fs.StringVar(&d.ca, "ca", "", "`file` with the certificate of whom to believe under https; the system's authorities if left out")
	return d
}

// answerTimeLimit is how long a command waits for the daemon.
const answerTimeLimit = 15 * time.Second

// ask sends a form to the daemon, or asks for something where there is none, and reads its answer.
func (d *dial) ask(ctx context.Context, path string, form url.Values, into any) error {
	ctx, cancel := context.WithTimeout(ctx, answerTimeLimit)
	defer cancel()
	client, err := d.client()
	if err != nil {
		return err
	}
	req, err := d.request(ctx, path, form)
	if err != nil {
		return err
	}
	res, err := client.Do(req)
	if err != nil {
		return fmt.Errorf("no daemon answers: %w; start it, or give its address with -to", err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(io.LimitReader(res.Body, 1<<20))
	if err != nil {
		return fmt.Errorf("%s: the answer did not arrive whole: %w", d.to, err)
	}
	var refusal struct{ Error string }
	if err := json.Unmarshal(text, &refusal); err != nil {
		return fmt.Errorf("%s answered %s, which is no daemon's answer: %w", d.to, res.Status, err)
	}
	switch {
	case res.StatusCode == http.StatusUnauthorized && d.user == "":
		return errors.New("the daemon asks who you are; give -user and -password-file")
	case res.StatusCode == http.StatusUnauthorized:
		return errors.New("the daemon does not know this name with this password")
	case refusal.Error != "":
		return errors.New(refusal.Error)
	}
	return json.Unmarshal(text, into)
}

func (d *dial) request(ctx context.Context, path string, form url.Values) (*http.Request, error) {
	method, body := http.MethodGet, io.Reader(http.NoBody)
	if form != nil {
		method, body = http.MethodPost, strings.NewReader(form.Encode())
	}
	req, err := http.NewRequestWithContext(ctx, method, strings.TrimRight(d.to, "/")+path, body)
	if err != nil {
		return nil, fmt.Errorf("-to: %w", err)
	}
	if form != nil {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	req.Header.Set("Accept", "application/json")
	return req, d.showUser(req)
}

// showUser shows name and password, but not to whoever listens in on a network.
func (d *dial) showUser(req *http.Request) error {
	if (d.user == "") != (d.passwordFile == "") {
		return errors.New("-user and -password-file go together")
	}
	if d.user == "" {
		return nil
	}
	host := req.URL.Hostname()
	ip, err := netip.ParseAddr(host)
	if req.URL.Scheme != "https" && host != "localhost" && !(err == nil && ip.Unmap().IsLoopback()) {
		return fmt.Errorf("-to: the password would go to %s in clear; write an address that begins with https://, or enter it on the board itself", host)
	}
	password, err := secretFrom(d.passwordFile, "user "+d.user)
	if err != nil {
		return err
	}
	req.SetBasicAuth(d.user, password)
	return nil
}

// client follows no redirections, so that a password is shown to nobody else.
func (d *dial) client() (*http.Client, error) {
	transport := &http.Transport{
		DialContext:       (&net.Dialer{}).DialContext,
		DisableKeepAlives: true,
		TLSClientConfig:   &tls.Config{MinVersion: tls.VersionTLS12},
	}
	if d.ca != "" {
		pem, err := os.ReadFile(d.ca)
		if err != nil {
			return nil, fmt.Errorf("-ca: %w", err)
		}
		pool := x509.NewCertPool()
		if !pool.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("-ca: %s holds no certificate in PEM form", d.ca)
		}
		transport.TLSClientConfig.RootCAs = pool
	}
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &http.Client{Transport: transport, CheckRedirect: stay}, nil
}
