package deliver

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"

	"pourward/alerts"
)

// Alertmanager is one that is told what fires, through version 2 of its API. Where several belong together
// each of them is told everything: they find out among themselves who calls (prometheus.io, "High
// availability"). Two daemons on the same probes, with the same shop name, tell the same alerts with the same
// labels, so that each is one.
type Alertmanager struct {
	Name   string
	URL    string // without /api/v2
	Access Access
}

const (
	// outlives is how long an alert lives on in an Alertmanager that hears no more of it. It is told again every
	// minute. A daemon that dies must not read as "all is well", so this is far longer than a restart takes.
	outlives = 30 * time.Minute
	// keepEnded is how long an end is told again after it was taken: an Alertmanager that was started anew in
	// between has lost it (Prometheus does the same, for as long).
	keepEnded = 15 * time.Minute
	// clocksAgree is a difference of clocks that does no harm; answers tell whole seconds.
	clocksAgree = 10 * time.Second
)

// posted is an alert as the API takes it (OpenAPI file of the Alertmanager, postableAlert).
type posted struct {
	Labels      map[string]string `json:"labels"`
	Annotations map[string]string `json:"annotations"`
	StartsAt    time.Time         `json:"startsAt"`
	EndsAt      time.Time         `json:"endsAt"`
}

// poster posts to one Alertmanager.
type poster struct {
	Alertmanager
	client *http.Client
	now    func() time.Time
	clock  time.Time // of the Alertmanager, as it showed last; zero before the first answer
	read   time.Time // when that was, by the monotonic clock
}

func newPoster(a Alertmanager, now func() time.Time) *poster {
	return &poster{Alertmanager: a, client: newClient(a.Access.TLS), now: now}
}

// claim is an alert of the books on its way to an Alertmanager.
type claim struct {
	id    int64
	alert alerts.Alert
	ended time.Time     // zero while it stands
	lasts time.Duration // how long it lives on unless it is told again; 0 = as any alert
}

// post tells the whole of what stands and what ended. Nothing at all is told as well: so it is known whether
// the Alertmanager is there before there is something to tell.
//
// An Alertmanager takes an alert for ended when its own clock passes endsAt. The clock of a board may be wrong
// by years, so instants are told by the clock of the Alertmanager, which its answers show; the first request
// only asks for it.
func (p *poster) post(ctx context.Context, shop string, claims []claim) error {
	if p.clock.IsZero() {
		if err := p.request(ctx, []posted{}); err != nil {
			return err
		}
	}
	list := make([]posted, 0, len(claims))
	ahead := p.ahead()
	for _, c := range claims {
		list = append(list, c.posted(shop, p.now().Add(ahead), ahead))
	}
	return p.request(ctx, list)
}

func (p *poster) request(ctx context.Context, list []posted) error {
	body, err := json.Marshal(list)
	if err != nil {
		return fmt.Errorf("write alerts: %w", err)
	}
	clock, err := post(ctx, p.client, strings.TrimRight(p.URL, "/")+"/api/v2/alerts", p.Access, nil, body)
	if !clock.IsZero() {
		p.clock, p.read = clock, time.Now()
	}
	return err
}

// ahead is by how much the Alertmanager's clock is before the shop's. It holds even when the shop's was set
// since the last answer.
func (p *poster) ahead() time.Duration {
	if p.clock.IsZero() {
		return 0 // its answers do not tell
	}
	d := p.clock.Add(time.Since(p.read)).Sub(p.now())
	if d.Abs() < clocksAgree {
		return 0
	}
	return d
}

// posted writes the alert by the clock of an Alertmanager, which shows now and is so much ahead.
func (c claim) posted(shop string, now time.Time, ahead time.Duration) posted {
	out := posted{
		Labels:      map[string]string{"alertname": c.alert.Name, "severity": string(c.alert.Severity), "shop": clean(shop)},
		Annotations: map[string]string{"summary": c.alert.Summary, "description": clean(c.alert.Description), "what_to_do": c.alert.WhatToDo},
	}
	for name, value := range c.alert.Labels {
		out.Labels[name] = clean(value)
	}
	out.StartsAt = earlier(c.alert.Since.Add(ahead), now)
	out.EndsAt = now.Add(cmp.Or(c.lasts, outlives))
	if !c.ended.IsZero() {
		out.EndsAt = earlier(c.ended.Add(ahead), now)
	}
	if out.StartsAt.After(out.EndsAt) { // the shop clock was set
		out.StartsAt = out.EndsAt
	}
	return out
}

func earlier(a, b time.Time) time.Time {
	if a.After(b) {
		return b
	}
	return a
}

// clean makes text what a label may hold.
func clean(s string) string { return strings.ToValidUTF8(s, "�") }

// standing are the rounds of an Alertmanager.
type standing struct{ *poster }

func (s *standing) round(ctx context.Context, d *Deliverer, target string) (n int, rest time.Duration, err error) {
	claims := d.claims(ctx, target)
	within, cancel := attempt(ctx)
	defer cancel()
	if err := s.post(within, d.opts.Shop, claims); err != nil {
		return 0, 0, err
	}
	d.disk.Lock()
	defer d.disk.Unlock()
	d.mu.Lock()
	n, c := d.book.posted(target, claims, d.opts.Now())
	d.mu.Unlock()
	d.save(ctx, c, nil)
	return n, lookAgain, nil
}

func (d *Deliverer) claims(ctx context.Context, target string) []claim {
	d.disk.Lock()
	defer d.disk.Unlock()
	d.mu.Lock()
	claims, c := d.book.claims(target)
	d.mu.Unlock()
	d.save(ctx, c, nil)
	return claims
}

// claims are what an Alertmanager must know. To it an alert is its labels: where one ended and the same began
// again, only the newer counts.
func (b *book) claims(target string) (out []claim, c changes) {
	newest := map[string]int64{}
	for _, e := range b.all() {
		newest[e.alert.Name+e.alert.Key()] = e.id
	}
	for _, e := range b.all() {
		switch {
		case e.open[target] == nil:
		case newest[e.alert.Name+e.alert.Key()] != e.id:
			b.close(e, target, &c)
		default:
			out = append(out, claim{id: e.id, alert: e.alert, ended: e.ended})
		}
	}
	return out, c
}

// posted notes what an Alertmanager took, and returns how much of it was new.
func (b *book) posted(target string, claims []claim, now time.Time) (n int, c changes) {
	for _, p := range claims {
		e := b.episodes[p.id]
		if e == nil || e.open[target] == nil {
			continue
		}
		s := e.open[target]
		hasEnded := !p.ended.IsZero()
		switch {
		case hasEnded && s.ended:
			if now.Sub(p.ended) >= keepEnded {
				b.close(e, target, &c)
			}
		case hasEnded || !s.began:
			s.began, s.ended = true, hasEnded
			c.put = append(c.put, e)
			n++
		}
		if !hasEnded && !e.ended.IsZero() {
			s.due = time.Now()
		}
	}
	return n, c
}
