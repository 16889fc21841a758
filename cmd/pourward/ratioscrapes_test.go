package main

import (
	"errors"
	"io"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// How often each process is asked at a stretch, how many such stretches there may be, and by how much scrapes may
// make the daemon grow, KiB.
const (
	scrapeRounds    = 200
	scrapeStretches = 4
	spare           = 24 << 10
)

// asker is a way to ask for metrics.
type asker struct {
	name   string
	header http.Header
	client *http.Client
}

func askers() []asker {
	return []asker{
		{"a Prometheus", http.Header{
			"Accept":          {"application/openmetrics-text;version=1.0.0;escaping=allow-utf-8;q=0.5,text/plain;version=0.0.4;q=0.3,*/*;q=0.2"},
			"Accept-Encoding": {"gzip"},
		}, &http.Client{Transport: &http.Transport{}}},
		{"a stranger", http.Header{"Accept": {"*/*"}}, &http.Client{Transport: &http.Transport{DisableCompression: true, DisableKeepAlives: true}}},
	}
}

// answers are those of one process to one asker.
type answers struct {
	ms    []float64
	bytes int64 // of the last one
}

// within is the time within which a share of all answers came, ms.
func (a answers) within(share float64) float64 {
	return slices.Sorted(slices.Values(a.ms))[int(share*float64(len(a.ms)))]
}

// noSlower holds the daemon's answers against the yardstick's. What else runs on the machine makes single answers late
// by many times what they take, mine or the other's: one stretch in which the daemon is no slower will do.
func noSlower(t *testing.T, as asker, us, yard *daemon) {
	t.Helper()
	for range scrapeStretches {
		all := scrapes(t, as, us, yard)
		for i, name := range []string{"pourward", "node exporter"} {
			t.Logf("/metrics for %s, %-13s %4d kB: half within %5.1f ms, 99 %% within %5.1f ms",
				as.name, name, all[i].bytes/1000, all[i].within(0.5), all[i].within(0.99))
		}
		if all[0].within(0.5) <= all[1].within(0.5) && all[0].within(0.99) <= all[1].within(0.99) {
			return
		}
	}
	require.Fail(t, "the daemon's answers take longer than the yardstick's", as.name)
}

// scrapes asks processes for their metrics in turn, so that what else goes on meets them alike.
func scrapes(t *testing.T, as asker, of ...*daemon) []answers {
	t.Helper()
	all := make([]answers, len(of))
	for range scrapeRounds {
		for i, d := range of {
			req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, d.url+"/metrics", nil)
			require.NoError(t, err)
			req.Header = as.header
			begin := time.Now()
			res, err := as.client.Do(req)
			require.NoError(t, err)
			all[i].bytes, err = io.Copy(io.Discard, res.Body)
			require.NoError(t, errors.Join(err, res.Body.Close()))
			require.Equal(t, http.StatusOK, res.StatusCode)
			require.Equal(t, as.header.Get("Accept-Encoding"), res.Header.Get("Content-Encoding"))
			all[i].ms = append(all[i].ms, time.Since(begin).Seconds()*1000)
		}
	}
	return all
}
