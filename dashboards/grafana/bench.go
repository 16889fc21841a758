//lint:file-ignore SA1019 the second schema is still a beta of Grafana's own; every release of it reads the first

package grafana

import (
	"fmt"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/common"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/units"

	"pourward/dashboards/metrics"
	"pourward/model"
)

type panels = []cog.Builder[dashboard.Panel]

// bench is the dashboard of one bench, or of a few beside each other.
func bench() *dashboard.DashboardBuilder {
	return board("pourward-bench", "Pourward: the bench",
		"The places of a shop, what dries and cures there, and whether it is fit to pour. Spans of time count from now, by the shop clock.",
		section{"What wants you", nowPanels()},
		section{"The air", airPanels()},
		section{"Fit to pour", fitPanels()},
		section{"Test patches", patchPanels()},
		section{"Steps", stepPanels()},
		section{"Late or wrong", doubtPanels()},
		section{"Probes and record", recordPanels()},
	)
}

func verdicts() []state {
	return []state{
		{string(model.FitCannot), slateColour}, {string(model.NotFit), clayColour}, {string(model.Fit), pineColour},
	}
}

func nowPanels() panels {
	return panels{
		list("Calling", "Alerts that fire. ALERTS.md tells what each means and what to do.", half,
			[]column{{"severity", "how urgent"}, {"alertname", "alert"}, {"mold", "mold"}, {"step", "step"}, {"place", "place"}, {"probe", "probe"}},
			query{expr: firing()}),
		number("The air, to pour in", "The verdict of each place that holds now, by the air alone.", units.NoUnit, third-2,
			query{chosen(metrics.PlacePourVerdict) + " == 1", "{{place}}: {{" + metrics.PlacePourVerdict + "}}"}).
			TextMode(common.BigValueTextModeName).Height(tall).Thresholds(limits(inkColour)),
		number("Open molds", "Molds begun and not yet demolded.", units.NoUnit, third-2,
			query{chosen(metrics.OpenMolds), "open"}).Height(tall).Thresholds(limits(inkColour)),
	}
}

func airPanels() panels {
	return panels{
		dashed(lines("Temperature and pour window",
			"Temperature of each place, between the dashed limits within which the rubbers planned there may be poured; and the lowest that is likely within the next 24 hours, where an open mold needs to know.",
			units.Celsius, full,
			query{chosen(metrics.PlaceTemperature), "{{place}}"},
			query{chosen(metrics.PlaceColdestAhead), "{{place}}, coldest ahead"},
			query{chosen(metrics.PlaceWindowMin), "{{place}}, pour from"},
			query{chosen(metrics.PlaceWindowMax), "{{place}}, pour up to"}), "pour from|pour up to"),
		lines("Above the dew point", "By how much the air of a place is warmer than its dew point. A surface that is colder than the air by this much gets wet.",
			units.Celsius, half, query{chosen(metrics.PlaceTemperature) + " - " + chosen(metrics.PlaceDewPoint), "{{place}}"}),
		lines("Relative humidity", "Over liquid water.", units.PercentUnit, half, query{chosen(metrics.PlaceHumidity), "{{place}}"}),
	}
}

func fitPanels() panels {
	against := flag(state{"no", slateColour}, state{"against", strawColour})
	return panels{
		course("Verdict on the air of a place", "", half, verdicts(), query{holding(metrics.PlacePourVerdict, verdicts()), "{{place}}"}),
		course("Verdict on a mold", "Until it is poured.", half, verdicts(), query{holding(metrics.MoldPourVerdict, verdicts()), "{{mold}}"}),
		course("What speaks against pouring, or for care", "METRICS.md names what each reason is about; the page words it.", half, against,
			query{chosen(metrics.MoldPourReason) + " == 1", "{{mold}}: {{reason}}"},
			query{chosen(metrics.PlacePourReason) + " == 1", "{{place}}: {{reason}}"}),
		course("Patches and the surface, against pouring", "What patches do not vouch for, and a surface that is known to inhibit.", half, against,
			query{chosen(metrics.MoldPourReason, `reason=~"patch-.+|face-risky"`) + " == 1", "{{mold}}: {{reason}}"}),
		lines("Until it turns fit", "Nine in ten by the forecast; and if the place were held at room warmth from now on.", left, full,
			query{until(chosen(metrics.MoldPourFrom)), "{{mold}}"},
			query{until(chosen(metrics.MoldPourWarmed)), "{{mold}}, if warmed"}),
	}
}

// standings are in the order in which a step goes through them.
func standings() []state {
	return []state{
		{string(model.CannotSay), slateColour}, {string(model.Running), inkColour}, {string(model.Maybe), strawColour},
		{string(model.Ready), pineColour}, {string(model.Ending), strawColour}, {string(model.Over), clayColour},
		{string(model.Doubtful), clayColour}, {string(model.Closed), slateColour},
	}
}

