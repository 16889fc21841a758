package network

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"
	"time"

	"pourward/sensors"
)

// partLabel is the label that tells the parts of a question apart in its answer.
const partLabel = "pourward_part"

// Parts of a question: each value, and the instants of its samples.
const (
	tempPart       = "temp"
	tempAtPart     = "temp_at"
	humidityPart   = "humidity"
	humidityAtPart = "humidity_at"
)

// question returns the expression that asks for all of a probe at once. The answer to an expression has
// the instant of its evaluation, so those of the samples are asked for beside, in the same query lest a
// sample comes in between.
func (p *asked) question() string {
	var parts []string
	add := func(part, expression string) {
		// The line ends keep a comment at the end of an expression from swallowing what follows.
		parts = append(parts, fmt.Sprintf("label_replace((\n%s\n), %q, %q, \"\", \"\")", expression, partLabel, part))
	}
	if p.Temp != "" {
		add(tempPart, p.Temp)
		add(tempAtPart, "timestamp(\n"+p.Temp+"\n)")
	}
	if p.Humidity != "" {
		add(humidityPart, p.Humidity)
		add(humidityAtPart, "timestamp(\n"+p.Humidity+"\n)")
	}
	return strings.Join(parts, " or ")
}

// ask asks for the newest sample of a probe and hands on what is new. The error says why there is no data.
func (q *Query) ask(ctx context.Context, p *asked, out chan<- sensors.Reading) error {
	answer, err := q.call(ctx, "query", url.Values{"query": {p.question()}})
	if err != nil {
		return err
	}
	samples, faults, err := q.samples(p, answer)
	if len(samples) > 0 {
		newest := samples[len(samples)-1].At
		if !p.early.IsZero() && newest.Sub(q.opts.Clock.Now()) <= ahead {
			p.missed = true // what was refused may be had now
		}
		if p.missed && !q.fill(ctx, p, newest, out) {
			return nil
		}
		q.deliver(ctx, p, samples, faults, out)
	}
	if err == nil {
		err = q.standstill(p)
	}
	return err
}

// standstill is the error for a probe whose server answers, but has nothing new. Where the shop's clock was set back
// behind the last sample, the server may show what it had then once more, under the same time; so nothing is taken
// until that has passed.
func (q *Query) standstill(p *asked) error {
	now := q.opts.Clock.Now()
	switch {
	case p.early.After(now): // and told
		return nil
	case p.newest.Sub(now) > ahead:
		return found(sensors.NoResponse, "the last sample was of %s and the shop's clock shows %s: one of the clocks was set back; samples are taken again from then on",
			p.newest.Format(time.RFC3339), now.UTC().Format(time.RFC3339))
	case now.Sub(p.newest) > q.opts.Stale:
		return p.silent()
	}
	return nil
}

// deliver hands on the samples that are new, after the faults that were found in them.
func (q *Query) deliver(ctx context.Context, p *asked, samples []sensors.Sample, faults []*refused, out chan<- sensors.Reading) {
	for _, r := range faults {
		q.refuse(ctx, p, r, out)
	}
	now := q.opts.Clock.Now()
	for _, s := range samples {
		if !s.At.After(p.newest) {
			continue
		}
		if s.At.Sub(now) > ahead { // it may be had later, when the clocks are right
			if !s.At.After(p.early) {
				continue
			}
			p.early = s.At
			q.refuse(ctx, p, refuse(Ahead, "the sample's time is %s and the shop's clock shows %s: set the clocks",
				s.At.Format(time.RFC3339), now.UTC().Format(time.RFC3339)), out)
			continue
		}
		p.newest, p.early = s.At, time.Time{}
		if math.IsNaN(s.TempC) && math.IsNaN(s.Humidity) {
			continue // among the faults
		}
		r := sensors.Reading{Probe: p.Name, At: s.At}
		r.Temp, r.Humidity = p.judge.Judge(s.At, s)
		if !send(ctx, out, r.Rounded()) {
			return
		}
	}
}

