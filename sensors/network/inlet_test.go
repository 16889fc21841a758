package network

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/sensors"
)

func newInlet(trust bool) *inlet {
	return &inlet{probe: "bench", trustTime: trust, fresh: defaultFresh, oldest: defaultOldest,
		judge: sensors.NewJudge(sensors.Limits{}), memory: memory{most: mqttRemember}}
}

// told is an arrival of 20 °C that carries a time so long after noon.
func told(after time.Duration) arrival {
	return arrival{sample: sensors.Sample{TempC: 20, Humidity: math.NaN(), At: noon.Add(after)}}
}

// bare is an arrival without a time.
func bare(tempC float64) arrival {
	return arrival{sample: sensors.Sample{TempC: tempC, Humidity: math.NaN()}}
}

func retained(a arrival) arrival { a.retained = true; return a }
func again(a arrival) arrival    { a.again = true; return a }
func numbered(a arrival, n uint64) arrival {
	a.sequence, a.counted = n, true
	return a
}

func TestWhatIsOldIsNotNew(t *testing.T) {
	for name, c := range map[string]struct {
		trust bool
		a     arrival
		want  Refusal
		at    time.Duration // after noon
	}{
		"arrives":                               {false, bare(20), 0, 0},
		"its own time is not trusted":           {false, told(-time.Hour), 0, 0},
		"its own time is trusted":               {true, told(-time.Hour), 0, -time.Hour},
		"its clock is a little ahead":           {true, told(30 * time.Second), 0, 30 * time.Second},
		"its clock is ahead":                    {true, told(61 * time.Second), Ahead, 0},
		"its clock was never set":               {true, told(-25 * time.Hour), Late, 0},
		"trusted, but none":                     {true, bare(20), NoTime, 0},
		"retained without a time":               {false, retained(bare(20)), Retained, 0},
		"retained without a time, though named": {false, retained(numbered(bare(20), 7)), Retained, 0},
		"retained and fresh":                    {false, retained(told(-time.Minute)), 0, -time.Minute},
		"retained and not fresh":                {false, retained(told(-3 * time.Minute)), Retained, 0},
		"retained, clock a little ahead":        {false, retained(told(30 * time.Second)), 0, 0},
		"retained, clock ahead":                 {false, retained(told(2 * time.Minute)), Retained, 0},
		"retained and not fresh, trusted":       {true, retained(told(-3 * time.Minute)), Retained, 0},
		"delivered again, without a time":       {false, again(bare(20)), Retained, 0},
		"delivered again, trusted":              {true, again(told(-time.Hour)), 0, -time.Hour},
	} {
		r, no := newInlet(c.trust).admit(noon, c.a)
		if c.want != 0 {
			require.NotNil(t, no, name)
			require.Equal(t, c.want, no.kind, name)
			continue
		}
		require.Nil(t, no, name)
		require.Equal(t, noon.Add(c.at), r.At, name)
		require.Equal(t, sensors.GoodMeasure(20), r.Temp, name)
		require.Equal(t, sensors.Missing, r.Humidity.Quality, name)
	}
}

func TestADeadProbeIsNotBroughtBack(t *testing.T) {
	in := newInlet(false)
	_, no := in.admit(noon, bare(20))
	require.Nil(t, no)
	in.off = true
	_, no = in.admit(noon.Add(time.Second), retained(told(0)))
	require.Equal(t, Retained, no.kind, "as fresh as it may be")
	r, no := in.admit(noon.Add(time.Minute), bare(35))
	require.Nil(t, no)
	require.Equal(t, sensors.Unsure, r.Temp.Fault, "its first value after a start needs another")
	r, _ = in.admit(noon.Add(2*time.Minute), bare(35))
	require.True(t, r.Temp.OK())
}

func TestARetainedMessageOfASlowClock(t *testing.T) {
	in := newInlet(false)
	_, no := in.admit(noon, told(-20*time.Second))
	require.Nil(t, no)
	_, no = in.admit(noon.Add(15*time.Second), retained(told(-10*time.Second)))
	require.Equal(t, Retained, no.kind, "published since, but by the probe's clock before the last reading came")
	r, no := in.admit(noon.Add(40*time.Second), retained(told(10*time.Second)))
	require.Nil(t, no)
	require.Equal(t, noon.Add(10*time.Second), r.At)
}

