package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
	"pourward/sensors/network"
)

// secretReader reads a password or token from its file; empty for no file.
type secretReader func(file, of string) (string, error)

func secretFrom(file, of string) (string, error) {
	if file == "" {
		return "", nil
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return "", fmt.Errorf("read the secret of %s: %w; the user that the daemon runs as must be able to read it", of, err)
	}
	s := strings.TrimRight(string(text), "\r\n")
	if s == "" || strings.ContainsAny(s, "\r\n") {
		return "", fmt.Errorf("read the secret of %s: %s must hold it in one line", of, file)
	}
	return s, nil
}

// listening makes one source for each broker that a probe sends to.
func (l *live) listening(ctx context.Context, clock sensors.Clock, last lastOf) ([]sensors.Source, error) {
	var out []sensors.Source
	var errs []error
	for _, b := range l.config.Brokers {
		o := network.MQTTOptions{Broker: b.URL, TLS: b.TLS, User: b.User, ClientID: b.ClientID, KeepFor: b.KeepFor, Clock: clock, Log: l.log}
		for _, p := range l.config.Probes {
			if p.MQTT != nil && p.MQTT.Broker == b.Name {
				probe := sender(p, b.KeepFor)
				var err error
				probe.Recorded, err = last(ctx, p.Name)
				errs = append(errs, err)
				o.Probes = append(o.Probes, probe)
			}
		}
		if len(o.Probes) == 0 {
			continue
		}
		var err error
		if o.Password, err = l.secret(b.PasswordFile, "broker "+b.Name); err == nil {
			var s *network.MQTT
			if s, err = network.NewMQTT(o); err == nil {
				out = append(out, s)
			}
		}
		errs = append(errs, err)
	}
	return out, errors.Join(errs...)
}

// sender is a probe that sends messages. What the broker kept is not too old to be taken, nor is the last
// message of a probe that sends rarely.
func sender(p config.Probe, kept time.Duration) network.MQTTProbe {
	const usualOldest, usualFresh = 24 * time.Hour, 2 * time.Minute
	return network.MQTTProbe{
		Name: p.Name, Topic: p.MQTT.Topic, Format: p.MQTT.Format, TrustTime: p.MQTT.TrustTime,
		Oldest: max(usualOldest, kept), Fresh: max(usualFresh, p.Every),
		Availability: p.MQTT.Availability, Limits: p.Limits,
	}
}

// asking makes one source for each server and interval at which its probes are asked for.
func (l *live) asking(ctx context.Context, clock sensors.Clock, last lastOf) ([]sensors.Source, error) {
	var out []sensors.Source
	var errs []error
	for _, server := range l.config.Servers {
		base, err := l.server(server)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		var order []time.Duration
		asked := map[time.Duration][]network.QueryProbe{}
		for _, p := range l.config.Probes {
			if p.Prometheus == nil || p.Prometheus.Server != server.Name {
				continue
			}
			q, err := query(ctx, p, last)
			errs = append(errs, err)
			if asked[p.Every] == nil {
				order = append(order, p.Every)
			}
			asked[p.Every] = append(asked[p.Every], q)
		}
		for _, every := range order {
			o := base
			o.Clock, o.Every, o.Probes = clock, every, asked[every]
			s, err := network.NewQuery(o)
			errs = append(errs, err)
			out = append(out, s)
		}
	}
	return out, errors.Join(errs...)
}

// server are the options of a server, without probes.
func (l *live) server(s config.Server) (network.QueryOptions, error) {
	o := network.QueryOptions{URL: s.URL, TLS: s.TLS, User: s.User, Backfill: l.config.Journal.AskBack, Log: l.log}
	var err, err2 error
	o.Password, err = l.secret(s.PasswordFile, "server "+s.Name)
	o.Token, err2 = l.secret(s.TokenFile, "server "+s.Name)
	return o, errors.Join(err, err2)
}

// query is a probe that a server has samples of.
func query(ctx context.Context, p config.Probe, last lastOf) (network.QueryProbe, error) {
	q := network.QueryProbe{
		Name: p.Name, Temp: p.Prometheus.Temp, TempUnit: p.Prometheus.TempUnit,
		Humidity: p.Prometheus.Humidity, HumidityUnit: p.Prometheus.HumidityUnit, Limits: p.Limits,
	}
	var err error
	q.After, err = last(ctx, p.Name)
	return q, err
}

// receiving makes the source of all probes that push.
func (l *live) receiving(ctx context.Context, clock sensors.Clock, last lastOf) ([]sensors.Source, error) {
	if !l.pushes() {
		return nil, nil
	}
	token, err := l.secret(l.config.PushToken, "pushed probes")
	errs := []error{err}
	o := network.PushOptions{Token: token, Clock: clock, Log: l.log}
	for _, p := range l.config.Probes {
		if p.Pushed == nil {
			continue
		}
		token, err := l.secret(p.Pushed.TokenFile, "probe "+p.Name)
		recorded, err2 := last(ctx, p.Name)
		errs = append(errs, err, err2)
		o.Probes = append(o.Probes, network.PushProbe{
			Name: p.Name, Token: token, TempUnit: p.Pushed.TempUnit, HumidityUnit: p.Pushed.HumidityUnit,
			TrustTime: p.Pushed.TrustTime, Recorded: recorded, Limits: p.Limits,
		})
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	l.pushed, err = network.NewPush(o)
	return []sensors.Source{l.pushed}, err
}

// correct is a source whose readings are put right by what the maker found of the probes.
func correct(s sensors.Source, probes []config.Probe) sensors.Source {
	c := corrected{s, map[string]sensors.Correction{}}
	for _, p := range probes {
		c.by[p.Name] = p.Correct
	}
	return c
}

type corrected struct {
	sensors.Source
	by map[string]sensors.Correction
}

// Unwrap is the source whose readings are corrected.
func (c corrected) Unwrap() sensors.Source { return c.Source }

// Run implements [sensors.Source].
func (c corrected) Run(ctx context.Context, out chan<- sensors.Reading) error {
	return c.through(ctx, out, c.Source.Run)
}

// Past hands on what a source that can be asked for it has of the time before.
func (c corrected) Past(ctx context.Context, out chan<- sensors.Reading) error {
	s, ok := c.Source.(pastSource)
	if !ok {
		return nil
	}
	return c.through(ctx, out, s.Past)
}

// through corrects the readings that a source hands on meanwhile.
func (c corrected) through(ctx context.Context, out chan<- sensors.Reading, run func(context.Context, chan<- sensors.Reading) error) error {
	judged, ended := make(chan sensors.Reading), make(chan error, 1)
	go func() {
		defer close(judged)
		ended <- run(ctx, judged)
	}()
	for r := range judged {
		select {
		case out <- c.by[r.Probe].Correct(r):
		case <-ctx.Done(): // the source ends by itself
		}
	}
	return <-ended
}
