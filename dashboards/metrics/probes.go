package metrics

import (
	"pourward/model"
	"pourward/sensors"
)

// Names of what tells of a probe.
const (
	ProbeInfo        = "pourward_probe_info"
	ProbeLastSuccess = "pourward_probe_last_success_timestamp_seconds"
	ProbeSilent      = "pourward_probe_silent"
	ProbeInterval    = "pourward_probe_interval_seconds"
	ProbeTemperature = "pourward_probe_temperature_celsius"
	ProbeHumidity    = "pourward_probe_relative_humidity_ratio"
	ProbeReads       = "pourward_probe_reads_total"
	ProbeReadErrors  = "pourward_probe_read_errors_total"
)

func probesTable() []Metric {
	const probe = "probe"
	return []Metric{
		plain(ProbeInfo, Facts, "Where each probe sits. Always 1.", probe, "place"),
		moment(ProbeLastSuccess, "When the probe last gave a reading that can be trusted, by the shop clock; 0 when it never did.", probe),
		plain(ProbeSilent, Flag, "1 when the probe has given nothing to trust for three of its intervals, and at least two minutes.", probe),
		quantity(ProbeInterval, seconds, "How often the probe should speak.", probe),
		quantity(ProbeTemperature, celsius, "Temperature the probe last gave. Absent while it is silent.", probe),
		quantity(ProbeHumidity, ratio, "Relative humidity over liquid water the probe last gave, from 0 to 1. Absent while it is silent or where it measures none.", probe),
		plain(ProbeReads, Count, "Attempts to read the probe since the daemon started.", probe),
		plain(ProbeReadErrors, Count, "Attempts that gave nothing to trust since the daemon started, by what was wrong.", probe, "fault"),
	}
}

func collectProbes(to sink, s *model.Snapshot) {
	for _, p := range s.Outlook.Probes {
		to.put(ProbeInfo, 1, p.Name, p.Place)
		to.put(ProbeLastSuccess, unixSeconds(p.Last), p.Name)
		to.flag(ProbeSilent, p.Silent, p.Name)
		to.put(ProbeInterval, p.Every.Seconds(), p.Name)
		if !p.Silent {
			to.quantity(ProbeTemperature, p.TempC, p.Name)
			to.quantity(ProbeHumidity, p.Humidity, p.Name)
		}
	}
	for _, p := range s.Health.Probes {
		to.put(ProbeReads, float64(p.Reads), p.Name)
		for _, f := range sensors.Faults() {
			to.put(ProbeReadErrors, float64(p.Faults[f]), p.Name, f.String())
		}
	}
}
