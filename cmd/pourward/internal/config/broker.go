package config

import (
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/cmd/pourward/internal/keyed"
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
	defer g.Done()
	g.refuseSecrets()
	b := Broker{
		Name:     required(g, "name", slug("house")),
		URL:      required(g, "url", serverURL("tcp://192.168.1.5:1883", false, "tcp", "tls")),
		ClientID: optional(g, "client_id", keyed.Text("pourward-annex"), ""),
		KeepFor:  optional(g, "keep", duration("12 h", time.Second, longestKept, "1 s to 7 d"), 0),
	}
	b.User, b.PasswordFile = readUser(g)
	b.TLS = readTLS(g, reaches(b.URL, "tls"))
	if b.KeepFor > 0 && b.ClientID == "" && g.Find("client_id") == nil {
		g.Report(g.At("keep"), g.Path("keep")+": the broker must know whose messages to keep", "write e.g. client_id: pourward-annex")
	}
	return b
}

// refuseSecrets reports secrets that are written into the file.
func (g *group) refuseSecrets() {
	for _, f := range g.Node.Keys {
		if f.Name == "password" || f.Name == "token" {
			g.Know(f.Name)
			g.Report(f.At, g.Path(f.Name)+": no secret is written into this file", "put it into a file of its own and write e.g. "+f.Name+`_file: "/etc/pourward/`+f.Name+`"`)
		}
	}
}

// readUser reads who to be at a server.
func readUser(g *group) (user, passwordFile string) {
	user = optional(g, "user", keyed.Text("pourward"), "")
	passwordFile = optional(g, "password_file", path(g.dir, "/etc/pourward/password"), "")
	if passwordFile != "" && user == "" && g.Find("user") == nil {
		g.Report(g.At("password_file"), g.Path("password_file")+": a password needs a user", "write e.g. user: pourward")
	}
	return user, passwordFile
}

// reaches tells what to write against files of a connection that is not encrypted; nothing where it is, as its
// scheme says, or where there is no address.
func reaches(address, scheme string) (fix string) {
	if address == "" || strings.HasPrefix(address, scheme+":") {
		return ""
	}
	return "write an address that begins with " + scheme + "://, or delete this key"
}

// readTLS reads the files of a connection, which is encrypted if there is no fix for it.
func readTLS(g *group, fix string) network.TLSFiles {
	file := func(key string) string { return optional(g, key, path(g.dir, "/etc/pourward/"+key+".pem"), "") }
	t := network.TLSFiles{CA: file("ca"), Cert: file("cert"), Key: file("key"), ServerName: optional(g, "server_name", keyed.Text("broker.lan"), "")}
	for _, key := range []string{"ca", "cert", "key", "server_name"} {
		if f := g.Find(key); f != nil && fix != "" {
			g.Report(f.At, g.Path(key)+": the connection is not encrypted", fix)
			return t
		}
	}
	if (t.Cert == "") != (t.Key == "") {
		g.Report(g.Node.At, g.Name+" has a certificate without its key, or a key without its certificate", `write both, e.g. cert: "/etc/pourward/cert.pem", key: "/etc/pourward/key.pem"`)
	}
	return t
}

// serverURL is the address of a server, without user, path and query.
func serverURL(example string, pathAllowed bool, schemes ...string) keyed.Want[string] {
	return keyed.Then(keyed.Text(example), func(s string) (string, error) {
		u, err := url.Parse(s)
		if err != nil {
			return "", keyed.Wrongf("the address cannot be understood") // its own error could show a password
		}
		port, _ := strconv.Atoi(u.Port())
		switch {
		case u.User != nil:
			return "", keyed.Wrongf("user and password stand apart from the address, which is shown in logs")
		case !slices.Contains(schemes, u.Scheme):
			return "", keyed.Wrongf("%q does not begin with %s://", s, strings.Join(schemes, ":// or "))
		case u.Hostname() == "":
			return "", keyed.Wrongf("%q names no host", s)
		case u.Port() != "" && (port < 1 || port > math.MaxUint16):
			return "", keyed.Wrongf("%q: %s is no port from 1 to 65535", s, u.Port())
		case u.RawQuery != "" || u.Fragment != "" || !pathAllowed && strings.Trim(u.Path, "/") != "":
			return "", keyed.Wrongf("%q goes on after what an address needs", s)
		}
		return s, nil
	})
}

func readMQTT(g *group) *MQTT {
	defer g.Done()
	m := &MQTT{
		Broker: required(g, "broker", keyed.Text("house")),
		Topic:  required(g, "topic", topic("shop/bench")),
	}
	readValues(g, &m.Format)
	m.TrustTime = readMessageTime(g.optionalGroup("time", messageTimeExample), &m.Format)
	m.Format.Sequence = optional(g, "sequence", pathIn("sequence"), "")
	m.Format.NumericStrings = optional(g, "quoted_numbers", keyed.Truth(), false)
	m.Availability = readAvailability(g.optionalGroup("available", availabilityExample))
	return m
}