func stepPanels() panels {
	open := []column{{"mold", "mold"}, {"step", "step"}, {"kind", "kind"}, {"Value #A", "one in ten in"}, {"Value #B", "likely in"}, {"Value #C", "nine in ten in"}}
	return panels{
		course("Standing", "What dries, cures or ends, and where it stands.", half, standings(),
			query{holding(metrics.StepStanding, standings()), "{{mold}} {{step}}"}),
		spans(list("Bands", "How long until one, five and nine in ten such steps are done. A step without an honest band has no line.", half, open,
			query{expr: until(chosen(metrics.StepEarliest))}, query{expr: until(chosen(metrics.StepLikely))}, query{expr: until(chosen(metrics.StepLatest))}),
			left, "one in ten in", "likely in", "nine in ten in"),
		lines("Working life left", "Until one in ten such batches is too stiff to pour, and until half are: hurry by the first.", left, half,
			query{until(chosen(metrics.StepEarliest, `kind="batch"`)), "{{mold}} {{step}}, one in ten"},
			query{until(chosen(metrics.StepLikely, `kind="batch"`)), "{{mold}} {{step}}, likely"}).Min(0),
		lines("Share of the way", "By the temperatures it had, likely value.", units.PercentUnit, half,
			query{chosen(metrics.StepShare), "{{mold}} {{step}}"}).Min(0),
		lines("Nine in ten done in", "How the end of a step moves as the air does: a line that falls as time goes by is on time.", left, half,
			query{until(chosen(metrics.StepLatest, `kind!="batch"`)), "{{mold}} {{step}}"}),
		lines("Where no band can be told", "Not done before; and from when on it is too cold to go on.", left, half,
			query{until(chosen(metrics.StepNotBefore)), "{{mold}} {{step}}, not before"},
			query{until(chosen(metrics.StepColdFrom)), "{{mold}} {{step}}, too cold from"}),
	}
}

// beliefs are the verdicts on a cure that was touched.
func beliefs() []state {
	return []state{
		{"cannot say yet", slateColour}, {"wait", inkColour}, {"fine", pineColour},
		{"surface inhibits", clayColour}, {"batch bad", clayColour},
	}
}

func doubtPanels() panels {
	return panels{
		course("What to believe of a cure", "Once cup, patch or mold were touched.", half, beliefs(), query{holding(metrics.MoldVerdict, beliefs()), "{{mold}}"}),
		lines("Causes", "Probability of each cause of what was found.", units.PercentUnit, half, query{chosen(metrics.MoldCause), "{{mold}}: {{cause}}"}).Min(0).Max(1),
		course("Another touch", "Whether one is worth the walk.", half, flag(state{"no", slateColour}, state{"worth it", strawColour}),
			query{chosen(metrics.MoldAdvised), "{{mold}}"}),
		lines("Until the touch that tells most", "", left, half, query{until(chosen(metrics.MoldNextTouch)), "{{mold}}"}),
	}
}

func recordPanels() panels {
	heard := flag(state{"heard", pineColour}, state{"silent", clayColour})
	return panels{
		lines("Probes", "What each probe last gave, before a place believes one of them.", units.Celsius, half, query{chosen(metrics.ProbeTemperature), "{{probe}}"}),
		course("Silent probes", "", half, heard, query{chosen(metrics.ProbeSilent), "{{probe}}"}),
		lines("Reads that failed", "Share of the attempts, by what was wrong.", units.PercentUnit, half,
			query{fmt.Sprintf("sum by (instance, probe, fault) (rate(%s[$__rate_interval]))\n/ on (instance, probe) group_left ()\nsum by (instance, probe) (rate(%s[$__rate_interval])) > 0",
				chosen(metrics.ProbeReadErrors), chosen(metrics.ProbeReads)), "{{probe}}: {{fault}}"}).Min(0),
		lines("Probes of one place that differ", "By how much the believed one is above the one that disagrees most.", units.Celsius, half,
			query{chosen(metrics.PlaceDifference), "{{place}}"}),
		lines("Readings not yet safe", "They would be lost if the power went now.", units.NoUnit, third, query{chosen(metrics.JournalWaiting), "waiting"}).Min(0),
		lines("Since the record was made safe", "", left, third, query{since(chosen(metrics.JournalLastSync)), "ago"}).Min(0),
		course("Journal", "", third, flag(state{"writes", pineColour}, state{"fails", clayColour}), query{chosen(metrics.JournalFailing), "journal"}),
		lines("Put on record", "Since the daemon started.", units.NoUnit, half,
			query{chosen(metrics.JournalMarks), "marks"}, query{chosen(metrics.JournalReadings), "readings"}).Min(0),
		course("Time of day", "Whether the board knows it.", half, flag(state{"not known", clayColour}, state{"known", pineColour}), query{chosen(metrics.Trusted), "clock"}),
	}
}
