package network

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"pourward/sensors"
)

const mostAnswer = 8 << 20 // bytes of an answer that are read

// transport opens connections to the server, not through a proxy.
func transport(files TLSFiles, encrypted bool) *http.Transport {
	t := &http.Transport{
		MaxIdleConns:    2,
		IdleConnTimeout: 2 * time.Minute,
		DialContext: func(ctx context.Context, _, address string) (net.Conn, error) {
			return dial(ctx, address, nil)
		},
	}
	if encrypted {
		t.DialTLSContext = func(ctx context.Context, _, address string) (net.Conn, error) {
			return dial(ctx, address, &files)
		}
	}
	return t
}

// serverError is a failure that has nothing to do with the question.
type serverError struct {
	cause   error
	timeout bool // which may be the question's fault after all
}

func (e *serverError) Error() string { return e.cause.Error() }
func (e *serverError) Unwrap() error { return e.cause }

// series is one series of an answer.
type series struct {
	part   string // which part of the question it answers
	points []point
}

// point is a value at an instant.
type point struct {
	millis int64 // since 1970
	v      float64
}

// call asks the API and returns the series of its answer, a single point being a series as well.
func (q *Query) call(ctx context.Context, endpoint string, form url.Values) ([]series, error) {
	ctx, cancel := context.WithTimeout(ctx, q.opts.Timeout)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, q.base+endpoint, strings.NewReader(form.Encode()))
	if err != nil {
		return nil, err
	}
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	switch {
	case q.opts.Token != "":
		request.Header.Set("Authorization", "Bearer "+q.opts.Token)
	case q.opts.User != "":
		request.SetBasicAuth(q.opts.User, q.opts.Password)
	}
	response, err := q.trip.RoundTrip(request) // follows no redirect, which might lead the password elsewhere
	if err != nil {
		return nil, broken(err)
	}
	defer response.Body.Close()
	raw, err := io.ReadAll(io.LimitReader(response.Body, mostAnswer+1))
	switch {
	case err != nil:
		return nil, broken(err)
	case len(raw) > mostAnswer:
		return nil, found(sensors.Malformed, "the answer is larger than %d bytes", mostAnswer)
	}
	return parseAnswer(response.StatusCode, raw)
}

// broken is the error of a connection.
func broken(err error) error {
	f := unreached(err, "ask the server")
	return &serverError{cause: f, timeout: f.Fault == sensors.Timeout}
}

// found is an error whose evidence is in an answer.
func found(f sensors.Fault, format string, args ...any) error {
	return &sensors.FaultError{Fault: f, Doing: fmt.Sprintf(format, args...)}
}

// answer is what the API says (Prometheus documentation, "HTTP API", format overview).
type answer struct {
	Status    string `json:"status"`
	ErrorType string `json:"errorType"`
	Error     string `json:"error"`
	Data      struct {
		ResultType string            `json:"resultType"`
		Result     []json.RawMessage `json:"result"`
	} `json:"data"`
}

func parseAnswer(status int, raw []byte) ([]series, error) {
	var a answer
	err := json.Unmarshal(raw, &a)
	switch {
	case err == nil && a.Status == "error" && (status == http.StatusBadRequest || status == http.StatusUnprocessableEntity):
		return nil, fmt.Errorf("the server cannot answer: %s: %.300s; correct the expression", a.ErrorType, a.Error)
	case status != http.StatusOK:
		return nil, &serverError{cause: found(sensors.NoResponse, "the server answers with status %d %s %.300s", status, http.StatusText(status), a.Error)}
	case err != nil:
		return nil, found(sensors.Malformed, "the answer %.60q is not what the API says: %v", raw, err)
	case a.Status != "success" || a.Data.ResultType != "vector" && a.Data.ResultType != "matrix":
		return nil, found(sensors.Malformed, "the answer is a %.20q with status %.20q", a.Data.ResultType, a.Status)
	}
	out := make([]series, 0, len(a.Data.Result))
	for _, r := range a.Data.Result {
		s, err := parseSeries(r)
		if err != nil {
			return nil, found(sensors.Malformed, "the answer holds %.60q: %v", r, err)
		}
		out = append(out, s)
	}
	return out, nil
}

func parseSeries(raw json.RawMessage) (series, error) {
	var in struct {
		Metric map[string]string    `json:"metric"`
		Value  [2]json.RawMessage   `json:"value"`
		Values [][2]json.RawMessage `json:"values"`
	}
	if err := json.Unmarshal(raw, &in); err != nil {
		return series{}, err
	}
	if in.Value[0] != nil {
		in.Values = append(in.Values, in.Value)
	}
	s := series{part: in.Metric[partLabel]}
	for _, v := range in.Values {
		p, err := parsePoint(v)
		if err != nil {
			return series{}, err
		}
		s.points = append(s.points, p)
	}
	return s, nil
}

// parsePoint reads [seconds, "value"]. The value may be NaN or infinite.
func parsePoint(raw [2]json.RawMessage) (point, error) {
	var seconds float64
	var text string
	if err := errors.Join(json.Unmarshal(raw[0], &seconds), json.Unmarshal(raw[1], &text)); err != nil {
		return point{}, err
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil && !math.IsInf(v, 0) {
		return point{}, fmt.Errorf("%.20q is no value", text)
	}
	at, err := instantOf(seconds * 1000)
	return point{at.UnixMilli(), v}, err
}