// topic is the name of a topic (MQTT 5.0, 4.7).
func topic(example string) keyed.Want[string] {
	return keyed.Then(keyed.Text(example), func(s string) (string, error) {
		if strings.ContainsAny(s, "+#\x00") {
			return "", keyed.Wrongf("%q is a filter for several topics, not the name of one", s)
		}
		return s, nil
	})
}

// pathIn leads to a value inside a message.
func pathIn(example string) keyed.Want[string] {
	return keyed.Then(keyed.Text(example), func(s string) (string, error) {
		if err := network.CheckPath(s); err != nil {
			return "", keyed.Wrongf("%v", err)
		}
		return s, nil
	})
}

// readValues reads where temperature and humidity stand in a message; one of them must be told.
func readValues(g *group, f *network.Format) {
	if t := g.optionalGroup("temperature", inMessageExample); t != nil {
		f.Temp, f.TempUnit = readField(t, "temperature"), required(t, "unit", arrivingTemp())
		f.Unit = optional(t, "unit_path", pathIn("unit"), "")
		t.Done()
	}
	if h := g.optionalGroup("humidity", humidInExample); h != nil {
		f.Humidity, f.HumidityUnit = readField(h, "humidity"), required(h, "unit", arrivingHumidity())
		h.Done()
	}
	if g.Find("temperature") == nil && g.Find("humidity") == nil {
		g.Report(g.Node.At, g.Name+" has neither temperature nor humidity", "write e.g. temperature: "+inMessageExample)
	}
}

func readField(g *group, example string) network.Field {
	return network.Field{Path: required(g, "path", pathIn(example)), Scale: optional(g, "scale", scale(), 0)}
}

// scale is what a number in a message is multiplied with.
func scale() keyed.Want[float64] {
	return keyed.Want[float64]{Example: "0.1", Read: func(n *keyed.Node) (float64, error) {
		if n.Kind != keyed.NumberKind {
			return 0, keyed.IsNot(n, keyed.NumberKind)
		}
		v, err := strconv.ParseFloat(n.Text, 64)
		if err != nil || !(math.Abs(v) >= 1e-6 && math.Abs(v) <= 1e6) {
			return 0, keyed.Wrongf("%s is no factor between 0.000001 and 1000000", n.Text)
		}
		return v, nil
	}}
}

func arrivingTemp() keyed.Want[network.TempUnit] {
	return keyed.Then(keyed.Text(string(Celsius)), func(s string) (network.TempUnit, error) {
		switch {
		case s == "K":
			return network.Kelvin, nil
		case tempUnit(s) == Celsius:
			return network.Celsius, nil
		case tempUnit(s) == Fahrenheit:
			return network.Fahrenheit, nil
		}
		return 0, keyed.Wrongf(`%q is none of "°C", "°F" and "K"`, s).InsteadWrite(`"°C" or "°F", as the sender means it`)
	})
}

func arrivingHumidity() keyed.Want[network.HumidityUnit] {
	return choice("%", map[string]network.HumidityUnit{"%": network.Percent, "ratio": network.Ratio})
}

func readMessageTime(g *group, f *network.Format) (trusted bool) {
	if g == nil {
		return false
	}
	defer g.Done()
	forms := map[string]network.TimeForm{"rfc3339": network.RFC3339, LayoutUnix: network.UnixSeconds, "unix-ms": network.UnixMillis}
	f.Time = required(g, "path", pathIn("time"))
	f.TimeForm = required(g, "form", choice("rfc3339", forms))
	return optional(g, "trust", keyed.Truth(), false)
}

func readAvailability(g *group) network.Availability {
	if g == nil {
		return network.Availability{}
	}
	defer g.Done()
	return network.Availability{
		Topic: required(g, "topic", topic("shop/bench/state")),
		Path:  optional(g, "path", pathIn("state"), ""),
		Off:   optional(g, "offline", words("offline"), nil),
	}
}

// words is one text, or a list of some.
func words(example string) keyed.Want[[]string] {
	one := keyed.Text(example)
	return keyed.Want[[]string]{Example: one.Example, Read: func(n *keyed.Node) ([]string, error) {
		items := []*keyed.Node{n}
		if n.Kind == keyed.ListKind {
			items = n.Items
		}
		var out []string
		for _, i := range items {
			if i.Kind == keyed.Spoiled {
				continue
			}
			s, err := one.Read(i)
			if err != nil {
				return nil, err
			}
			out = append(out, s)
		}
		if len(out) == 0 {
			return nil, keyed.Wrongf("nothing is in it")
		}
		return out, nil
	}}
}
