package network

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// load is how long the load test lasts; up to 10m by hand.
var load = flag.Duration("load", 20*time.Second, "how long the load test sends")

const (
	loadProbes  = 500 // each once a second
	loadSenders = 10  // connections they share
	loadKind    = "POURWARD_TEST_SEND"
	loadAddress = "POURWARD_TEST_ADDRESS"
	loadRounds  = "POURWARD_TEST_ROUNDS"
)

// TestMain plays the probes of the load test when it is asked to, so that what they need is not counted.
func TestMain(m *testing.M) {
	flag.Parse()
	if kind := os.Getenv(loadKind); kind != "" {
		if err := sendLoad(kind, os.Getenv(loadAddress), os.Getenv(loadRounds)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

func sendLoad(kind, address, rounds string) error {
	n, err := strconv.Atoi(rounds)
	if err != nil {
		return err
	}
	errs := make(chan error, loadSenders)
	for i := range loadSenders {
		go func() { errs <- loadSender(kind, address, i, n) }()
	}
	for range loadSenders {
		if e := <-errs; e != nil {
			err = e
		}
	}
	return err
}

// loadSender sends once a second for its share of the probes, spread over the second.
func loadSender(kind, address string, i, rounds int) error {
	send := pushLoad(address)
	if kind == "mqtt" {
		s := newSender(loadT{}, &broker{port: address}, "")
		send = func(probe int, payload string) error {
			s.send(fmt.Sprintf("load/%d", probe), payload)
			return nil
		}
	}
	const share = loadProbes / loadSenders
	begin := time.Now()
	for round := range rounds {
		for j := range share {
			due := begin.Add(time.Duration(round)*time.Second + time.Duration(j)*time.Second/share)
			<-time.After(time.Until(due)) // what is late is caught up with
			probe := i*share + j
			if err := send(probe, fmt.Sprintf(`{"probe": "%d", "temperature": %.2f, "sequence": %d}`, probe, loadTemp(round), round)); err != nil {
				return err
			}
		}
	}
	return nil
}

func pushLoad(address string) func(int, string) error {
	client := &http.Client{Timeout: 10 * time.Second}
	return func(_ int, payload string) error {
		request, err := http.NewRequest(http.MethodPost, address, strings.NewReader(payload))
		if err != nil {
			return err
		}
		request.Header.Set("Authorization", "Bearer "+sharedToken)
		answer, err := client.Do(request)
		if err != nil {
			return err
		}
		defer answer.Body.Close()
		if _, err := io.Copy(io.Discard, answer.Body); err != nil || answer.StatusCode != http.StatusAccepted {
			return fmt.Errorf("status %d: %w", answer.StatusCode, err)
		}
		return nil
	}
}

// loadTemp is what every probe measures in a round.
func loadTemp(round int) float64 { return 20 + float64(round%100)/100 }

// loadT ends the sending process at the first failure.
type loadT struct{ testing.TB }

func (loadT) Helper()                   {}
func (loadT) Cleanup(func())            {}
func (loadT) Errorf(f string, a ...any) { fmt.Fprintf(os.Stderr, f, a...) }
func (loadT) FailNow()                  { os.Exit(1) }

// loadName returns the probe of a number.
func loadName(i int) string { return strconv.Itoa(i) }

// tally checks readings as they come: each probe's temperatures must be those sent, in order.
type tally struct {
	t     testing.TB
	mu    sync.Mutex
	next  map[string]int
	count int
	late  time.Duration // longest between two readings of one probe
	last  map[string]time.Time
}

func (y *tally) take(r sensors.Reading) {
	y.mu.Lock()
	defer y.mu.Unlock()
	if r.Err != nil || fmt.Sprintf("%.2f", r.Temp.Value) != fmt.Sprintf("%.2f", loadTemp(y.next[r.Probe])) {
		y.t.Errorf("reading %d of probe %s is %v", y.next[r.Probe], r.Probe, r)
	}
	if before := y.last[r.Probe]; !before.IsZero() {
		y.late = max(y.late, r.At.Sub(before))
	}
	y.last[r.Probe] = r.At
	y.next[r.Probe]++
	y.count++
}

func (y *tally) total() int {
	y.mu.Lock()
	defer y.mu.Unlock()
	return y.count
}

// runLoad lets a process of its own send to a source, and reports what the source needed.
func runLoad(t *testing.T, kind, address string, source sensors.Source, lasting time.Duration, refused func() []Count) {
	rounds := max(1, int(lasting/time.Second))
	y := &tally{t: t, next: map[string]int{}, last: map[string]time.Time{}}
	out := make(chan sensors.Reading)
	go func() {
		for {
			select {
			case r := <-out:
				if r.Receipt != nil {
					r.Receipt.Settle(nil)
					continue
				}
				y.take(r)
			case <-t.Context().Done():
				return
			}
		}
	}()
	go func() { _ = source.Run(t.Context(), out) }()
	if m, ok := source.(*MQTT); ok {
		soon(t, "the source is connected", m.Connected)
	}
	cpu, began := cpuTime(t), time.Now()
	sender := exec.Command(os.Args[0])
	sender.Env = append(os.Environ(), loadKind+"="+kind, loadAddress+"="+address, loadRounds+"="+strconv.Itoa(rounds))
	sender.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	said, err := sender.CombinedOutput()
	require.NoError(t, err, string(said))
	soon(t, "every reading comes", func() bool { return y.total() >= rounds*loadProbes })
	used, took := cpuTime(t)-cpu, time.Since(began)
	require.Equal(t, rounds*loadProbes, y.total())
	require.Empty(t, refused())
	var mem runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&mem)
	t.Logf("%s: %d readings in %s, %.2f a second and probe; CPU %.2f s = %.1f %% of a core, %.0f µs a reading; live heap %.1f MiB, most resident %s; longest pause of a probe %s",
		kind, y.total(), took.Round(time.Second/10), float64(y.total())/loadProbes/took.Seconds(), used.Seconds(), 100*used.Seconds()/took.Seconds(), 1e6*used.Seconds()/float64(y.total()),
		float64(mem.HeapAlloc)/(1<<20), mostResident(t), y.late.Round(time.Millisecond))
}

// cpuTime returns what this process has used.
func cpuTime(t testing.TB) time.Duration {
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// mostResident returns the most memory that this process had at any time.
func mostResident(t testing.TB) string {
	status, err := os.ReadFile("/proc/self/status")
	require.NoError(t, err)
	_, rest, _ := bytes.Cut(status, []byte("VmHWM:"))
	line, _, _ := bytes.Cut(rest, []byte("\n"))
	return strings.TrimSpace(string(line))
}

func TestLoadMQTT(t *testing.T) {
	b := startBroker(t)
	o := MQTTOptions{Broker: b.url()}
	for i := range loadProbes {
		o.Probes = append(o.Probes, MQTTProbe{Name: loadName(i), Topic: "load/" + loadName(i),
			Format: Format{Temp: Field{Path: "temperature"}, TempUnit: Celsius, Sequence: "sequence"}})
	}
	m := newMQTT(t, o)
	runLoad(t, "mqtt", b.port, m, *load, m.Refused)
}

func TestLoadPush(t *testing.T) {
	o := PushOptions{Token: sharedToken}
	for i := range loadProbes {
		o.Probes = append(o.Probes, PushProbe{Name: loadName(i), TempUnit: Celsius})
	}
	p := newPush(t, o)
	server := httptest.NewServer(p)
	defer server.Close()
	runLoad(t, "push", server.URL, p, *load/4, p.Refused)
}
