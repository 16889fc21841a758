//lint:file-ignore SA1019 the second schema is still a beta of Grafana's own; every release of it reads the first

package grafana

import (
	"fmt"

	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/units"

	"pourward/alerts"
	"pourward/dashboards/metrics"
)

// Names of what the rules for many shops record (alerts/fleet/fleet.rules.yml).
const (
	shopUp       = "shop:up:min"
	shopMolds    = "shop:pourward_open_molds:sum"
	shopProbes   = "shop:pourward_probe_info:count"
	shopSilent   = "shop:pourward_probe_silent:sum"
	shopFailed   = "shop:pourward_probe_read_errors_per_reads:ratio_rate5m"
	shopMargin   = "shop:pourward_place_above_pour_window_min_celsius:min"
	shopWaiting  = "shop:pourward_journal_waiting_readings:sum"
	shopCalling  = "shop:pourward_alerts_firing:count"
	shopSeverity = "shop_severity:pourward_alerts_firing:count"
	shopKindLeft = "shop_kind:pourward_step_left_seconds:min"
)

// fleet is the dashboard of many shops. It also works on a central Prometheus, which has what the rules
// recorded and little else.
func fleet() *dashboard.DashboardBuilder {
	return board("pourward-fleet", "Pourward: the shops",
		"Which of many shops needs someone. Needs the rules for many shops, fleet.rules.yml.",
		section{"Who needs someone", needPanels()},
		section{"How they stand", standPanels()},
		section{"Daemons and probes", daemonPanels()},
	)
}

func needPanels() panels {
	quiet, calls := limit{0, pineColour}, limit{1, clayColour}
	return panels{
		number("Shops watched", "Shops with a daemon in the target files.", units.NoUnit, 6,
			query{fmt.Sprintf("count(%s)", recorded(shopUp)), "shops"}).Thresholds(limits(inkColour)),
		number("Need someone", "Shops where an alert fires that is more than news.", units.NoUnit, 6,
			query{fmt.Sprintf("count(%s > 0) or vector(0)", recorded(shopCalling)), "shops"}).Thresholds(limits(pineColour, quiet, calls)),
		number("Not heard", "Shops with a daemon that does not answer.", units.NoUnit, 6,
			query{fmt.Sprintf("count(%s == 0) or vector(0)", recorded(shopUp)), "shops"}).Thresholds(limits(pineColour, quiet, calls)),
		number("Silent probes", "In all shops.", units.NoUnit, 6,
			query{fmt.Sprintf("sum(%s)", recorded(shopSilent)), "probes"}).Thresholds(limits(pineColour, quiet, calls)),
		list("By shop", "Alerts that are more than news, probes that are silent, molds in work, and how far the coldest place with a mold is above what may be poured at.", half,
			[]column{{"shop", "shop"}, {"Value #A", "alerts"}, {"Value #B", "silent probes"}, {"Value #C", "open molds"}, {"Value #D", "above the window, °C"}, {"Value #E", "answers"}},
			query{expr: recorded(shopCalling)}, query{expr: recorded(shopSilent)}, query{expr: recorded(shopMolds)},
			query{expr: recorded(shopMargin)}, query{expr: recorded(shopUp)}),
		list("Calling", "Alerts that fire, in every shop.", half,
			[]column{{"shop", "shop"}, {"severity", "how urgent"}, {"alertname", "alert"}, {"mold", "mold"}, {"step", "step"}, {"place", "place"}, {"probe", "probe"}},
			query{expr: firing()}),
	}
}

func standPanels() panels {
	answers := flag(state{"not heard", clayColour}, state{"answers", pineColour})
	return panels{
		lines("Coldest place with an open mold, above its pour window", "Below 0 it is too cold to pour there.", units.Celsius, half,
			query{recorded(shopMargin), "{{shop}}"}).Thresholds(limits(clayColour, limit{0, pineColour})),
		lines("Next to be done", "Until nine in ten like it are done; of a working life, until one in ten is over. By shop, the first of each kind.", left, half,
			query{recorded(shopKindLeft), "{{shop}}, {{kind}}"}),
		course("Daemons", "", half, answers, query{recorded(shopUp), "{{shop}}"}),
		lines("Alerts that fire", "By how urgent.", units.NoUnit, half, query{recorded(shopSeverity), "{{shop}}, {{severity}}"}).Min(0),
	}
}

func daemonPanels() panels {
	silent := fmt.Sprintf("%s == 1", chosen(metrics.ProbeSilent))
	return panels{
		list("Probes not heard", "Each probe that gives nothing to trust.", third,
			[]column{{"shop", "shop"}, {"probe", "probe"}, {"instance", "daemon"}}, query{expr: silent}),
		lines("Silent probes", "", units.NoUnit, third, query{recorded(shopSilent), "{{shop}}"}).Min(0),
		lines("Probes", "All that are set up.", units.NoUnit, third, query{recorded(shopProbes), "{{shop}}"}).Min(0),
		lines("Reads that failed", "Share of the attempts.", units.PercentUnit, third, query{recorded(shopFailed), "{{shop}}"}).Min(0),
		lines("Readings not yet safe", "", units.NoUnit, third, query{recorded(shopWaiting), "{{shop}}"}).Min(0),
		list("Versions", "What each daemon was built from, and since when it runs.", third,
			[]column{{"shop", "shop"}, {"instance", "daemon"}, {"version", "version"}, {"revision", "revision"}, {"goversion", "Go"}, {"Value", "runs for"}},
			query{expr: fmt.Sprintf("max by (shop, instance, version, revision, goversion) (\n  pourward_build_info{job=%q, shop=~\"$shop\"}\n  * on (instance, job) group_left ()\n  (%s)\n)",
				alerts.JobName, since(chosen(metrics.Started)))}).
			OverrideByName("runs for", []dashboard.DynamicConfigValue{{Id: "unit", Value: left}}),
	}
}
