package config

import (
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/sensors/network"
)

const (
	brokerExample       = `{name: house, url: "tcp://192.168.1.5:1883"}`
	mqttExample         = `{broker: house, topic: "shop/bench", temperature: ` + inMessageExample + `}`
	inMessageExample    = `{path: temperature, unit: "°C"}`
	humidInExample      = `{path: humidity, unit: "%"}`
	messageTimeExample  = `{path: time, form: rfc3339}`
	availabilityExample = `{topic: "shop/bench/state"}`
)

// longestKept is how long a broker may be asked to keep messages.
const longestKept = 7 * 24 * time.Hour

// readBrokers gives the brokers, and every name written for one, sound or not.
func readBrokers(groups []*group) (brokers []Broker, names []named) {
	for _, g := range groups {
		brokers = append(brokers, readBroker(g))
		names = append(names, g.named("name"))
	}
	reportTwins(names, "broker", "every broker needs a name of its own")
	return brokers, names
}

func readBroker(g *group) Broker {
	defer g.done()
	g.refuseSecrets()
	b := Broker{
		Name:     required(g, "name", slug("house")),
		URL:      required(g, "url", serverURL("tcp://192.168.1.5:1883", false, "tcp", "tls")),
		ClientID: optional(g, "client_id", text("pourward-annex"), ""),
		KeepFor:  optional(g, "keep", duration("12 h", time.Second, longestKept, "1 s to 7 d"), 0),
	}
	b.User, b.PasswordFile = readUser(g)
	b.TLS = readTLS(g, b.URL, "tls")
	if b.KeepFor > 0 && b.ClientID == "" && g.find("client_id") == nil {
		g.report(g.at("keep"), g.path("keep")+": the broker must know whose messages to keep", "write e.g. client_id: pourward-annex")
	}
	return b
}

// refuseSecrets reports secrets that are written into the file.
func (g *group) refuseSecrets() {
	for _, f := range g.node.fields {
		if f.key == "password" || f.key == "token" {
			g.known = append(g.known, f.key)
			g.report(f.at, g.path(f.key)+": no secret is written into this file", "put it into a file of its own and write e.g. "+f.key+`_file: "/etc/pourward/`+f.key+`"`)
		}
	}
}

// readUser reads who to be at a server.
func readUser(g *group) (user, passwordFile string) {
	user = optional(g, "user", text("pourward"), "")
	passwordFile = optional(g, "password_file", path(g.dir, "/etc/pourward/password"), "")
	if passwordFile != "" && user == "" && g.find("user") == nil {
		g.report(g.at("password_file"), g.path("password_file")+": a password needs a user", "write e.g. user: pourward")
	}
	return user, passwordFile
}

// readTLS reads the files of a connection to an address, which is encrypted if its scheme is the one given.
func readTLS(g *group, address, scheme string) network.TLSFiles {
	file := func(key string) string { return optional(g, key, path(g.dir, "/etc/pourward/"+key+".pem"), "") }
	t := network.TLSFiles{CA: file("ca"), Cert: file("cert"), Key: file("key"), ServerName: optional(g, "server_name", text("broker.lan"), "")}
	for _, key := range []string{"ca", "cert", "key", "server_name"} {
		if f := g.find(key); f != nil && address != "" && !strings.HasPrefix(address, scheme+":") {
			g.report(f.at, g.path(key)+": the connection is not encrypted", "write an address that begins with "+scheme+"://, or delete this key")
			return t
		}
	}
	if (t.Cert == "") != (t.Key == "") {
		g.report(g.node.at, g.name+" has a certificate without its key, or a key without its certificate", `write both, e.g. cert: "/etc/pourward/cert.pem", key: "/etc/pourward/key.pem"`)
	}
	return t
}

// serverURL is the address of a server, without user, path and query.
func serverURL(example string, pathAllowed bool, schemes ...string) want[string] {
	return then(text(example), func(s string) (string, error) {
		u, err := url.Parse(s)
		if err != nil {
			return "", wrongf("the address cannot be understood") // its own error could show a password
		}
		port, _ := strconv.Atoi(u.Port())
		switch {
		case u.User != nil:
			return "", wrongf("user and password stand apart from the address, which is shown in logs")
		case !slices.Contains(schemes, u.Scheme):
			return "", wrongf("%q does not begin with %s://", s, strings.Join(schemes, ":// or "))
		case u.Hostname() == "":
			return "", wrongf("%q names no host", s)
		case u.Port() != "" && (port < 1 || port > math.MaxUint16):
			return "", wrongf("%q: %s is no port from 1 to 65535", s, u.Port())
		case u.RawQuery != "" || u.Fragment != "" || !pathAllowed && strings.Trim(u.Path, "/") != "":
			return "", wrongf("%q goes on after what an address needs", s)
		}
		return s, nil
	})
}

