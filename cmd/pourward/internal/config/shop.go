package config

import (
	"fmt"
	"log/slog"
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

func readConfig(g *group) *Config {
	c := &Config{
		Shop:    readShop(g.group("shop", shopExample)),
		Journal: readJournal(g.group("journal", journalExample)),
		Pour:    readWindow(g.optionalGroup("pour", pourExample)),
		Scale:   readScale(g.optionalGroup("scale", scaleExample)),
		Rates:   readRates(g.optionalGroup("rates", ratesExample)),
		Log:     readLog(g.optionalGroup("log", logExample)),
	}
	c.PatchesVouchFor = readPatches(g.optionalGroup("patches", patchesExample))
	c.Listen, c.Access = readListen(g)
	c.Hosts = optional(g, "hosts", keyed.Then(keyed.Text("board.local"), hostNames), nil)
	c.Work = optional(g, "work", workHours(), nil)
	c.Materials = optional(g, "materials", path(g.dir, "materials.yml"), "")
	d := declared{pushToken: g.Find("push") != nil}
	c.Places, d.places = readPlaces(g.list("places", "place", placeExample))
	c.Brokers, d.brokerNames = readBrokers(g.optionalList("brokers", "broker", brokerExample))
	c.Servers, d.serverNames = readServers(g.optionalList("prometheus", "server", serverExample))
	c.PushToken = readPush(g.optionalGroup("push", pushExample))
	c.Alerts = readAlerts(g.optionalGroup("alerts", alertsExample))
	d.brokers = c.Brokers
	c.Probes = readProbes(g.list("probes", "probe", probeExample), d)
	checkAskBack(g, c)
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
		File:    required(g, "file", path(g.dir, "/var/lib/pourward/shop.journal")),
		Flush:   optional(g, "flush", duration("60 s", time.Second, time.Minute, "1 s to 60 s"), time.Minute),
		AskBack: optional(g, "ask_back", duration("30 d", 3*day, 400*day, "3 d to 400 d"), 0),
	}
}

const day = 24 * time.Hour

// checkAskBack reports a probe whose readings nobody would have when the daemon ends.
func checkAskBack(g *group, c *Config) {
	if c.Journal.AskBack == 0 {
		return
	}
	for _, p := range c.Probes {
		if p.Prometheus == nil {
			j := g.inner("journal")
			j.Report(j.At("ask_back"), fmt.Sprintf("journal.ask_back: the journal would keep no readings, and those of probe %q are on no Prometheus server to be asked for again", p.Name),
				"delete ask_back, or give the probe e.g. prometheus: "+prometheusExample)
			return
		}
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
