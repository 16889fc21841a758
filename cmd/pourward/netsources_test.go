package main

import (
	"context"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/eclipse/paho.golang/paho"
	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
)

// broker is a real MQTT broker.
type broker struct {
	*child
	address string
}

// startBroker starts mosquitto on the loopback interface, for one user with a password.
func startBroker(t *testing.T) *broker {
	t.Helper()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		path = "/usr/sbin/mosquitto" // which not everybody's PATH has
	}
	require.FileExists(t, path, "mosquitto is missing: install Debian's package mosquitto, which brings it")
	dir, address := t.TempDir(), freeAddress(t)
	_, port, _ := strings.Cut(address, ":")
	passwords := filepath.Join(dir, "passwords")
	require.NoError(t, exec.Command(program(t, "mosquitto_passwd", "mosquitto"), "-b", "-c", passwords, "annex", "open sesame").Run())
	lines := "listener " + port + " 127.0.0.1\npersistence false\nallow_anonymous false\npassword_file " + passwords + "\n"
	if os.Geteuid() == 0 {
		lines += "user root\n" // else it could not read the test's files
	}
	file := filepath.Join(dir, "mosquitto.conf")
	require.NoError(t, os.WriteFile(file, []byte(lines), 0o600))
	c := start(t, path, "-v", "-c", file)
	c.says(`mosquitto version \S+ running`)
	return &broker{c, address}
}

// freeAddress is one of the loopback interface that nobody uses.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().String()
}

// send publishes a message, retained or not, and waits until the broker has it.
func (b *broker) send(topic, payload string, retain bool) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.t.Context(), patience)
	defer cancel()
	conn, err := net.Dial("tcp", b.address)
	require.NoError(b.t, err)
	defer conn.Close()
	client := paho.NewClient(paho.ClientConfig{Conn: conn})
	_, err = client.Connect(ctx, &paho.Connect{CleanStart: true, KeepAlive: 30, UsernameFlag: true, Username: "annex", PasswordFlag: true, Password: []byte("open sesame")})
	require.NoError(b.t, err)
	_, err = client.Publish(ctx, &paho.Publish{Topic: topic, Payload: []byte(payload), QoS: 1, Retain: retain})
	require.NoError(b.t, err)
	require.NoError(b.t, client.Disconnect(&paho.Disconnect{}))
}

// Messages of a real broker, whose password is in a file, become readings by the words of the config. Two
// probes are in one message.
func TestMessagesOfABroker(t *testing.T) {
	t.Parallel() // it waits more than it works
	b := startBroker(t)
	dir := t.TempDir()
	layTree(t, dir, map[string]string{"broker.password": "open sesame"})
	l := liveOf(t, dir, "brokers: [{name: house, url: tcp://"+b.address+", user: annex, password_file: broker.password}, {name: spare, url: tcp://192.0.2.1}]\n",
		`offset: "-0.5 K", mqtt: {broker: house, topic: annex/air, temperature: {path: "probes[0].t", unit: "°F"}, humidity: {path: "probes[0].h", unit: "%"}, sequence: n}`,
		`mqtt: {broker: house, topic: annex/air, temperature: {path: "probes[1].t", unit: "°C", scale: 0.1}, sequence: n}`)
	sources, err := l.all(t.Context(), sensors.RealClock{}, never)
	require.NoError(t, err)
	require.Len(t, sources, 1, "nobody sends to the spare one")
	h := hear(t, sources)
	b.says(`Sending SUBACK to`)
	b.send("annex/air", `{"probes": [{"t": 68, "h": 41}, {"t": 215}], "n": 1}`, false)
	var air, skin sensors.Reading
	eventually(t, "both are heard", func() (both bool) {
		var first, second bool
		air, first = h.good("p0")
		skin, second = h.good("p1")
		return first && second
	})
	require.Equal(t, []float64{19.5, 0.41, 21.5}, []float64{air.Temp.Value, air.Humidity.Value, skin.Temp.Value})
	h.stop()
}

// What a real Prometheus scraped from somebody else's probe becomes readings. Probes that are asked for at
// another interval have a source of their own.
func TestSamplesOfAPrometheus(t *testing.T) {
	t.Parallel() // it waits more than it works
	room := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		fmt.Fprint(w, "air_celsius{room=\"annex\"} 19.25\nair_celsius{room=\"office\"} 22\nair_ratio{room=\"annex\"} 0.44\n")
	}))
	t.Cleanup(room.Close)
	p := startPrometheus(t, strings.TrimPrefix(room.URL, "http://"), hastened(t, 1), "127.0.0.1:9")
	p.says(`Server is ready to receive web requests`)
	eventually(t, "it has scraped the room", func() bool { return p.finds(`air_celsius`) })
	l := liveOf(t, "/", "prometheus: [{name: house, url: http://"+p.address+"}]\n",
		`offset: "0.75 K", every: "1 s", prometheus: {server: house, temperature: {query: 'air_celsius{room="annex"}', unit: "°C"}, humidity: {query: 'air_ratio{room="annex"}', unit: ratio}}`,
		`every: "2 s", prometheus: {server: house, temperature: {query: 'air_celsius{room="office"} + 273.15', unit: K}}`)
	asked := map[string]bool{}
	sources, err := l.all(t.Context(), sensors.RealClock{}, func(_ context.Context, probe string) (time.Time, error) {
		asked[probe] = true
		return time.Time{}, nil
	})
	require.NoError(t, err)
	require.Equal(t, map[string]bool{"p0": true, "p1": true}, asked, "the gap since the last reading on record is filled")
	require.Len(t, sources, 2)
	h := hear(t, sources)
	var annex, office sensors.Reading
	eventually(t, "both are heard", func() bool {
		var first, second bool
		annex, first = h.good("p0")
		office, second = h.good("p1")
		return first && second
	})
	require.Equal(t, []float64{20, 0.44, 22}, []float64{annex.Temp.Value, annex.Humidity.Value, office.Temp.Value})
	h.stop()
	p.stop()
}

