package checkup

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"syscall"
	"time"

	"pourward/cmd/pourward/internal/access"
	"pourward/cmd/pourward/internal/config"
)

// Page looks at whether the page can be served where the file says.
func Page(ctx context.Context, listen string) Finding {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", listen)
	switch {
	case err == nil:
		if err := l.Close(); err != nil {
			return broken("page", "choose another port with listen", "%s: %v", listen, err)
		}
		return ok("page", "%s is free", listen)
	case errors.Is(err, syscall.EADDRINUSE) && answers(ctx, listen):
		return ok("page", "a daemon serves it at %s", listen)
	case errors.Is(err, syscall.EADDRINUSE):
		return look("page", "if no daemon of yours runs, see who listens with: sudo ss -ltnp; or choose another port with listen", "%s is in use, and it cannot be told by whom", listen)
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		return broken("page", "write one of the addresses that this shows under listen: ip address", "this board does not have the address of %s", listen)
	case errors.Is(err, syscall.EACCES):
		return broken("page", "choose a port from 1024 on with listen", "%s: ports below 1024 are not for every user", listen)
	}
	return broken("page", "choose another address with listen", "%s: %v", listen, err)
}

// answers reports whether a daemon that asks nobody serves at an address.
func answers(ctx context.Context, listen string) bool {
	ctx, cancel := context.WithTimeout(ctx, reachWithin)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+listen+"/metrics", nil)
	if err != nil {
		return false
	}
	res, err := (&http.Client{Transport: &http.Transport{DisableKeepAlives: true}}).Do(req)
	if err != nil {
		return false
	}
	defer res.Body.Close()
	text, err := io.ReadAll(io.LimitReader(res.Body, 1<<20))
	return err == nil && strings.Contains(string(text), "\npourward_build_info")
}

// soon is how long before its end a certificate is told.
const soon = 14 * 24 * time.Hour

// Visitors looks at who may come in: users, roles, certificate. door is the one made of the config.
func Visitors(c *config.Config, door *access.Door, now time.Time) (out []Finding) {
	if c.Access == nil {
		return []Finding{ok("access", "only this board reaches the page, and nobody is asked")}
	}
	markers := 0
	for _, role := range c.Access.Roles {
		if role == access.Mark {
			markers++
		}
	}
	if markers == 0 {
		out = append(out, look("access", "write e.g. roles: {anna: mark}", "nobody may enter marks"))
	} else {
		out = append(out, ok("access", "may enter marks: %d", markers))
	}
	if t := door.TLS(); t != nil {
		out = append(out, certificate(t, now))
	}
	return out
}

func certificate(t *tls.Config, now time.Time) Finding {
	const renew = "have a new one made; it is taken without a restart"
	if t.GetCertificate == nil {
		return broken("access", "name cert_file and key_file under tls_server_config", "there is no certificate")
	}
	c, err := t.GetCertificate(&tls.ClientHelloInfo{})
	if err != nil {
		return broken("access", renew, "the certificate cannot be read: %v", err)
	}
	leaf, err := x509.ParseCertificate(c.Certificate[0])
	switch {
	case err != nil:
		return broken("access", renew, "the certificate cannot be read: %v", err)
	case now.After(leaf.NotAfter):
		return broken("access", renew, "the certificate ended on %s", leaf.NotAfter.Format(time.DateOnly))
	case leaf.NotAfter.Sub(now) < soon:
		return look("access", renew, "the certificate ends on %s", leaf.NotAfter.Format(time.DateOnly))
	}
	return ok("access", "the certificate holds until %s", leaf.NotAfter.Format(time.DateOnly))
}

// User looks at whether whoever looks is the one who will run the daemon.
func User(uid int, daemon string) []Finding {
	if uid != 0 {
		return nil
	}
	return []Finding{look("user", "look as that user: sudo -u "+daemon+" pourward doctor", "root may do what the daemon's user may not")}
}
