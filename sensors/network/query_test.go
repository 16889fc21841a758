package network

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/sensors"
)

func newQuery(t testing.TB, o QueryOptions) *Query {
	t.Helper()
	q, err := NewQuery(o)
	require.NoError(t, err)
	return q
}

// shelf keeps samples like a server does: an expression has the newest sample of the last five minutes
// (Prometheus documentation, "Staleness").
type shelf struct {
	mu       sync.Mutex
	temps    []point
	humidity []point
	fail     func(endpoint string) (*http.Response, error) // stands in for the answer when it returns something
	asked    []string
	ahead    time.Duration // by which the server's clock is ahead of the right time
}

const lookBack = 5 * 60 * 1000

func newest(points []point, at int64) (point, bool) {
	for i := len(points) - 1; i >= 0; i-- {
		if p := points[i]; p.millis <= at {
			return p, at-p.millis < lookBack
		}
	}
	return point{}, false
}

// scrape adds a sample of both at an instant.
func (s *shelf) scrape(at time.Time, tempC, percent float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.temps = append(s.temps, point{at.UnixMilli(), tempC})
	s.humidity = append(s.humidity, point{at.UnixMilli(), percent})
}

func (s *shelf) set(fail func(string) (*http.Response, error)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fail = fail
}

func (s *shelf) questions() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.asked...)
}

// RoundTrip answers a question of [asked.question] about temp and humidity.
func (s *shelf) RoundTrip(r *http.Request) (*http.Response, error) {
	raw, _ := io.ReadAll(r.Body)
	form, _ := url.ParseQuery(string(raw))
	endpoint := strings.TrimPrefix(r.URL.Path, "/api/v1/")
	s.mu.Lock()
	defer s.mu.Unlock()
	s.asked = append(s.asked, endpoint)
	if s.fail != nil {
		if a, err := s.fail(endpoint); a != nil || err != nil {
			return a, err
		}
	}
	grid := []int64{time.Now().Add(s.ahead).UnixMilli()}
	kind := "vector"
	if endpoint == "query_range" {
		kind, grid = "matrix", nil
		begin, end, step := seconds(form.Get("start")), seconds(form.Get("end")), seconds(form.Get("step"))
		for at := begin; at <= end; at += step {
			grid = append(grid, at)
		}
		if len(grid) > 11000 {
			return nil, errors.New("more than 11,000 points")
		}
	}
	var results []string
	for part, points := range map[string][]point{tempPart: s.temps, humidityPart: s.humidity} {
		var values, instants []string
		for _, at := range grid {
			if p, ok := newest(points, at); ok {
				values = append(values, fmt.Sprintf("[%.3f,%q]", float64(at)/1000, fmt.Sprint(p.v)))
				instants = append(instants, fmt.Sprintf("[%.3f,\"%.3f\"]", float64(at)/1000, float64(p.millis)/1000))
			}
		}
		for name, list := range map[string][]string{part: values, part + "_at": instants} {
			if len(list) > 0 && strings.Contains(form.Get("query"), fmt.Sprintf("%q", name)) {
				text := "\"value\":" + list[0]
				if kind == "matrix" {
					text = "\"values\":[" + strings.Join(list, ",") + "]"
				}
				results = append(results, fmt.Sprintf(`{"metric":{%q:%q},%s}`, partLabel, name, text))
			}
		}
	}
	return said(200, fmt.Sprintf(`{"status":"success","data":{"resultType":%q,"result":[%s]}}`, kind, strings.Join(results, ","))), nil
}

func seconds(text string) int64 {
	v, _ := strconv.ParseFloat(text, 64)
	return int64(math.Round(v * 1000))
}

func said(status int, body string) *http.Response {
	return &http.Response{StatusCode: status, Body: io.NopCloser(strings.NewReader(body)), Header: http.Header{}}
}

// bench is a probe with both expressions.
func benchQuery() QueryProbe {
	return QueryProbe{Name: "bench", Temp: "temp", TempUnit: Celsius, Humidity: "rh", HumidityUnit: Percent}
}

// watch runs a source against a shelf until the end of the test's bubble; stop must be called.
func (s *shelf) watch(t testing.TB, o QueryOptions) (k *sink, stop func()) {
	o.URL = "http://prometheus:9090"
	if o.Probes == nil {
		o.Probes = []QueryProbe{benchQuery()}
	}
	q := newQuery(t, o)
	q.trip = s
	k = collect(t, q)
	return k, func() {
		k.end()
		synctest.Wait()
	}
}

