package metrics

import (
	"time"

	"pourward/model"
)

// Names of what tells whether alerts get out of the shop.
const (
	DeliveryWaiting  = "pourward_delivery_waiting_alerts"
	DeliveryHeld     = "pourward_delivery_held_alerts"
	DeliveryOldest   = "pourward_delivery_oldest_waiting_timestamp_seconds"
	DeliverySent     = "pourward_delivery_sent_total"
	DeliveryFailures = "pourward_delivery_failures_total"
	DeliveryGiven    = "pourward_delivery_given_up_total"
)

func deliveryTable() []Metric {
	to := []string{"target", "channel"}
	return []Metric{
		plain(DeliveryWaiting, Amount, "Alerts, and ends of alerts, that a target has not heard yet. Those that quiet hours hold back are left out.", to...),
		plain(DeliveryHeld, Amount, "Alerts, and ends of alerts, that quiet hours hold back from a target.", to...),
		moment(DeliveryOldest, "Since when, by the shop clock, a target has not heard what it must. Absent while it has heard everything.", to...),
		plain(DeliverySent, Count, "What a target took since the daemon started: messages, and for an Alertmanager alerts and their ends.", to...),
		plain(DeliveryFailures, Count, "Attempts to tell a target that failed since the daemon started.", to...),
		plain(DeliveryGiven, Count, "Alerts, and ends of alerts, given up untold since the daemon started, because they ended long ago or there were too many.", to...),
	}
}

func collectDelivery(to sink, all []model.DeliveryHealth, now time.Time) {
	for _, d := range all {
		to.put(DeliveryWaiting, float64(d.Waiting), d.Target, d.Channel)
		to.put(DeliveryHeld, float64(d.Held), d.Target, d.Channel)
		if d.Oldest > 0 {
			to.instant(DeliveryOldest, now.Add(-d.Oldest), d.Target, d.Channel)
		}
		to.put(DeliverySent, float64(d.Sent), d.Target, d.Channel)
		to.put(DeliveryFailures, float64(d.Failed), d.Target, d.Channel)
		to.put(DeliveryGiven, float64(d.Given), d.Target, d.Channel)
	}
}
