package network

import (
	"bytes"
	"encoding/json"
	"math"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/eclipse/paho.golang/packets"
	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// FuzzMessage sends anything to a probe: it never panics, what comes out is finite, and a value that
// comes out is one that the message really holds.
func FuzzMessage(f *testing.F) {
	for _, row := range table(f, "testdata/messages.csv") {
		f.Add([]byte(row["message"]), row["strings"] == "yes")
	}
	f.Fuzz(func(t *testing.T, payload []byte, numeric bool) {
		form, err := Format{Temp: Field{Path: "t"}, TempUnit: Celsius, Humidity: Field{Path: "h[0].x"}, HumidityUnit: Ratio,
			Unit: "u", Time: "at", TimeForm: UnixSeconds, Sequence: "n", NumericStrings: numeric}.compile()
		require.NoError(t, err)
		doc, r := decode(payload)
		require.Equal(t, json.Valid(payload) && len(payload) <= MaxPayload, r == nil, "exactly JSON is understood")
		if r != nil {
			return
		}
		a, faults := form.read(doc)
		require.False(t, math.IsInf(a.sample.TempC, 0) || math.IsInf(a.sample.Humidity, 0))
		require.True(t, a.sample.At.IsZero() || a.sample.At.Year() >= 1970 && a.sample.At.Year() < 2200)
		require.True(t, !a.empty() || len(faults) > 0, "nothing is left out without a reason")
		if !math.IsNaN(a.sample.TempC) {
			var plain struct{ T any }
			_ = json.Unmarshal(payload, &plain)
			require.True(t, strings.Contains(string(payload), "t") && plain.T != nil || strings.Contains(string(payload), `\u`), "a value has a source")
		}
		in := newInlet(false)
		if reading, no := in.admit(noon, a); no == nil && !a.empty() {
			require.Equal(t, reading, reading.Rounded())
			require.True(t, finite(reading.Temp.Value, reading.Humidity.Value))
			_, no = in.admit(noon.Add(time.Second), a)
			require.True(t, no == nil || no.kind == Duplicate)
		}
	})
}

// FuzzPath reads anything as a path: it never panics, and a path says itself again.
func FuzzPath(f *testing.F) {
	for _, row := range table(f, "testdata/paths.csv") {
		f.Add(row["path"])
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := parsePath(text)
		if err != nil {
			return
		}
		again, err := parsePath(p.String())
		require.NoError(t, err)
		require.Equal(t, p, again)
		p.find(map[string]any{"a": []any{"b", map[string]any{"c": 1}}})
	})
}

// FuzzBody sends anything as a request: it never panics, and all of it is queued, or none with a reason.
func FuzzBody(f *testing.F) {
	for _, row := range table(f, "testdata/requests.csv") {
		f.Add([]byte(row["body"]))
	}
	token := strings.Repeat("t", shortestToken)
	f.Fuzz(func(t *testing.T, raw []byte) {
		p, err := NewPush(PushOptions{Token: token, Clock: newHandClock(), Probes: []PushProbe{{Name: "bench", TempUnit: Celsius}, {Name: "shelf", HumidityUnit: Percent, TrustTime: true}}})
		require.NoError(t, err)
		status, said := post(p, token, string(raw))
		var readings int
		for len(p.queue) > 0 {
			if r := <-p.queue; r.Err == nil {
				require.True(t, finite(r.Temp.Value, r.Humidity.Value))
				require.NotEqual(t, sensors.Missing, max(r.Temp.Quality, r.Humidity.Quality))
				readings++
			}
		}
		require.Equal(t, status == 202, readings > 0, "%d %s", status, said)
		require.Contains(t, []int{202, 400, 413, 422}, status)
		require.NotEmpty(t, said)
	})
}

// FuzzAnswer reads anything as the answer of a query API.
func FuzzAnswer(f *testing.F) {
	for _, row := range table(f, "testdata/answers.csv") {
		f.Add(int(number(f, row["status"])), []byte(row["answer"]))
	}
	f.Fuzz(func(t *testing.T, status int, raw []byte) {
		answer, err := parseAnswer(status, raw)
		if err != nil {
			return
		}
		require.Equal(t, 200, status)
		q := newQuery(t, QueryOptions{URL: "http://x", Clock: newHandClock(), Probes: []QueryProbe{{Name: "bench", Temp: "t", TempUnit: Celsius, Humidity: "h", HumidityUnit: Percent}}})
		samples, _, _ := q.samples(q.probes[0], answer)
		for _, s := range samples {
			require.False(t, s.At.IsZero() || math.IsInf(s.TempC, 0) || math.IsInf(s.Humidity, 0))
		}
	})
}

// FuzzBroker reads anything as what a broker sends: no packet is larger than it may be, and the client's
// reader, which runs on a goroutine of its own, does not panic.
func FuzzBroker(f *testing.F) {
	f.Add(message("shop/bench", `{"t": 20}`, 1, false))
	f.Add([]byte{0x20, 3, 0, 0, 0, 0x90, 4, 0, 1, 0, 1})
	f.Add([]byte{0x20, 3, 0, 0, 0, 0x32, 0xFF, 0xFF, 0xFF, 0x7F})
	f.Fuzz(func(t *testing.T, raw []byte) {
		g := guarded(fixedConn{bytes.NewReader(raw)})
		for {
			if _, err := packets.ReadPacket(g); err != nil {
				return
			}
		}
	})
}

// fixedConn is a connection from which some bytes come.
type fixedConn struct{ *bytes.Reader }

func (fixedConn) Write(p []byte) (int, error)      { return len(p), nil }
func (fixedConn) Close() error                     { return nil }
func (fixedConn) LocalAddr() net.Addr              { return nil }
func (fixedConn) RemoteAddr() net.Addr             { return nil }
func (fixedConn) SetDeadline(time.Time) error      { return nil }
func (fixedConn) SetReadDeadline(time.Time) error  { return nil }
func (fixedConn) SetWriteDeadline(time.Time) error { return nil }
