package network

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/eclipse/paho.golang/autopaho"
	"github.com/eclipse/paho.golang/paho"

	"pourward/sensors"
)

// wanted returns what to subscribe to.
func (s *station) wanted() []string {
	if len(s.opts.Filters) > 0 {
		return s.opts.Filters
	}
	var out []string
	for _, l := range s.probes {
		out = append(out, l.Topic)
		if l.Availability.Topic != "" {
			out = append(out, l.Availability.Topic)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

const (
	topicsAtOnce  = 64              // in one request to subscribe
	afterSilence  = 5 * time.Second // until an unanswered request is made again
	afterRefusals = time.Minute     // until refused ones are
)

// subscribe asks for every topic. It returns when to do so again, zero for never; probes whose topics
// are refused are told as failed. ctx ends with the connection.
func (s *station) subscribe(ctx context.Context, cm *autopaho.ConnectionManager) time.Duration {
	var again time.Duration
	for topics := range slices.Chunk(s.wanted(), topicsAtOnce) {
		reasons, err := ask(ctx, cm, topics)
		if ctx.Err() != nil {
			return 0
		}
		if err != nil {
			s.opts.Log.Warn("MQTT broker does not answer a subscription", "broker", s.opts.Broker, "err", err)
			return afterSilence
		}
		for i, code := range reasons {
			if code >= 0x80 {
				again = afterRefusals
				s.denied(topics[i], code)
			}
		}
	}
	if !s.connected.Swap(true) {
		s.opts.Log.Info("MQTT broker is connected", "broker", s.opts.Broker)
	}
	s.outage.Store(false)
	return again
}

// ask subscribes to some topics and returns the broker's answer to each.
func ask(ctx context.Context, cm *autopaho.ConnectionManager, topics []string) ([]byte, error) {
	request := &paho.Subscribe{}
	for _, t := range topics {
		request.Subscriptions = append(request.Subscriptions, paho.SubscribeOptions{Topic: t, QoS: 1})
	}
	answer, err := cm.Subscribe(ctx, request)
	switch {
	case answer != nil && len(answer.Reasons) == len(topics):
		return answer.Reasons, nil
	case err == nil:
		err = errors.New("the answer does not fit the request")
	}
	return nil, err
}

// denied tells of a subscription that the broker refuses.
func (s *station) denied(filter string, code byte) {
	s.opts.Log.Warn("MQTT broker refuses a subscription", "broker", s.opts.Broker, "topic", filter, "reason", reason(code))
	now := s.opts.Clock.Now().UTC()
	for _, l := range s.probes {
		if matches(filter, l.Topic) {
			s.put(sensors.Failed(l.Name, now, fmt.Errorf("listen to probe %q: MQTT broker %s refuses topic %s: %s; check its access list",
				l.Name, s.opts.Broker, filter, reason(code))))
		}
	}
}

// reason puts a broker's reason into words (MQTT 5.0, 2.4).
func reason(code byte) string {
	switch code {
	case 0x80:
		return "unspecified error"
	case 0x84:
		return "it does not speak MQTT 5"
	case 0x85:
		return "client id not valid"
	case 0x86:
		return "wrong user or password"
	case 0x87:
		return "not authorized"
	case 0x88, 0x8B, 0x89:
		return "the broker is busy or shuts down"
	case 0x8E:
		return "someone else connected with this client id"
	case 0x8F, 0x90:
		return "topic not valid"
	case 0x93, 0x95, 0x96:
		return "too many or too large messages"
	case 0x97:
		return "quota exceeded"
	case 0xA2:
		return "no wildcards here"
	}
	return fmt.Sprintf("reason 0x%02X", code)
}
