package loop

import (
	"maps"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// health counts what the loop sees of its own machinery.
type health struct {
	started time.Time
	probes  []model.ProbeHealth
	journal model.JournalHealth
}

func (h *health) begin(now time.Time, probes []model.Probe) {
	h.started = now
	for _, p := range probes {
		h.probes = append(h.probes, model.ProbeHealth{Name: p.Name, Faults: map[sensors.Fault]uint64{}})
	}
}

// count notes one attempt of a probe.
func (h *health) count(r sensors.Reading) {
	for i := range h.probes {
		p := &h.probes[i]
		if p.Name != r.Probe {
			continue
		}
		p.Reads++
		for _, m := range []sensors.Measure{r.Temp, r.Humidity} {
			if m.Fault != sensors.NoFault {
				p.Faults[m.Fault]++
				break
			}
		}
		if r.Err != nil {
			p.LastError = r.Err.Error()
		} else if r.Temp.OK() {
			p.LastError = ""
		}
		return
	}
}

// snapshot copies the counts, since those published are never changed.
func (h *health) snapshot() model.Health {
	out := model.Health{Started: h.started, Journal: h.journal}
	for _, p := range h.probes {
		p.Faults = maps.Clone(p.Faults)
		out.Probes = append(out.Probes, p)
	}
	return out
}
