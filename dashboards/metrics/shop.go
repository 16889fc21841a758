package metrics

import "pourward/model"

// Names of what tells of the shop as a whole.
const (
	ShopClock = "pourward_shop_clock_timestamp_seconds"
	Outlook   = "pourward_outlook_timestamp_seconds"
	Started   = "pourward_started_timestamp_seconds"
	OpenMolds = "pourward_open_molds"
	Trusted   = "pourward_clock_trusted"
	Refused   = "pourward_refused_messages_total"
)

func shopTable() []Metric {
	return []Metric{
		clockMetric(),
		moment(Outlook, "Instant, by the shop clock, of which everything here tells. Its distance from the shop clock is the age of the outlook."),
		moment(Started, "When the daemon started, by the shop clock."),
		plain(OpenMolds, Amount, "Molds begun and not yet demolded."),
		plain(Refused, Count, "Messages that came over the network and were not taken since the daemon started, by why. Only of shops that something can be sent to.", "refusal"),
		plain(Trusted, Flag, "Whether the board's time of day is known to be right (1) or not (0). While it is not, times told may all be off by the same amount."),
	}
}

// clockMetric is the one metric that does not follow from a snapshot.
func clockMetric() Metric {
	return moment(ShopClock, "Time of the shop clock, with which every instant here is to be compared: it runs fast in the demo, and a board's own clock may be wrong.")
}

func collectShop(to sink, s *model.Snapshot) {
	to.instant(Outlook, s.Outlook.At)
	to.instant(Started, s.Health.Started)
	open := 0
	for i := range s.Outlook.Molds {
		if s.Outlook.Molds[i].Open() {
			open++
		}
	}
	to.put(OpenMolds, float64(open))
	to.flag(Trusted, s.Health.ClockTrusted)
	for why, n := range s.Health.Refused {
		to.put(Refused, float64(n), why)
	}
}
