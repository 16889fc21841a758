package access

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/prometheus/exporter-toolkit/web"
	"go.yaml.in/yaml/v2"
	"golang.org/x/crypto/bcrypt"
	"golang.org/x/time/rate"
)

// webExample is what a web configuration file may hold.
const webExample = `basic_auth_users: {anna: "..."} with the bcrypt hash of a password, e.g. from: htpasswd -nB anna`

// Web is a web configuration file that passed every check.
type Web struct {
	users   map[string]string // bcrypt hash by name
	headers map[string]string
	tls     *tls.Config // nil: plain HTTP
	http2   bool
	limit   *rate.Limiter // of all requests together; nil for none
}

// LoadWeb reads and checks a web configuration file.
func LoadWeb(file string) (*Web, error) {
	w, err := loadWeb(file)
	if err != nil {
		return nil, fmt.Errorf("web configuration %s: %w", file, err)
	}
	return w, nil
}

func loadWeb(file string) (*Web, error) {
	if err := web.Validate(file); err != nil {
		return nil, err
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	// What the library takes where the file says nothing.
	c := web.Config{
		TLSConfig:  web.TLSConfig{MinVersion: tls.VersionTLS12, MaxVersion: tls.VersionTLS13},
		HTTPConfig: web.HTTPConfig{HTTP2: true},
	}
	if err := yaml.UnmarshalStrict(text, &c); err != nil {
		return nil, err
	}
	w := &Web{users: map[string]string{}, headers: c.HTTPConfig.Header, http2: c.HTTPConfig.HTTP2}
	for name, hash := range c.Users {
		if err := soundUser(name, string(hash)); err != nil {
			return nil, err
		}
		w.users[name] = string(hash)
	}
	if l := c.RateLimiterConfig; l.Interval > 0 {
		w.limit = rate.NewLimiter(rate.Every(l.Interval), l.Burst)
	}
	return w, w.readTLS(file, c.TLSConfig)
}

// Costs of bcrypt: below the first a stolen file is soon guessed, above the second a small board needs
// many seconds for every log-in. Common practice, no source.
const leastCost, mostCost = 10, 14

func soundUser(name, hash string) error {
	if name == "" || len(name) > 64 || strings.ContainsFunc(name, isControl) || strings.Contains(name, ":") {
		return fmt.Errorf("user %q: a name has 1 to 64 characters, no colon and no line ends", name)
	}
	cost, err := bcrypt.Cost([]byte(hash))
	if err != nil {
		return fmt.Errorf("user %q: no bcrypt hash; write %s", name, webExample)
	}
	if cost < leastCost || cost > mostCost {
		return fmt.Errorf("user %q: the hash has a cost of %d, not %d to %d; make it anew, e.g. with: htpasswd -nB -C %d %s", name, cost, leastCost, mostCost, leastCost, name)
	}
	return nil
}

func (w *Web) readTLS(file string, c web.TLSConfig) error {
	if !c.IsEnabled() {
		return nil
	}
	if c.MinVersion < tls.VersionTLS12 {
		return errors.New("tls_server_config.min_version: versions before TLS12 are broken; write min_version: TLS12, or leave it out")
	}
	c.SetDirectory(filepath.Dir(file))
	config, err := web.ConfigToTLSConfig(&c)
	if err != nil {
		return err
	}
	w.tls = config
	return nil
}

// Users are the names of those who may log in, in order.
func (w *Web) Users() []string {
	names := make([]string, 0, len(w.users))
	for name := range w.users {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// setHeaders sets what the file asks for. It loosens nothing: what the page has set stands.
func (w *Web) setHeaders(h http.Header) {
	for name, value := range w.headers {
		if h.Get(name) == "" {
			h.Set(name, value)
		}
	}
}
