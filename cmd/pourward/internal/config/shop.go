package config

import (
	"log/slog"
	"net"
	"net/netip"
	"strconv"
	"time"

	"pourward/cmd/pourward/internal/keyed"
)

// Examples of whole groups, for when one is missing.
const (
	shopExample    = `{name: "Annex", zone: "Europe/Brussels"}`
	journalExample = `{file: "/var/lib/pourward/shop.journal"}`
	placeExample   = `{name: bench}`
	pourExample    = `{min: "18 °C", max: "32 °C"}`
	logExample     = `{level: info}`
)

const defaultListen = "127.0.0.1:8673"

func readConfig(g *group) *Config {
	c := &Config{
		Shop:    readShop(g.group("shop", shopExample)),
		Journal: readJournal(g.group("journal", journalExample)),
		Pour:    readWindow(g.optionalGroup("pour", pourExample)),
		Log:     readLog(g.optionalGroup("log", logExample)),
	}
	c.Listen, c.NetworkReason = readListen(g)
	c.Hosts = optional(g, "hosts", keyed.Then(keyed.Text("board.local"), hostNames), nil)
	c.Materials = optional(g, "materials", path(g.dir, "materials.yml"), "")
	d := declared{pushToken: g.Find("push") != nil}
	c.Places, d.places = readPlaces(g.list("places", "place", placeExample))
	c.Brokers, d.brokerNames = readBrokers(g.optionalList("brokers", "broker", brokerExample))
	c.Servers, d.serverNames = readServers(g.optionalList("prometheus", "server", serverExample))
	c.PushToken = readPush(g.optionalGroup("push", pushExample))
	d.brokers = c.Brokers
	c.Probes = readProbes(g.list("probes", "probe", probeExample), d)
	g.Done()
	return c
}

func readShop(g *group) Shop {
	defer g.Done()
	return Shop{
		Name: required(g, "name", keyed.Text("Annex")),
		Zone: required(g, "zone", zone()),
		Unit: optional(g, "unit", tempUnitWord(), Celsius),
	}
}

func readJournal(g *group) Journal {
	defer g.Done()
	return Journal{
		File:  required(g, "file", path(g.dir, "/var/lib/pourward/shop.journal")),
		Flush: optional(g, "flush", duration("60 s", time.Second, time.Minute, "1 s to 60 s"), time.Minute),
	}
}

func readLog(g *group) Log {
	if g == nil {
		return Log{}
	}
	defer g.Done()
	levels := map[string]slog.Level{"debug": slog.LevelDebug, "info": slog.LevelInfo, "warn": slog.LevelWarn, "error": slog.LevelError}
	return Log{
		Level: optional(g, "level", choice("info", levels), slog.LevelInfo),
		JSON:  optional(g, "format", choice("text", map[string]bool{"text": false, "json": true}), false),
	}
}

// Limits of the air a shop may ask for: beyond them a unit was mistaken. Common practice, no source.
const coldestPourC, hottestPourC TempC = 0, 50

func readWindow(g *group) *Window {
	if g == nil {
		return nil
	}
	defer g.Done()
	limit := func(example string) keyed.Want[TempC] {
		return measured(ParseTemp, example, coldestPourC, hottestPourC, "0 °C to 50 °C (32 °F to 122 °F)")
	}
	faults := g.Faults()
	w := &Window{MinC: float64(required(g, "min", limit("18 °C"))), MaxC: float64(required(g, "max", limit("32 °C")))}
	if g.Faults() == faults && w.MaxC-w.MinC < rounding {
		g.Report(g.At("max"), "pour.max is not above pour.min", "write e.g. "+`min: "18 °C", max: "32 °C"`)
	}
	return w
}

// readPlaces gives the places, and every name written for one, sound or not, so that a probe at a
// misspelled place is not reported twice.
func readPlaces(groups []*group) ([]Place, []named) {
	var places []Place
	var declared []named
	for _, g := range groups {
		name := required(g, "name", slug("bench"))
		places = append(places, Place{Name: name, Heated: readHeated(g.optionalGroup("heated", heatedExample))})
		declared = append(declared, g.named("name"))
		g.Done()
	}
	reportTwins(declared, "place", "every place needs a name of its own")
	return places, declared
}

// readListen gives the address to serve on and, when that is open to the network, why.
func readListen(g *group) (address, reason string) {
	allowed := optional(g, "allow_network", keyed.Truth(), false)
	reason = optional(g, "network_reason", keyed.Text("phones on the shop's own Wi-Fi"), "")
	address = optional(g, "listen", keyed.Want[string]{Example: `"127.0.0.1:8673"`, Read: hostPort}, defaultListen)
	if address == "" || isLoopback(address) {
		return address, ""
	}
	switch at := g.At("listen"); {
	case !allowed:
		g.Report(at, "listen: "+strconv.Quote(address)+" lets the network in, and there is no password yet: whoever reaches it can read and mark",
			`write e.g. listen: "127.0.0.1:8673", or allow_network: true with a network_reason`)
	case reason == "":
		g.Report(g.At("allow_network"), "allow_network: nothing says why the network is let in",
			`write e.g. network_reason: "phones on the shop's own Wi-Fi"`)
	}
	return address, reason
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

// isLoopback reports whether only this host can reach address. A name other than localhost may come
// to stand for anything, so it does not count.
func isLoopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && ip.Unmap().IsLoopback()
}