// instants returns when the readings were taken, in seconds after an instant.
func (k *sink) instants(from time.Time) []float64 {
	var out []float64
	for _, r := range k.readings() {
		if r.Err == nil {
			out = append(out, r.At.Sub(from).Seconds())
		}
	}
	return out
}

func TestQueriesTakeTheSamplesOwnTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, begin := &shelf{}, time.Now()
		k, stop := s.watch(t, QueryOptions{Every: 10 * time.Second})
		defer stop()
		for i := range 4 { // a scrape every 30 s, 3 s after a query
			time.Sleep(time.Duration(30*i+3)*time.Second - time.Since(begin))
			s.scrape(time.Now(), 20+float64(i)/10, 50)
		}
		time.Sleep(20 * time.Second)
		require.Equal(t, []float64{3, 33, 63, 93}, k.instants(begin), "each once, at its own time")
		require.Equal(t, []float64{20, 20.1, 20.2, 20.3}, k.good("bench"))
		for _, r := range k.readings()[1:] {
			require.Equal(t, sensors.GoodMeasure(0.5), r.Humidity)
		}
		require.Len(t, k.failures("bench"), 1, "before the first scrape there was no data")
		require.Equal(t, sensors.NoResponse, sensors.FaultOf(k.failures("bench")[0]))
	})
}

func TestNoDataIsNotTheLastValue(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, begin := &shelf{}, time.Now()
		s.scrape(begin, 20, 50)
		k, stop := s.watch(t, QueryOptions{Every: 30 * time.Second, Stale: 2 * time.Minute})
		defer stop()
		time.Sleep(10*time.Minute + time.Second)
		require.Equal(t, []float64{0}, k.instants(begin), "the server goes on saying 20 °C for five minutes")
		failed := k.failures("bench")
		require.Len(t, failed, 16, "from two minutes on")
		require.ErrorContains(t, failed[0], "there is no new sample, the last was of")
	})
}

// A humidity alone does not hide that the temperature is gone.
func TestATemperatureThatIsGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{humidity: []point{{time.Now().UnixMilli(), 50}}}
		k, stop := s.watch(t, QueryOptions{Every: 30 * time.Second})
		defer stop()
		time.Sleep(time.Second)
		got := k.readings()
		require.Len(t, got, 2)
		require.Equal(t, sensors.GoodMeasure(0.5), got[0].Humidity)
		require.Equal(t, sensors.Missing, got[0].Temp.Quality)
		require.Equal(t, sensors.NoResponse, sensors.FaultOf(got[1].Err))
	})
}

func TestSamplesThatAreNone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		q := newQuery(t, QueryOptions{URL: "http://x", Probes: []QueryProbe{benchQuery()}})
		q.trip = s
		out := make(chan sensors.Reading, 100)
		ask := func(temp, percent float64) []sensors.Reading {
			time.Sleep(time.Minute)
			s.scrape(time.Now(), temp, percent)
			require.NoError(t, q.ask(t.Context(), q.probes[0], out))
			require.NoError(t, q.ask(t.Context(), q.probes[0], out), "nothing new")
			var got []sensors.Reading
			for len(out) > 0 {
				got = append(got, <-out)
			}
			return got
		}
		for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			got := ask(bad, bad)
			for _, r := range got {
				require.Equal(t, NotNumber, refusalOf(r.Err), "%g: %v", bad, r)
			}
			got = ask(bad, 50)
			require.Equal(t, sensors.Missing, got[len(got)-1].Temp.Quality)
			require.Equal(t, sensors.GoodMeasure(0.5), got[len(got)-1].Humidity)
		}
		require.EqualValues(t, 9, counted(q.Refused(), "bench", NotNumber), "each sample once")
		ask(20, 0.5)
		require.EqualValues(t, 1, counted(q.Refused(), "bench", WrongUnit))
	})
}