func TestDuplicates(t *testing.T) {
	in := newInlet(false)
	took := func(now time.Duration, a arrival) bool {
		_, no := in.admit(noon.Add(now), a)
		require.True(t, no == nil || no.kind == Duplicate)
		return no == nil
	}
	require.True(t, took(0, numbered(bare(20), 1)))
	require.False(t, took(1, numbered(bare(20), 1)))
	require.False(t, took(2, again(numbered(bare(20), 1))))
	require.True(t, took(3, numbered(bare(20), 2)), "the same value with another number")
	require.False(t, took(4, numbered(bare(20), 1)), "the one before the last as well")
	require.True(t, took(5, numbered(bare(20.1), 1)), "a probe that starts anew counts from the beginning")
	require.True(t, took(6, told(0)), "known by its time")
	require.False(t, took(7, told(0)))
	require.True(t, took(8, bare(20)) && took(9, bare(20)), "without number and time no message is a duplicate")
	require.True(t, took(rememberFor+time.Second, numbered(bare(20), 2)), "forgotten in the end")
	for n := range uint64(mqttRemember) {
		require.True(t, took(time.Hour, numbered(bare(20), 100+n)))
	}
	require.False(t, took(time.Hour, numbered(bare(20), 100)))
	require.True(t, took(time.Hour, numbered(bare(20), 99)), "and its place is used again")
	require.True(t, took(time.Hour, numbered(bare(20), 100)))
	require.Len(t, in.memory.ring, mqttRemember)
}

func TestTrustedTimesRunForward(t *testing.T) {
	in := newInlet(true)
	for _, c := range []struct {
		after time.Duration
		want  Refusal
	}{{-time.Hour, 0}, {-time.Minute, 0}, {-2 * time.Minute, Late}, {-time.Minute + 400*time.Microsecond, Late}, {0, 0}} {
		a := told(c.after)
		a.sample.TempC += c.after.Minutes() / 1000
		_, no := in.admit(noon, a)
		require.Equal(t, c.want == 0, no == nil, c.after)
		require.True(t, no == nil || no.kind == c.want, c.after)
	}
}

func TestABurstKeepsItsOrder(t *testing.T) {
	in := newInlet(false)
	var at []time.Duration
	for _, now := range []time.Duration{0, 0, 100 * time.Microsecond, time.Millisecond, time.Second, -time.Hour, -time.Hour} {
		r, no := in.admit(noon.Add(now), bare(20))
		require.Nil(t, no)
		at = append(at, r.At.Sub(noon))
	}
	ms := time.Millisecond
	require.Equal(t, []time.Duration{0, ms, 2 * ms, 3 * ms, time.Second, -time.Hour, -time.Hour + ms}, at, "a clock that is set back takes the instants along")
}

func TestABurstGoesOnFromTheRecord(t *testing.T) {
	ms := time.Millisecond
	for name, c := range map[string]struct {
		recorded, now, want time.Duration
	}{
		"long ago":                     {-time.Hour, 0, 0},
		"a little ahead of the clock":  {50 * ms, 0, 51 * ms},
		"the same instant":             {0, 0, ms},
		"the clock was set back since": {time.Minute, 0, 0},
	} {
		in := newInlet(false)
		in.recorded = noon.Add(c.recorded)
		r, no := in.admit(noon.Add(c.now), bare(20))
		require.Nil(t, no, name)
		require.Equal(t, c.want, r.At.Sub(noon), name)
	}
}

func TestABurstIsBounded(t *testing.T) {
	in := newInlet(false)
	for i := range 1001 {
		r, no := in.admit(noon, bare(20))
		require.Nil(t, no)
		require.Equal(t, time.Duration(i)*time.Millisecond, r.At.Sub(noon))
	}
	_, no := in.admit(noon, bare(20))
	require.Equal(t, Full, no.kind)
	r, no := in.admit(noon.Add(time.Millisecond), bare(20))
	require.Nil(t, no)
	require.Equal(t, 1001*time.Millisecond, r.At.Sub(noon))
}

// Whatever comes, the instants of a probe whose time is trusted run forward and none lies ahead; no
// retained message is ever stamped later than it says; and what is refused leaves no trace.
func TestInletProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := newInlet(rapid.Bool().Draw(t, "trust"))
		now := noon
		var last time.Time
		for range rapid.IntRange(1, 60).Draw(t, "n") {
			now = now.Add(time.Duration(rapid.IntRange(0, 5000).Draw(t, "ms")) * time.Millisecond)
			a := bare(20 + float64(rapid.IntRange(0, 3).Draw(t, "temp"))/10)
			if rapid.Bool().Draw(t, "timed") {
				a.sample.At = now.Add(time.Duration(rapid.IntRange(-200_000, 100_000).Draw(t, "own")) * time.Millisecond)
			}
			if rapid.Bool().Draw(t, "counted") {
				a = numbered(a, rapid.Uint64Range(0, 5).Draw(t, "sequence"))
			}
			a.retained, a.again = rapid.Bool().Draw(t, "retained"), rapid.Bool().Draw(t, "again")
			in.off = in.off || rapid.IntRange(0, 9).Draw(t, "dies") == 0
			off := in.off
			before, ring := *in, len(in.memory.ring)
			r, no := in.admit(now, a)
			if no != nil {
				require.Equal(t, before, *in)
				require.Len(t, in.memory.ring, ring)
				continue
			}
			require.False(t, off && a.retained)
			require.False(t, r.At.After(now.Add(ahead)))
			require.True(t, r.At.After(last), "no clock is set back here")
			if a.retained {
				require.False(t, a.sample.At.IsZero())
				require.False(t, r.At.After(a.sample.At))
			}
			last = r.At
		}
	})
}
