package page

import (
	"fmt"
	"math"

	"pourward/model"
)

// probeView is a probe in words.
type probeView struct {
	Name, Place, Temp, Humidity, Last, Trouble string
	Believed                                   bool // before the others of its place
}

// probes tells of every probe.
func (v voice) probes(snap *model.Snapshot) []probeView {
	trouble := map[string]string{}
	if snap != nil {
		for _, h := range snap.Health.Probes {
			trouble[h.Name] = h.LastError
		}
	}
	o := outlookOf(snap)
	var out []probeView
	for _, p := range o.Probes {
		view := probeView{Name: p.Name, Place: p.Place, Temp: v.temp(p.TempC), Humidity: v.humidity(p.Humidity), Last: "never", Trouble: trouble[p.Name]}
		if !p.Last.IsZero() {
			view.Last = v.until(p.Last)
		}
		at, _ := o.Place(p.Place)
		view.Believed = at.Probe == p.Name && countAt(o, p.Place) > 1
		switch {
		case view.Trouble != "":
		case p.Silent:
			view.Trouble = "silent"
		case at.OffProbe == p.Name:
			view.Trouble = "disagrees with " + at.Probe
		}
		out = append(out, view)
	}
	return out
}

// countAt counts the probes of a place.
func countAt(o *model.Outlook, place string) int {
	n := 0
	for _, p := range o.Probes {
		if p.Place == place {
			n++
		}
	}
	return n
}

// probesAt tells of the probes of a place where there are several.
func (v voice) probesAt(snap *model.Snapshot, at model.PlaceOutlook) []probeView {
	if countAt(outlookOf(snap), at.Name) < 2 {
		return nil
	}
	var out []probeView
	for _, p := range v.probes(snap) {
		if p.Place == at.Name {
			out = append(out, p)
		}
	}
	return out
}

// off says that two probes of a place disagree, and by how much; empty where none do.
func (v voice) off(p model.PlaceOutlook) string {
	if p.OffProbe == "" {
		return ""
	}
	word := "lower"
	if p.OffK < 0 {
		word = "higher"
	}
	return fmt.Sprintf("%s is believed; %s reads %s %s. A probe comparison is due.", p.Probe, p.OffProbe, v.difference(math.Abs(p.OffK)), word)
}