// refuse counts a refusal and tells the probe as failed.
func (q *Query) refuse(ctx context.Context, p *asked, r *refused, out chan<- sensors.Reading) {
	if q.ledger.note(p.Name, r) {
		send(ctx, out, r.failure(p.Name, q.opts.Clock.Now()))
	}
}

// Past hands on, of every probe, what the server has of the time since its After, up to now, and no more than
// Backfill. Call it before Run, which goes on from there. The errors say of which probes it failed; Run asks for
// what is missing again.
func (q *Query) Past(ctx context.Context, out chan<- sensors.Reading) error {
	var errs []error
	until := q.opts.Clock.Now()
	for _, p := range q.probes {
		from, gap := q.gap(p, until)
		if !gap {
			continue
		}
		err := q.fillSpan(ctx, p, from, until, out)
		if err != nil {
			errs = append(errs, fmt.Errorf("query %s for what probe %q measured before: %w", q.opts.URL, p.Name, err))
		}
		if server := (*serverError)(nil); errors.As(err, &server) {
			break // it would fail for the others as well
		}
	}
	return errors.Join(errs...)
}

// gap returns from when on samples of a probe may be missed, and whether there is room for any.
func (q *Query) gap(p *asked, until time.Time) (from time.Time, room bool) {
	if p.newest.IsZero() || q.opts.Backfill < 0 {
		return time.Time{}, false
	}
	from = p.newest
	if earliest := until.Add(-q.opts.Backfill); q.opts.Backfill > 0 && from.Before(earliest) {
		from = earliest
	}
	return from, until.Sub(from) > q.opts.Step
}

// fill fills the gap up to the sample of an instant. It reports false when that sample must wait, since
// filling failed and is to be tried again.
func (q *Query) fill(ctx context.Context, p *asked, until time.Time, out chan<- sensors.Reading) bool {
	if from, gap := q.gap(p, until); gap {
		if err := q.fillSpan(ctx, p, from, until, out); err != nil {
			p.tries++
			q.opts.Log.Warn("gap is not filled yet", "probe", p.Name, "from", from, "until", until, "try", p.tries, "err", err)
			if ctx.Err() != nil || p.tries < mostFillTries {
				return false
			}
		}
	}
	p.missed, p.tries = false, 0
	return ctx.Err() == nil
}

// fillSpan hands on the samples after an instant, up to another, by queries of bounded size.
func (q *Query) fillSpan(ctx context.Context, p *asked, from, until time.Time, out chan<- sensors.Reading) error {
	for begin := from.Add(q.opts.Step); !begin.After(until); {
		end := begin.Add((chunkSteps - 1) * q.opts.Step)
		if end.After(until) {
			end = until
		}
		if err := q.fillChunk(ctx, p, begin, end, out); err != nil {
			return err
		}
		begin = end.Add(q.opts.Step)
	}
	return nil
}

// fillChunk hands on the samples of one range query. Each sample is stamped with its own instant, so one
// that stands for several steps comes once.
func (q *Query) fillChunk(ctx context.Context, p *asked, begin, end time.Time, out chan<- sensors.Reading) error {
	answer, err := q.call(ctx, "query_range", url.Values{
		"query": {p.question()},
		"start": {unixText(begin)},
		"end":   {unixText(end)},
		"step":  {strconv.FormatFloat(q.opts.Step.Seconds(), 'f', -1, 64)},
	})
	if err != nil {
		return err
	}
	samples, faults, err := q.samples(p, answer)
	if len(samples) > 0 || len(answer) == 0 {
		err = nil // nothing was measured in a part of the gap
	}
	q.deliver(ctx, p, samples, faults, out)
	return errors.Join(err, ctx.Err())
}

func unixText(t time.Time) string {
	return strconv.FormatFloat(float64(t.UnixMilli())/1000, 'f', 3, 64)
}
