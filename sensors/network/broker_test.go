package network

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// listen runs a source at a broker and waits until it is subscribed.
func listen(t testing.TB, b *broker, o MQTTOptions) (*MQTT, *sink) {
	t.Helper()
	if o.Broker == "" {
		o.Broker = b.url()
	}
	m := newMQTT(t, o)
	k := collect(t, m)
	soon(t, "the source is connected", m.Connected)
	return m, k
}

func TestReadingsFromABroker(t *testing.T) {
	t.Parallel()
	b := startBroker(t)
	bare := MQTTProbe{Name: "annex", Topic: "shop/annex", Format: Format{Temp: Field{Path: "."}, TempUnit: Fahrenheit}}
	_, k := listen(t, b, MQTTOptions{Probes: []MQTTProbe{probeOf("bench"), bare}})
	s := newSender(t, b, "")
	before := time.Now().Truncate(time.Millisecond)
	s.send("shop/bench", `{"t": 21.37, "h": 44}`)
	s.publish("shop/annex", "68", 0, false)
	soon(t, "both readings come", func() bool { return len(k.readings()) == 2 })
	for _, r := range k.readings() {
		require.NoError(t, r.Err)
		require.False(t, r.At.Before(before) || r.At.After(time.Now()), "stamped on arrival")
		require.Equal(t, r, r.Rounded())
	}
	require.Equal(t, []float64{21.37}, k.good("bench"))
	require.Equal(t, []float64{20}, k.good("annex"))
	k.end()
}

func TestFiltersInPlaceOfTopics(t *testing.T) {
	t.Parallel()
	b := startBroker(t)
	m, k := listen(t, b, MQTTOptions{Filters: []string{"shop/+"}, Probes: []MQTTProbe{probeOf("bench"), probeOf("shelf")}})
	s := newSender(t, b, "")
	s.send("shop/door", `{"t": 5}`)
	s.send("shop/bench", `{"t": 20}`)
	s.send("shop/shelf", `{"t": 21}`)
	soon(t, "both readings come", func() bool { return len(k.readings()) == 2 })
	require.Equal(t, []Count{{"", Unknown, 1}}, m.Refused())
}

// A message that is too large is told of; one beyond all reason the broker does not pass on.
func TestLargeMessages(t *testing.T) {
	t.Parallel()
	b := startBroker(t)
	m, k := listen(t, b, MQTTOptions{Probes: []MQTTProbe{probeOf("bench")}})
	s := newSender(t, b, "")
	for _, size := range []int{MaxPayload, MaxPayload + 1, 2 * mostPacket} {
		s.send("shop/bench", `{"t": 20}`+strings.Repeat(" ", size-9))
	}
	s.send("shop/bench", `{"t": 21}`)
	soon(t, "the last comes", func() bool { return len(k.good("bench")) == 2 })
	require.Equal(t, []Count{{"bench", TooLarge, 1}}, m.Refused())
	require.Equal(t, TooLarge, refusalOf(k.failures("bench")[0]))
	require.Len(t, k.failures("bench"), 1)
	require.True(t, m.Connected())
}

// The broker is killed as by a power cut, twice. While it is away the probes are failed, not frozen;
// within seconds of its return readings come again, each once, and none that was not sent.
func TestBrokerKilledAndBack(t *testing.T) {
	t.Parallel()
	b := startBroker(t)
	p := probeOf("bench")
	p.Format.Sequence = "n"
	log := &book{}
	m, k := listen(t, b, MQTTOptions{Log: log.logger(), Probes: []MQTTProbe{p, probeOf("shelf")}})
	var sent []float64
	send := func(s *sender) {
		sent = append(sent, 20+float64(len(sent))/100)
		payload := fmt.Sprintf(`{"t": %g, "n": %d}`, sent[len(sent)-1], len(sent))
		s.send("shop/bench", payload)
		s.send("shop/bench", payload) // as when an acknowledgment was lost
	}
	for range 2 {
		s := newSender(t, b, "")
		for range 5 {
			send(s)
		}
		soon(t, "readings come", func() bool { return len(k.good("bench")) == len(sent) })
		failed := len(k.failures("shelf"))
		b.process.kill()
		soon(t, "every probe is told as failed", func() bool { return len(k.failures("shelf")) == failed+1 && len(k.failures("bench")) == failed+1 })
		require.False(t, m.Connected())
		b.start()
		began := time.Now()
		soon(t, "the source is connected again", m.Connected)
		t.Logf("connected %s after the broker was back", time.Since(began).Round(time.Millisecond))
	}
	s := newSender(t, b, "")
	send(s)
	soon(t, "readings come again", func() bool { return len(k.good("bench")) == len(sent) })
	k.end()
	require.Equal(t, sent, k.good("bench"), "each once, in order, and nothing else")
	require.EqualValues(t, len(sent), counted(m.Refused(), "bench", Duplicate))
	require.Len(t, k.failures("bench"), 2, "once each time")
	require.Equal(t, sensors.NoResponse, sensors.FaultOf(k.failures("bench")[0]))
	require.Contains(t, log.String(), "MQTT broker is away")
}