const (
	sharedToken = "0123456789abcdef-shared"
	benchToken  = "0123456789abcdef-bench"
)

func post(h http.Handler, token, body string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodPost, "http://localhost"+pushPath, strings.NewReader(body))
	r.Header.Set("Authorization", "Bearer "+token)
	h.ServeHTTP(w, r)
	return w
}

// Readings are posted to the daemon's own address, with the tokens in the files that the config names, and
// put right as those of every other probe.
func TestReadingsThatArePosted(t *testing.T) {
	dir := t.TempDir()
	layTree(t, dir, map[string]string{"push.token": sharedToken, "bench.token": benchToken})
	text := shopText("push: {token_file: push.token}\n",
		`offset: "-0.5 K", humidity_points: [{reads: "36 %", is: "33 %"}, {reads: "72 %", is: "75 %"}], push: {temperature_unit: "°C", humidity_unit: "%", token_file: bench.token}`,
		`limits: {max: "50 °C"}, push: {}`)
	c, err := config.Parse(filepath.Join(dir, "annex.yml"), text)
	require.NoError(t, err)
	synctest.Test(t, func(t *testing.T) {
		o, err := fromConfig(c, slog.New(slog.DiscardHandler))
		require.NoError(t, err)
		o.board, o.clock = nil, sensors.RealClock{}
		r := rehearse(t, o)
		require.Equal(t, http.StatusAccepted, post(r.pages, benchToken, `{"probe": "p0", "temperature": 20.5, "humidity": 36}`).Code)
		require.Equal(t, http.StatusForbidden, post(r.pages, benchToken, `{"probe": "p1", "temperature": 69, "unit": "F"}`).Code)
		require.Equal(t, http.StatusAccepted, post(r.pages, sharedToken, `{"probe": "p1", "temperature": 141, "unit": "F"}`).Code)
		require.Equal(t, http.StatusUnauthorized, post(r.pages, "guessed", `{}`).Code)
		get := httptest.NewRecorder()
		r.pages.ServeHTTP(get, httptest.NewRequest(http.MethodGet, "http://localhost"+pushPath, nil))
		require.Equal(t, http.StatusMethodNotAllowed, get.Code)
		within(t, 20*time.Second, "the probe is heard", func() bool {
			return value(t, r.get(t, "/metrics"), `pourward_probe_silent{probe="p0"}`) == 0
		})
		metrics := r.get(t, "/metrics")
		require.Equal(t, 20.0, value(t, metrics, `pourward_probe_temperature_celsius{probe="p0"}`))
		require.InDelta(t, 0.33, value(t, metrics, `pourward_probe_relative_humidity_ratio{probe="p0"}`), 1e-9)
		require.Equal(t, 1.0, value(t, metrics, `pourward_probe_silent{probe="p1"}`), "60.6 °C is beyond its limits")
		require.NoError(t, r.end())
	})
}

func TestSecretsThatCannotBeRead(t *testing.T) {
	dir := t.TempDir()
	layTree(t, dir, map[string]string{"two.lines": "one\ntwo", "empty": ""})
	for file, want := range map[string]string{"absent": "absent: no such file", "two.lines": "must hold it in one line", "empty": "must hold it in one line"} {
		for _, before := range []string{
			"brokers: [{name: house, url: tcp://127.0.0.1, user: annex, password_file: " + file + "}]\n",
			"prometheus: [{name: house, url: http://127.0.0.1, token_file: " + file + "}]\n",
			"push: {token_file: " + file + "}\n",
		} {
			l := liveOf(t, dir, before, everyArriving(before))
			_, err := l.all(t.Context(), sensors.RealClock{}, never)
			require.ErrorContains(t, err, want)
			require.ErrorContains(t, err, "read the secret of ")
		}
	}
	s, err := secretFrom(filepath.Join(dir, "none"), "")
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.Empty(t, s)
}

// everyArriving is a probe for the broker, the server or the token that a file has.
func everyArriving(before string) string {
	switch {
	case strings.HasPrefix(before, "brokers"):
		return `mqtt: {broker: house, topic: annex, temperature: {path: t, unit: K}}`
	case strings.HasPrefix(before, "prometheus"):
		return `prometheus: {server: house, temperature: {query: t, unit: K}}`
	}
	return "push: {}"
}

// Whatever the checker of the config takes can be set up: what it lets through does not stop the daemon.
func FuzzWhatIsSoundCanBeSetUp(f *testing.F) {
	sound, err := os.ReadFile(filepath.Join("internal", "config", "testdata", "kinds.yml"))
	require.NoError(f, err)
	lines := strings.Split(strings.TrimRight(string(sound), "\n"), "\n")
	for i, text := range []string{"url: tcp://[::1]", "keep: 7 d", `topic: "$SYS/x"`, "path: .", "url: http://h/a?", "server_name: x", `url: "tls://a b"`, "scale: -1e-6"} {
		f.Add(uint8(5+i), "    "+text)
	}
	f.Fuzz(func(t *testing.T, line uint8, text string) {
		edited := append([]string(nil), lines...)
		edited[int(line)%len(lines)] = text
		c, err := config.Parse("annex.yml", []byte(strings.Join(edited, "\n")))
		if err != nil {
			return
		}
		l := newLive(c, nil)
		l.secret = func(file, _ string) (string, error) {
			if file == "" {
				return "", nil
			}
			return sharedToken, nil
		}
		sources, err := l.all(t.Context(), sensors.RealClock{}, never)
		require.NoError(t, err, "%q", text)
		require.NotEmpty(t, sources)
	})
}
