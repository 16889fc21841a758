package deliver

import (
	"context"
	"time"

	"pourward/alerts"
)

// TrialName is the name of the alert with which [Try] tries an Alertmanager. It ends by itself.
const TrialName = "PourwardTrial"

// trialLasts is how long the trial's alert stands.
const trialLasts = time.Minute

// Tried is what came of a trial.
type Tried struct {
	Target  string
	Channel Channel
	Err     error // nil: the target took it
}

// Try sends a trial to every target, or to the one of that name where it is not empty, one after another. No
// books are kept of it.
func Try(ctx context.Context, o Options, name string) ([]Tried, error) {
	couriers, err := hire(o)
	if err != nil {
		return nil, err
	}
	var out []Tried
	for _, c := range couriers {
		if name != "" && name != c.target {
			continue
		}
		within, cancel := context.WithTimeout(ctx, attemptTime)
		out = append(out, Tried{c.target, c.channel, c.rounds.try(within, o)})
		cancel()
	}
	return out, nil
}

func (m *messages) try(ctx context.Context, o Options) error {
	p := &parcel{Message: Message{Kind: Trial, Shop: o.Shop, At: o.Now()}}
	p.Message.finish(p.Message.At.String(), o.Zone) // every trial is one of its own
	return m.sender.send(ctx, &p.Message)
}

func (s *standing) try(ctx context.Context, o Options) error {
	now := o.Now()
	return s.post(ctx, o.Shop, []claim{{lasts: trialLasts, alert: alerts.Alert{
		Name: TrialName, Severity: alerts.Info, Since: now, Summary: "A trial, nothing is wrong.",
		Description: "Somebody tried whether messages of this shop arrive. This one did.", WhatToDo: "Nothing.",
	}}})
}