func readMQTT(g *group) *MQTT {
	defer g.done()
	m := &MQTT{
		Broker: required(g, "broker", text("house")),
		Topic:  required(g, "topic", topic("shop/bench")),
	}
	readValues(g, &m.Format)
	m.TrustTime = readMessageTime(g.optionalGroup("time", messageTimeExample), &m.Format)
	m.Format.Sequence = optional(g, "sequence", pathIn("sequence"), "")
	m.Format.NumericStrings = optional(g, "quoted_numbers", truth(), false)
	m.Availability = readAvailability(g.optionalGroup("available", availabilityExample))
	return m
}

// topic is the name of a topic (MQTT 5.0, 4.7).
func topic(example string) want[string] {
	return then(text(example), func(s string) (string, error) {
		if strings.ContainsAny(s, "+#\x00") {
			return "", wrongf("%q is a filter for several topics, not the name of one", s)
		}
		return s, nil
	})
}

// pathIn leads to a value inside a message.
func pathIn(example string) want[string] {
	return then(text(example), func(s string) (string, error) {
		if err := network.CheckPath(s); err != nil {
			return "", wrongf("%v", err)
		}
		return s, nil
	})
}

// readValues reads where temperature and humidity stand in a message; one of them must be told.
func readValues(g *group, f *network.Format) {
	if t := g.optionalGroup("temperature", inMessageExample); t != nil {
		f.Temp, f.TempUnit = readField(t, "temperature"), required(t, "unit", arrivingTemp())
		f.Unit = optional(t, "unit_path", pathIn("unit"), "")
		t.done()
	}
	if h := g.optionalGroup("humidity", humidInExample); h != nil {
		f.Humidity, f.HumidityUnit = readField(h, "humidity"), required(h, "unit", arrivingHumidity())
		h.done()
	}
	if g.find("temperature") == nil && g.find("humidity") == nil {
		g.report(g.node.at, g.name+" has neither temperature nor humidity", "write e.g. temperature: "+inMessageExample)
	}
}

func readField(g *group, example string) network.Field {
	return network.Field{Path: required(g, "path", pathIn(example)), Scale: optional(g, "scale", scale(), 0)}
}

// scale is what a number in a message is multiplied with.
func scale() want[float64] {
	return want[float64]{"0.1", func(n *node) (float64, error) {
		if n.kind != numberKind {
			return 0, isNot(n, numberKind)
		}
		v, err := strconv.ParseFloat(n.text, 64)
		if err != nil || !(math.Abs(v) >= 1e-6 && math.Abs(v) <= 1e6) {
			return 0, wrongf("%s is no factor between 0.000001 and 1000000", n.text)
		}
		return v, nil
	}}
}

func arrivingTemp() want[network.TempUnit] {
	return then(text(string(Celsius)), func(s string) (network.TempUnit, error) {
		switch {
		case s == "K":
			return network.Kelvin, nil
		case tempUnit(s) == Celsius:
			return network.Celsius, nil
		case tempUnit(s) == Fahrenheit:
			return network.Fahrenheit, nil
		}
		return 0, wrongf(`%q is none of "°C", "°F" and "K"`, s).insteadWrite(`"°C" or "°F", as the sender means it`)
	})
}

func arrivingHumidity() want[network.HumidityUnit] {
	return choice("%", map[string]network.HumidityUnit{"%": network.Percent, "ratio": network.Ratio})
}

func readMessageTime(g *group, f *network.Format) (trusted bool) {
	if g == nil {
		return false
	}
	defer g.done()
	forms := map[string]network.TimeForm{"rfc3339": network.RFC3339, LayoutUnix: network.UnixSeconds, "unix-ms": network.UnixMillis}
	f.Time = required(g, "path", pathIn("time"))
	f.TimeForm = required(g, "form", choice("rfc3339", forms))
	return optional(g, "trust", truth(), false)
}

func readAvailability(g *group) network.Availability {
	if g == nil {
		return network.Availability{}
	}
	defer g.done()
	return network.Availability{
		Topic: required(g, "topic", topic("shop/bench/state")),
		Path:  optional(g, "path", pathIn("state"), ""),
		Off:   optional(g, "offline", words("offline"), nil),
	}
}

// words is one text, or a list of some.
func words(example string) want[[]string] {
	one := text(example)
	return want[[]string]{one.example, func(n *node) ([]string, error) {
		items := []*node{n}
		if n.kind == listKind {
			items = n.items
		}
		var out []string
		for _, i := range items {
			s, err := one.read(i)
			if err != nil {
				return nil, err
			}
			out = append(out, s)
		}
		if len(out) == 0 {
			return nil, wrongf("nothing is in it")
		}
		return out, nil
	}}
}