func TestAServerWhoseClockIsAhead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock := newHandClock() // stands still, long after the server's
		clock.now = time.Now().Add(-2 * time.Minute)
		s := &shelf{}
		s.scrape(time.Now(), 20, 50)
		q := newQuery(t, QueryOptions{URL: "http://x", Clock: clock, Probes: []QueryProbe{benchQuery()}})
		q.trip = s
		out := make(chan sensors.Reading, 10)
		require.NoError(t, q.ask(t.Context(), q.probes[0], out))
		require.Equal(t, Ahead, refusalOf((<-out).Err))
		require.Empty(t, out)
	})
}

// The way to the server is cut for twenty minutes while it goes on scraping; then all samples of that time
// come, in order, by range queries of bounded size.
func TestAGapIsFilled(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, begin := &shelf{}, time.Now()
		k, stop := s.watch(t, QueryOptions{Every: 15 * time.Second})
		defer stop()
		scrapes := func(n int) {
			for range n {
				s.scrape(time.Now(), 20+time.Since(begin).Hours(), 50)
				time.Sleep(15 * time.Second)
			}
		}
		time.Sleep(time.Second)
		scrapes(4)
		s.set(func(string) (*http.Response, error) { return nil, errors.New("no route to host") })
		scrapes(80)
		failed := len(k.failures("bench"))
		require.Greater(t, failed, 70)
		s.set(nil)
		scrapes(4)
		var want []float64
		for i := range 87 {
			want = append(want, float64(1+15*i))
		}
		require.Equal(t, want, k.instants(begin)[:87])
		require.Len(t, k.failures("bench"), failed)
		for _, r := range k.readings() {
			require.True(t, r.Err != nil || r.Temp.OK(), "no sample of the gap is doubted: %v", r)
		}
	})
}

func TestGapsInChunksAndWithinReason(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		time.Sleep(48 * time.Hour)
		now := time.Now()
		for at := now.Add(-36 * time.Hour); at.Before(now); at = at.Add(time.Minute) {
			s.scrape(at, 20, 50)
		}
		p := benchQuery()
		p.After = now.Add(-30 * time.Hour)
		k, stop := s.watch(t, QueryOptions{Every: time.Minute, Backfill: 20 * time.Hour, Probes: []QueryProbe{p}})
		defer stop()
		synctest.Wait()
		time.Sleep(time.Second)
		got := k.instants(now)
		require.Len(t, got, 20*60, "twenty hours at most")
		require.Equal(t, -60.0, got[len(got)-1])
		ranges := 0
		for _, q := range s.questions() {
			if q == "query_range" {
				ranges++
			}
		}
		require.Equal(t, 3, ranges, "500 steps each")
	})
}

// What a server has of the time before can be had before the source runs, which then repeats none of it.
func TestThePastOfAServer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		time.Sleep(48 * time.Hour)
		now := time.Now()
		for at := now.Add(-36 * time.Hour); !at.After(now); at = at.Add(time.Minute) {
			s.scrape(at, 20, 50)
		}
		p := benchQuery()
		p.After = now.Add(-30 * time.Hour)
		q := newQuery(t, QueryOptions{URL: "http://prometheus:9090", Every: time.Minute, Backfill: 40 * time.Hour, Probes: []QueryProbe{p}})
		q.trip = s

		s.set(func(string) (*http.Response, error) { return nil, errors.New("no route to host") })
		require.ErrorContains(t, q.Past(t.Context(), nil), `query http://prometheus:9090 for what probe "bench" measured before: `)
		s.set(nil)
		past := make(chan sensors.Reading, 3000)
		require.NoError(t, q.Past(t.Context(), past))
		require.Len(t, past, 30*60)
		require.Equal(t, now.Add(-30*time.Hour+time.Minute).UTC(), (<-past).At)

		k := collect(t, q)
		synctest.Wait()
		require.Empty(t, k.instants(now))
		time.Sleep(time.Minute)
		s.scrape(time.Now(), 21, 50)
		time.Sleep(time.Minute)
		synctest.Wait() // the source wakes at this very instant too
		require.Equal(t, []float64{60}, k.instants(now))
		k.end()
		synctest.Wait()
	})
}

