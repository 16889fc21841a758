package config

import (
	"time"

	"pourward/cmd/pourward/internal/keyed"
)

const (
	recordedExample    = `{file: "annex.csv", time: ` + timeExample + `, temperature: ` + temperatureExample + `}`
	timeExample        = `{column: time, layout: rfc3339}`
	temperatureExample = `{column: temp_c, unit: "°C"}`
	humidityExample    = `{column: rh_pct, unit: "%"}`
)

func readRecorded(g *group) *Recorded {
	defer g.Done()
	return &Recorded{
		File:        required(g, "file", path(g.dir, "annex.csv")),
		Time:        readTime(g.group("time", timeExample)),
		Temperature: readTemperature(g.group("temperature", temperatureExample)),
		Humidity:    readHumidity(g.optionalGroup("humidity", humidityExample)),
		Speed:       optional(g, "pace", pace(), 1),
	}
}

func readTime(g *group) TimeColumn {
	defer g.Done()
	t := TimeColumn{
		Column: required(g, "column", keyed.Text("time")),
		Layout: required(g, "layout", keyed.Then(keyed.Text("rfc3339"), layout)),
	}
	switch given := g.Find("zone"); {
	case t.Layout == "":
		t.Zone = optional(g, "zone", zone(), time.UTC)
	case isLocal(t.Layout):
		t.Zone = required(g, "zone", zone())
	case given != nil:
		g.Report(given.At, g.Path("zone")+": the layout already settles the zone", "delete this key, or write a layout of local times")
	default:
		t.Zone = time.UTC
	}
	return t
}

func readTemperature(g *group) TempColumn {
	defer g.Done()
	return TempColumn{
		Column: required(g, "column", keyed.Text("temp_c")),
		Unit:   required(g, "unit", tempUnitWord()),
	}
}

func readHumidity(g *group) *HumidityColumn {
	if g == nil {
		return nil
	}
	defer g.Done()
	return &HumidityColumn{
		Column:  required(g, "column", keyed.Text("rh_pct")),
		Percent: required(g, "unit", choice("%", map[string]bool{"%": true, "ratio": false})),
	}
}

// layout reads a layout's name, or one in the form of package time that tells at least the minute.
func layout(s string) (string, error) {
	switch s {
	case "rfc3339":
		return time.RFC3339, nil
	case LayoutUnix:
		return s, nil
	}
	probe := time.Date(1987, time.December, 23, 17, 48, 0, 0, time.UTC)
	back, err := time.ParseInLocation(s, probe.Format(s), time.UTC)
	if err != nil || !back.Equal(probe) {
		return "", keyed.Wrongf("%q is no layout: it must show 2006-01-02 15:04:05 the way the file would write it", s).
			InsteadWrite(`"2006-01-02 15:04" or rfc3339`)
	}
	return s, nil
}

// isLocal reports whether times in layout depend on a zone the text does not name: then the same text
// means another instant elsewhere.
func isLocal(layout string) bool {
	if layout == LayoutUnix {
		return false
	}
	elsewhere := time.FixedZone("XYZ", 5*60*60)
	text := time.Unix(0, 0).In(elsewhere).Format(layout)
	here, err := time.ParseInLocation(layout, text, time.UTC)
	return err != nil || !here.Equal(time.Unix(0, 0))
}
