package config

import (
	"net"
	"net/netip"
	"strconv"

	"pourward/cmd/pourward/internal/access"
	"pourward/cmd/pourward/internal/keyed"
)

const (
	defaultListen = "127.0.0.1:8673"
	accessExample = `{web_config: "/etc/pourward/web.yml", roles: {anna: mark}}`
	rolesExample  = `{anna: mark}`
)

// readListen gives the address to serve on, and who may come in there.
func readListen(g *group) (address string, a *Access) {
	a = readAccess(g.optionalGroup("access", accessExample))
	address = optional(g, "listen", keyed.Want[string]{Example: `"127.0.0.1:8673"`, Read: hostPort}, defaultListen)
	if address == "" || Loopback(address) {
		return address, a
	}
	if a == nil {
		g.Report(g.At("listen"), "listen: "+strconv.Quote(address)+" lets the network in, and nobody is asked who they are",
			"write e.g. access: "+accessExample+`, with users in that file, or listen: "127.0.0.1:8673"`)
		return address, nil
	}
	a.Network = true
	return address, a
}

func readAccess(g *group) *Access {
	if g == nil {
		return nil
	}
	defer g.Done()
	return &Access{
		WebFile:    required(g, "web_config", path(g.dir, "/etc/pourward/web.yml")),
		Roles:      readRoles(g.optionalGroup("roles", rolesExample)),
		WithoutTLS: optional(g, "without_tls", keyed.Text("phones on the workshop's own Wi-Fi"), ""),
	}
}

// readRoles gives what each user may do. The users' names are the keys; whether there are such users is
// for the web configuration to tell.
func readRoles(g *group) map[string]access.Role {
	if g == nil {
		return nil
	}
	words := map[string]access.Role{access.Read.String(): access.Read, access.Mark.String(): access.Mark}
	roles := map[string]access.Role{}
	for _, k := range g.Node.Keys {
		g.Know(k.Name)
		if role, ok := keyed.Read(g.Group, &k, choice(access.Mark.String(), words)); ok {
			roles[k.Name] = role
		}
	}
	return roles
}

// hostPort checks the form of host:port; an empty host stands for every address of the board.
func hostPort(n *keyed.Node) (string, error) {
	s, err := keyed.Text(defaultListen).Read(n)
	if err != nil {
		return "", err
	}
	_, port, err := net.SplitHostPort(s)
	if err != nil {
		return "", keyed.Wrongf("%q is not host:port", s)
	}
	if _, err := strconv.ParseUint(port, 10, 16); err != nil {
		return "", keyed.Wrongf("%q: %q is no port from 0 to 65535", s, port)
	}
	return s, nil
}

// Loopback reports whether only this host can reach address. A name other than localhost may come
// to stand for anything, so it does not count.
func Loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && ip.Unmap().IsLoopback()
}