func TestRetainedMessages(t *testing.T) {
	t.Parallel()
	b := startBroker(t)
	s := newSender(t, b, "")
	names := []string{"without-time", "stale", "fresh"}
	var probes []MQTTProbe
	for _, n := range names {
		p := probeOf(n)
		p.Format.Time, p.Format.TimeForm = "at", UnixSeconds
		probes = append(probes, p)
	}
	now := time.Now()
	s.retain("shop/without-time", `{"t": 20}`)
	s.retain("shop/stale", fmt.Sprintf(`{"t": 21, "at": %d}`, now.Add(-time.Hour).Unix()))
	s.retain("shop/fresh", fmt.Sprintf(`{"t": 22, "at": %d}`, now.Add(-30*time.Second).Unix()))
	m, k := listen(t, b, MQTTOptions{Probes: probes})
	soon(t, "the fresh one comes", func() bool { return len(k.good("fresh")) == 1 })
	soon(t, "the others are refused", func() bool {
		return counted(m.Refused(), "stale", Retained) == 1 && counted(m.Refused(), "without-time", Retained) == 1
	})
	require.Len(t, k.readings(), 1)
	require.Equal(t, now.Add(-30*time.Second).Unix(), k.readings()[0].At.Unix(), "stamped with its own time")
	s.retain("shop/without-time", `{"t": 23}`)
	soon(t, "what is published now is new, retained or not", func() bool { return len(k.good("without-time")) == 1 })
}

func TestLastWill(t *testing.T) {
	t.Parallel()
	b := startBroker(t)
	p := probeOf("bench")
	p.Availability.Topic = "shop/bench/state"
	p.Format.Time, p.Format.TimeForm = "at", UnixSeconds
	m, k := listen(t, b, MQTTOptions{Probes: []MQTTProbe{p}})
	s := newSender(t, b, "shop/bench/state")
	s.retain("shop/bench", fmt.Sprintf(`{"t": 20, "at": %d}`, time.Now().Unix()))
	soon(t, "a reading comes", func() bool { return len(k.good("bench")) == 1 })
	began := time.Now()
	s.die()
	soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) == 1 })
	t.Logf("told %s after the probe died", time.Since(began).Round(time.Millisecond))
	require.Equal(t, sensors.NoResponse, sensors.FaultOf(k.failures("bench")[0]))
	k.end()

	// A shop that starts now finds both messages retained: the probe is off, and its last reading, the
	// time of which is fresh, may come before that is known but never after.
	m, k = listen(t, b, MQTTOptions{Probes: []MQTTProbe{p}})
	soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) == 1 })
	soon(t, "the reading is dealt with", func() bool { return len(k.good("bench"))+int(counted(m.Refused(), "bench", Retained)) == 1 })
	newSender(t, b, "shop/bench/state").send("shop/bench", fmt.Sprintf(`{"t": 20.1, "at": %d}`, time.Now().Unix()+1))
	soon(t, "a living probe is believed", func() bool { return len(k.good("bench"))+int(counted(m.Refused(), "bench", Retained)) == 2 })
	k.end()
}

// A broker that keeps messages while the shop's machine is away hands them over with their own times.
func TestMessagesKeptByTheBroker(t *testing.T) {
	t.Parallel()
	b := startBroker(t)
	p := probeOf("bench")
	p.Format.Time, p.Format.TimeForm, p.TrustTime = "at", UnixSeconds, true
	o := MQTTOptions{ClientID: "shop", KeepFor: time.Hour, Probes: []MQTTProbe{p}}
	_, k := listen(t, b, o)
	k.end()
	s := newSender(t, b, "")
	begin := time.Now().Add(-10 * time.Minute).Unix()
	for i := range 10 {
		s.send("shop/bench", fmt.Sprintf(`{"t": %d, "at": %d}`, 20+i/5, begin+int64(60*i)))
	}
	_, k = listen(t, b, o)
	soon(t, "all that was kept comes", func() bool { return len(k.good("bench")) == 10 })
	for i, r := range k.readings() {
		require.Equal(t, begin+int64(60*i), r.At.Unix())
	}
	k.end()
}

// Without that, nothing that waited at the broker may come and be stamped now.
func TestNothingIsKeptUnlessAsked(t *testing.T) {
	t.Parallel()
	b := startBroker(t)
	o := MQTTOptions{ClientID: "shop", Probes: []MQTTProbe{probeOf("bench")}}
	_, k := listen(t, b, o)
	k.end()
	s := newSender(t, b, "")
	s.send("shop/bench", `{"t": 20}`)
	_, k = listen(t, b, o)
	s.send("shop/bench", `{"t": 21}`)
	soon(t, "a reading comes", func() bool { return len(k.good("bench")) > 0 })
	require.Equal(t, []float64{21}, k.good("bench"))
}

func TestPasswords(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "passwords")
	make := exec.Command(program(t, "mosquitto_passwd", "mosquitto"), "-b", "-c", file, "shop", "open sesame")
	require.NoError(t, make.Run())
	b := startBroker(t, "allow_anonymous false", "password_file "+file)
	_, k := listen(t, b, MQTTOptions{User: "shop", Password: "open sesame", Probes: []MQTTProbe{probeOf("bench")}})
	k.end()
	for _, password := range []string{"", "wrong"} {
		log := &book{}
		k = collect(t, newMQTT(t, MQTTOptions{Broker: b.url(), User: "shop", Password: password, Log: log.logger(), Probes: []MQTTProbe{probeOf("bench")}}))
		soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) == 1 })
		require.Regexp(t, "wrong user or password|not authorized", k.failures("bench")[0].Error())
		k.end()
		require.NotContains(t, log.String(), "wrong\"")
	}
}

func TestNothingIsLeftRunning(t *testing.T) {
	b := startBroker(t, "allow_anonymous true", "log_type all")
	before := runtime.NumGoroutine()
	for range 5 {
		_, k := listen(t, b, MQTTOptions{Probes: []MQTTProbe{probeOf("bench")}})
		k.end()
	}
	soon(t, "every goroutine has ended", func() bool { return runtime.NumGoroutine() < before+5 }) // waiting takes a few itself
	soon(t, "the broker is told good-bye", func() bool { return strings.Count(b.process.output.String(), "Received DISCONNECT") == 5 })
}
