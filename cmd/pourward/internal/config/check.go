package config

import (
	"fmt"
	"slices"

	"pourward/cmd/pourward/internal/keyed"
)

// named is a name somebody wrote, with where it stands.
type named struct {
	*group
	name string // empty when none was written
	at   keyed.Spot
}

// named gives what is written at key, sound or not.
func (g *group) named(key string) named {
	if f := g.Look(key); f != nil && f.Value.Kind == keyed.TextKind {
		return named{g, f.Value.Text, f.Value.At}
	}
	return named{group: g, at: g.Node.At}
}

// inner is the group at key as it was written, an empty one when there is none. It is for looking again
// at what has been read.
func (g *group) inner(key string) *group {
	if f := g.Look(key); f != nil && f.Value.Kind == keyed.GroupKind {
		return g.open(g.Path(key), f.Value)
	}
	return g.open(g.Path(key), &keyed.Node{At: g.At(key)})
}

// declared is what probes refer to by name, and whether there is a token for all that push.
type declared struct {
	places, brokerNames, serverNames []named
	brokers                          []Broker
	pushToken                        bool
}

// checkProbes reports what is wrong between probes, and between them and what they refer to.
func checkProbes(groups []*group, probes []Probe, d declared) {
	var names, places, brokers, servers, devices []named
	seen := bridges{}
	for i, g := range groups {
		names = append(names, g.named("name"))
		places = append(places, g.named("place"))
		brokers = append(brokers, g.inner("mqtt").named("broker"))
		servers = append(servers, g.inner("prometheus").named("server"))
		devices = append(devices, seen.devices(g, &probes[i])...)
		g.checkWaiting(&probes[i], d.brokers)
		g.checkToken(&probes[i], d.pushToken)
	}
	reportTwins(names, "probe", "every probe needs a name of its own")
	reportTwins(devices, "device", "two probes cannot be one device")
	reportDangling(places, d.places, "place", "places", placeExample)
	reportDangling(brokers, d.brokerNames, "broker", "brokers", brokerExample)
	reportDangling(servers, d.serverNames, "server", "prometheus", serverExample)
}

// sitsAt is where the kind of the probe is told.
func (g *group) sitsAt() keyed.Spot {
	for _, k := range probeKinds() {
		if f := g.Look(k.key); f != nil && f.Value.Kind != keyed.Spoiled {
			return f.Value.At
		}
	}
	return g.Node.At
}

// bridges are the bridges seen so far; several probes may be behind one.
type bridges map[string]bool

// devices names what a probe sits on: the chip, and for the first probe behind a bridge that as well.
func (b bridges) devices(g *group, p *Probe) []named {
	out := []named{{g, p.device(), g.sitsAt()}}
	if p.Bridged == nil {
		return out
	}
	if at := p.Bridged.Bridge.String(); !b[at] {
		b[at] = true
		out = append(out, named{g, at, g.sitsAt()})
	}
	return out
}

// checkToken reports a pushed probe for which anyone could speak.
func (g *group) checkToken(p *Probe, shared bool) {
	if p.Pushed != nil && !shared && g.inner("push").Look("token_file") == nil {
		g.Report(g.At("push"), g.Path("push")+": there is no token, so anyone could speak for the probe",
			"write outside of the probes e.g. push: "+pushExample)
	}
}

// checkWaiting reports a probe whose messages the broker keeps and that could only be stamped on arrival.
func (g *group) checkWaiting(p *Probe, brokers []Broker) {
	if p.MQTT == nil || p.MQTT.TrustTime {
		return
	}
	if slices.ContainsFunc(brokers, func(b Broker) bool { return b.Name == p.MQTT.Broker && b.KeepFor > 0 }) {
		g.Report(g.At("mqtt"), fmt.Sprintf("%s: broker %q keeps messages while the daemon is away, so they must tell their time", g.Path("mqtt"), p.MQTT.Broker),
			"write e.g. time: {path: time, form: rfc3339, trust: true}, or delete keep at the broker")
	}
}

// reportTwins reports every name that was there before.
func reportTwins(all []named, what, fix string) {
	first := map[string]keyed.Spot{}
	for _, n := range all {
		before, twice := first[n.name]
		switch {
		case n.name == "":
		case twice:
			n.Report(n.at, fmt.Sprintf("%s %q is here a second time, first on line %d", what, n.name, before.Line), fix)
		default:
			first[n.name] = n.at
		}
	}
}

// reportDangling reports every use of a name that is not declared. key is where it would be, in the form
// of the example.
func reportDangling(uses, declared []named, what, key, example string) {
	var names []string
	known := map[string]bool{"": true}
	for _, d := range declared {
		if !known[d.name] {
			names = append(names, d.name)
		}
		known[d.name] = true
	}
	for _, u := range uses {
		switch {
		case known[u.name]:
		case len(names) == 0:
			u.Report(u.at, fmt.Sprintf("there is no %s %q, nor any other", what, u.name), fmt.Sprintf("write outside of the probes e.g. %s: [%s]", key, example))
		default:
			u.Report(u.at, fmt.Sprintf("there is no %s %q", what, u.name), keyed.Suggestion(u.name, names))
		}
	}
}
