package config

import "pourward/cmd/pourward/internal/keyed"

const (
	serverExample     = `{name: house, url: "http://192.168.1.5:9090"}`
	prometheusExample = `{server: house, temperature: ` + queryExample + `}`
	queryExample      = `{query: 'air_temperature_celsius{room="annex"}', unit: "°C"}`
	humidQueryExample = `{query: 'air_humidity_ratio{room="annex"}', unit: ratio}`
	pushExample       = `{token_file: "/etc/pourward/push.token"}`
	pushedExample     = `{temperature_unit: "°C"}`
)

// readServers gives the servers, and every name written for one, sound or not.
func readServers(groups []*group) (servers []Server, names []named) {
	for _, g := range groups {
		servers = append(servers, readServer(g))
		names = append(names, g.named("name"))
	}
	reportTwins(names, "server", "every server needs a name of its own")
	return servers, names
}

func readServer(g *group) Server {
	defer g.Done()
	g.refuseSecrets()
	s := Server{
		Name:      required(g, "name", slug("house")),
		URL:       required(g, "url", serverURL("http://192.168.1.5:9090", true, "http", "https")),
		TokenFile: optional(g, "token_file", path(g.dir, "/etc/pourward/token"), ""),
	}
	s.User, s.PasswordFile = readUser(g)
	s.TLS = readTLS(g, reaches(s.URL, "https"))
	if s.TokenFile != "" && s.User != "" {
		g.Report(g.At("token_file"), g.Path("token_file")+": a server is shown a token or a user, not both", "delete one of them")
	}
	return s
}

func readPrometheus(g *group) *Prometheus {
	defer g.Done()
	p := &Prometheus{Server: required(g, "server", keyed.Text("house"))}
	if t := g.optionalGroup("temperature", queryExample); t != nil {
		p.Temp, p.TempUnit = required(t, "query", keyed.Text("air_temperature_celsius")), required(t, "unit", arrivingTemp())
		t.Done()
	}
	if h := g.optionalGroup("humidity", humidQueryExample); h != nil {
		p.Humidity, p.HumidityUnit = required(h, "query", keyed.Text("air_humidity_ratio")), required(h, "unit", arrivingHumidity())
		h.Done()
	}
	if g.Find("temperature") == nil && g.Find("humidity") == nil {
		g.Report(g.Node.At, g.Name+" has neither temperature nor humidity", "write e.g. temperature: "+queryExample)
	}
	return p
}

// readPush gives the file with the token that may speak for every pushed probe.
func readPush(g *group) string {
	if g == nil {
		return ""
	}
	defer g.Done()
	g.refuseSecrets()
	return required(g, "token_file", path(g.dir, "/etc/pourward/push.token"))
}

func readPushed(g *group) *Pushed {
	defer g.Done()
	g.refuseSecrets()
	return &Pushed{
		TokenFile:    optional(g, "token_file", path(g.dir, "/etc/pourward/bench.token"), ""),
		TempUnit:     optional(g, "temperature_unit", arrivingTemp(), 0),
		HumidityUnit: optional(g, "humidity_unit", arrivingHumidity(), 0),
		TrustTime:    optional(g, "trust_time", keyed.Truth(), false),
	}
}
