package deliver

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptrace"
	"net/url"
	"strings"
	"sync/atomic"
	"time"
)

// Access is how to show a server who this is. Secrets stand in no message of this package.
type Access struct {
	User, Password string // both or none
	Token          string // sent as a bearer token (RFC 6750); not together with a user
	TLS            TLS    // for https; nil: the system's authorities
}

// newClient is an HTTP client that asks for what encrypted connections go by every time, and follows no
// redirection: it would carry the secrets elsewhere.
func newClient(files TLS) *http.Client {
	transport := &http.Transport{
		Proxy: http.ProxyFromEnvironment, MaxIdleConnsPerHost: 1, IdleConnTimeout: 2 * lookAgain,
		DialContext: (&net.Dialer{Timeout: attemptTime / 2}).DialContext, TLSHandshakeTimeout: attemptTime / 2,
	}
	if files != nil {
		transport.DialTLSContext = func(ctx context.Context, network, addr string) (net.Conn, error) {
			config, err := files()
			if err != nil {
				return nil, err
			}
			return (&tls.Dialer{Config: config}).DialContext(ctx, network, addr)
		}
	}
	return &http.Client{Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// post sends JSON and returns what the server's clock showed; zero when it did not say.
func post(ctx context.Context, client *http.Client, to string, access Access, header http.Header, body []byte) (time.Time, error) {
	var wrote atomic.Bool
	ctx = httptrace.WithClientTrace(ctx, &httptrace.ClientTrace{WroteHeaders: func() { wrote.Store(true) }})
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, to, bytes.NewReader(body))
	if err != nil {
		return time.Time{}, &refusal{why: errors.New("the address cannot be understood")} // its own error shows it whole
	}
	req.GetBody = nil // the transport must not send it twice by itself
	for name, values := range header {
		req.Header[name] = values
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", "pourward")
	switch {
	case access.Token != "":
		req.Header.Set("Authorization", "Bearer "+access.Token)
	case access.User != "":
		req.SetBasicAuth(access.User, access.Password)
	}
	res, err := client.Do(req)
	if err != nil {
		var bare *url.Error // which shows the address
		if errors.As(err, &bare) {
			err = bare.Err
		}
		if !wrote.Load() {
			err = &refusal{why: err}
		}
		return time.Time{}, err
	}
	defer res.Body.Close()
	clock, _ := http.ParseTime(res.Header.Get("Date")) // zero when there is none
	return clock, judge(res)
}

// judge turns an answer that is no success into an error. What a server answers to a fault of its own leaves
// open how far it had come.
func judge(res *http.Response) error {
	const shown = 200 // bytes of the answer
	text, err := io.ReadAll(io.LimitReader(res.Body, shown))
	if res.StatusCode/100 == 2 {
		return nil
	}
	failure := fmt.Errorf("it answered %s", res.Status)
	if line := strings.Join(strings.Fields(strings.ToValidUTF8(string(text), "")), " "); err == nil && line != "" {
		failure = fmt.Errorf("it answered %s: %s", res.Status, line)
	}
	switch code := res.StatusCode; code {
	case http.StatusServiceUnavailable, http.StatusTooManyRequests, http.StatusRequestTimeout, http.StatusTooEarly:
		return &refusal{why: failure, answered: true}
	default:
		if code >= 500 {
			return failure
		}
		return &refusal{why: failure, answered: true, forGood: true}
	}
}