// Filling that fails does not keep newer readings back for ever.
func TestAGapThatCannotBeFilled(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, begin := &shelf{}, time.Now()
		p := benchQuery()
		time.Sleep(time.Hour)
		p.After = begin
		log := &book{}
		s.set(func(endpoint string) (*http.Response, error) {
			if endpoint == "query_range" {
				return said(422, `{"status":"error","errorType":"execution","error":"too many samples"}`), nil
			}
			return nil, nil
		})
		s.scrape(time.Now(), 20, 50)
		k, stop := s.watch(t, QueryOptions{Every: 10 * time.Second, Probes: []QueryProbe{p}, Log: log.logger()})
		defer stop()
		time.Sleep(15 * time.Second)
		require.Empty(t, k.good("bench"), "to be tried again")
		time.Sleep(10 * time.Second)
		require.Equal(t, []float64{20}, k.good("bench"))
		require.Equal(t, 3, strings.Count(log.String(), "gap is not filled yet"))
		require.Contains(t, log.String(), "too many samples")
	})
}

func TestAMachineThatSleptFillsTheGap(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		clock := &sleeper{}
		k, stop := s.watch(t, QueryOptions{Every: 10 * time.Second, Clock: clock})
		defer stop()
		begin := time.Now()
		time.Sleep(3 * time.Second) // not at the instant of a query
		for range 60 {
			s.scrape(time.Now(), 20, 50)
			time.Sleep(10 * time.Second)
			clock.set(time.Since(begin) > 100*time.Second && time.Since(begin) < 400*time.Second)
		}
		require.Len(t, k.instants(begin), 60, "every sample")
	})
}

// sleeper is a real clock whose waits last until it wakes.
type sleeper struct {
	sensors.RealClock
	mu     sync.Mutex
	asleep bool
}

func (c *sleeper) set(asleep bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.asleep = asleep
}

func (c *sleeper) Wait(ctx context.Context, t time.Time) error {
	for {
		if err := c.RealClock.Wait(ctx, t); err != nil {
			return err
		}
		c.mu.Lock()
		asleep := c.asleep
		c.mu.Unlock()
		if !asleep {
			return nil
		}
		t = t.Add(time.Second)
	}
}

// The waits after a failed server double from a second to the interval, each within ±20 %.
func TestQueriesBackOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		s.set(func(string) (*http.Response, error) { return nil, errors.New("connection refused") })
		k, stop := s.watch(t, QueryOptions{Every: 20 * time.Second, Probes: []QueryProbe{benchQuery(), {Name: "shelf", Temp: "x", TempUnit: Celsius}}})
		defer stop()
		time.Sleep(2 * time.Minute)
		var at []time.Time
		for _, r := range k.readings() {
			if r.Probe == "shelf" {
				at = append(at, r.At)
			}
		}
		for i, want := range []float64{1, 2, 4, 8, 16, 20, 20} {
			require.InDelta(t, want, at[i+1].Sub(at[i]).Seconds(), 0.2*want+0.01)
		}
		require.InDelta(t, len(s.questions()), len(at), 1, "a server that is down is asked for one probe only")
		require.Len(t, k.failures("bench"), len(k.failures("shelf")), "every probe is told as failed")
	})
}

// One expression that fails, or takes for ever, does not keep the others from being asked.
func TestOneBadExpression(t *testing.T) {
	for name, bad := range map[string]func(*http.Request) (*http.Response, error){
		"error": func(*http.Request) (*http.Response, error) {
			return said(400, `{"status":"error","errorType":"bad_data","error":"parse error"}`), nil
		},
		"slow": func(r *http.Request) (*http.Response, error) {
			<-r.Context().Done()
			return nil, r.Context().Err()
		},
		"several series": func(*http.Request) (*http.Response, error) {
			return said(200, `{"status":"success","data":{"resultType":"vector","result":[{"metric":{"pourward_part":"temp"},"value":[1,"1"]},{"metric":{"pourward_part":"temp"},"value":[1,"2"]}]}}`), nil
		},
	} {
		synctest.Test(t, func(t *testing.T) {
			s := &shelf{}
			s.scrape(time.Now(), 20, 50)
			o := QueryOptions{URL: "http://x", Probes: []QueryProbe{{Name: "bad", Temp: "nonsense", TempUnit: Celsius}, benchQuery()}}
			q := newQuery(t, o)
			q.trip = roundTrip(func(r *http.Request) (*http.Response, error) {
				raw, _ := io.ReadAll(r.Body)
				r.Body = io.NopCloser(strings.NewReader(string(raw)))
				if strings.Contains(string(raw), "nonsense") {
					return bad(r)
				}
				return s.RoundTrip(r)
			})
			k := collect(t, q)
			time.Sleep(time.Minute)
			require.Equal(t, []float64{20}, k.good("bench"), name)
			require.Empty(t, k.failures("bench"), name)
			require.NotEmpty(t, k.failures("bad"), name)
			k.end()
			synctest.Wait()
		})
	}
}

