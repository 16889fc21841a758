package network

import (
	"math"
	"time"

	"pourward/sensors"
)

// arrival is what a message says, before it is judged.
type arrival struct {
	sample   sensors.Sample // At is the message's own time, zero when it has none
	sequence uint64
	counted  bool // it has a sequence
	retained bool // the broker kept it
	again    bool // the broker delivers it again
}

// empty reports that there is nothing to judge.
func (a arrival) empty() bool { return math.IsNaN(a.sample.TempC) && math.IsNaN(a.sample.Humidity) }

const (
	defaultFresh  = 2 * time.Minute
	defaultOldest = 24 * time.Hour
	ahead         = time.Minute // how far a time may lie ahead of the shop's clock
	burst         = time.Second // how far the instants of what arrives in a burst may run ahead of the clock
)

// inlet is where the messages of one probe become readings, in order. It is used by one goroutine.
type inlet struct {
	probe     string
	trustTime bool
	fresh     time.Duration // how old an old message may be
	oldest    time.Duration // how old a trusted time may be
	judge     *sensors.Judge
	memory    memory
	last      time.Time // instant of the last reading
	came      time.Time // what the clock showed when it came
	recorded  time.Time // instant of the last reading on record when the source was made, zero when there is none
	off       bool      // the probe's last will has been executed
}

// admit makes a reading of an arrival that is not empty, or says why it is none. It changes nothing
// in that case.
func (in *inlet) admit(now time.Time, a arrival) (sensors.Reading, *refused) {
	if in.memory.has(now, a) {
		return sensors.Reading{}, refuse(Duplicate, "the same reading came before")
	}
	at, r := in.instant(now, a)
	if r != nil {
		return sensors.Reading{}, r
	}
	if in.off {
		in.off = false
		in.judge.Reopened() // it was started anew, and its first value may be the chip's power-on value
	}
	in.memory.add(now, a)
	in.last, in.came = at, now
	reading := sensors.Reading{Probe: in.probe, At: at}
	reading.Temp, reading.Humidity = in.judge.Judge(at, a.sample)
	return reading.Rounded(), nil
}

// instant decides when the reading of an arrival was taken.
func (in *inlet) instant(now time.Time, a arrival) (time.Time, *refused) {
	own := a.sample.At
	if a.retained || a.again && !in.trustTime {
		return in.waited(now, own)
	}
	switch {
	case !in.trustTime:
		return in.arrived(now)
	case own.IsZero():
		return own, refuse(NoTime, "the time of this probe is trusted, and the message has none")
	case own.Sub(now) > ahead:
		return own, refuse(Ahead, "its time is %s and the shop's clock shows %s: set the probe's clock", own.Format(time.RFC3339), now.UTC().Format(time.RFC3339))
	case now.Sub(own) > in.oldest:
		return own, refuse(Late, "its time is %s, longer ago than %s: set the probe's clock", own.Format(time.RFC3339), in.oldest)
	}
	return in.inOrder(own)
}

// waited decides when the reading of a message was taken that has been at the broker for an unknown time.
func (in *inlet) waited(now, own time.Time) (time.Time, *refused) {
	switch {
	case in.off:
		return own, refuse(Retained, "an old message does not bring back a probe that is off")
	case own.IsZero():
		return own, refuse(Retained, "the broker kept this message or delivers it again, and it has no time")
	case now.Sub(own) > in.fresh || own.Sub(now) > ahead:
		return own, refuse(Retained, "the broker kept this message or delivers it again; its time is %s", own.Format(time.RFC3339))
	}
	if own.After(now) {
		own = now
	}
	at, r := in.inOrder(own)
	if r != nil {
		r = refuse(Retained, "the broker kept this message or delivers it again; a later one came before")
	}
	return at, r
}

// inOrder refuses an instant that is not after the last one.
func (in *inlet) inOrder(at time.Time) (time.Time, *refused) {
	if !in.last.IsZero() && !onGrid(at).After(in.last) {
		return at, refuse(Late, "its time is %s, not after the reading before", at.Format(time.RFC3339Nano))
	}
	return onGrid(at), nil
}

// arrived stamps what arrives now. Of what arrives in one burst each is a little later than the one before,
// also than what is on record from before a restart: an instant that is used already would lose the
// reading. When the clock is set back, so are the instants.
func (in *inlet) arrived(now time.Time) (time.Time, *refused) {
	at, before := onGrid(now), in.before(now)
	if before.IsZero() || at.After(before) {
		return at, nil
	}
	at = before.Add(sensors.TimeStep)
	if at.Sub(now) > burst {
		return at, refuse(Full, "it has sent more readings than milliseconds have passed; send it again in a few seconds, and fewer from then on")
	}
	return at, nil
}

// before is the latest instant of the probe that is used, but for those from before the clock was set back;
// zero when there is none.
func (in *inlet) before(now time.Time) (at time.Time) {
	if in.recorded.Sub(now) < burst {
		at = in.recorded
	}
	if in.came.Sub(now) < burst && in.last.After(at) {
		at = in.last
	}
	return at
}

// onGrid returns an instant as it is recorded.
func onGrid(t time.Time) time.Time { return time.UnixMilli(t.UnixMilli()).UTC() }