type roundTrip func(*http.Request) (*http.Response, error)

func (f roundTrip) RoundTrip(r *http.Request) (*http.Response, error) { return f(r) }

func TestAnswers(t *testing.T) {
	for _, row := range table(t, "testdata/answers.csv") {
		_, err := parseAnswer(int(number(t, row["status"])), []byte(row["answer"]))
		if row["error"] == "" {
			require.NoError(t, err, row)
			continue
		}
		require.ErrorContains(t, err, row["error"], row)
		require.Equal(t, row["fault"], sensors.FaultOf(err).String(), row)
	}
	all, err := parseAnswer(200, []byte(table(t, "testdata/answers.csv")[1]["answer"]))
	require.NoError(t, err)
	require.Equal(t, []point{{1435781430781, 1}, {1435781445781, 1}, {1435781460781, 1}}, all[0].points)
}

// Pairs are of temperatures and humidities that are near to each other; nothing is told twice.
func TestPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) (out []point) {
			at := int64(noon.UnixMilli())
			for range rapid.IntRange(0, 8).Draw(t, name) {
				at += int64(rapid.IntRange(1, 100_000).Draw(t, name+" step"))
				out = append(out, point{at, float64(at)})
			}
			return out
		}
		temps, humidities := draw("temps"), draw("humidities")
		got := together(append([]point(nil), temps...), append([]point(nil), humidities...), 30*time.Second)
		var seen []point
		for _, s := range got {
			require.False(t, math.IsNaN(s.TempC) && math.IsNaN(s.Humidity))
			if !math.IsNaN(s.TempC) {
				require.Equal(t, float64(s.At.UnixMilli()), s.TempC, "a pair has the instant of its temperature")
				seen = append(seen, point{int64(s.TempC), s.TempC})
			}
			if !math.IsNaN(s.Humidity) && !math.IsNaN(s.TempC) {
				require.LessOrEqual(t, math.Abs(s.Humidity-s.TempC), 30_000.0)
			}
		}
		require.Equal(t, temps, seen, "every temperature, in order")
	})
}

func TestQueryOptionsThatDoNotFit(t *testing.T) {
	for want, spoil := range map[string]func(*QueryOptions){
		"must begin with":         func(o *QueryOptions) { o.URL = "prometheus:9090" },
		"shown in logs":           func(o *QueryOptions) { o.URL = "http://u:secret@x" },
		"end with its path":       func(o *QueryOptions) { o.URL = "http://x?a=b" },
		"cannot be understood":    func(o *QueryOptions) { o.URL = "http://u:secret\x00@x" },
		"no probe":                func(o *QueryOptions) { o.Probes = nil },
		"no name":                 func(o *QueryOptions) { o.Probes[0].Name = "" },
		"given twice":             func(o *QueryOptions) { o.Probes = append(o.Probes, o.Probes[0]) },
		"no expression":           func(o *QueryOptions) { o.Probes[0].Temp, o.Probes[0].Humidity = "", "" },
		"unit of the temperature": func(o *QueryOptions) { o.Probes[0].TempUnit = 0 },
		"unit of the humidity":    func(o *QueryOptions) { o.Probes[0].HumidityUnit = 0 },
		"a second apart":          func(o *QueryOptions) { o.Every = time.Millisecond },
		"0.1 s or more":           func(o *QueryOptions) { o.Step = time.Millisecond },
		"cannot be negative":      func(o *QueryOptions) { o.Timeout = -1 },
		"needs a user":            func(o *QueryOptions) { o.Password = "secret" },
		"a token or a user":       func(o *QueryOptions) { o.Token, o.User = "a", "b" },
		"that of its key":         func(o *QueryOptions) { o.TLS.Key = "key.pem" },
	} {
		o := QueryOptions{URL: "http://x", Probes: []QueryProbe{benchQuery()}}
		spoil(&o)
		_, err := NewQuery(o)
		require.ErrorContains(t, err, want)
		require.NotContains(t, err.Error(), "secret")
	}
}
