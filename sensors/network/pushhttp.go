package network

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"
)

const (
	bodyTimeout = 10 * time.Second // for a request to arrive
	tryAgain    = "5"              // seconds, for those who are sent away

	usualAnswer   = 10 * time.Second // longest time until a request is answered
	longestAnswer = time.Minute      // the same, of one that says how long it waits
)

var _ http.Handler = (*Push)(nil)

// ServeHTTP takes the readings of one request; see the package's documentation for what it must be.
func (p *Push) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost {
		w.Header().Set("Allow", http.MethodPost)
		http.Error(w, "send readings with POST", http.StatusMethodNotAllowed)
		return
	}
	shown, err := shownToken(r)
	if err == nil && !p.knows(shown) {
		err = errors.New("this token is not known here")
	}
	if err != nil {
		p.ledger.note("", refuse(Unauthorized, "%v (from %s)", err, r.RemoteAddr))
		w.Header().Set("WWW-Authenticate", "Bearer") // RFC 6750, 3
		http.Error(w, err.Error(), http.StatusUnauthorized)
		return
	}
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(bodyTimeout)) // a server that has none has limits of its own
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, MaxPayload))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		p.refuse(w, refuse(TooLarge, "the request is larger than %d bytes; send fewer readings at once", MaxPayload))
	case err != nil:
		p.refuse(w, refuse(Malformed, "the request did not arrive whole: %v", err))
	default:
		p.receive(w, r, shown, body)
	}
}

// receive answers a request that has arrived.
func (p *Push) receive(w http.ResponseWriter, asked *http.Request, shown *token, body []byte) {
	bodies, r := parseBody(body)
	if r != nil {
		p.refuse(w, r)
		return
	}
	batch := make([]pushed, len(bodies))
	for i, b := range bodies {
		to, r := p.allowed(shown, b.Probe)
		if r != nil {
			p.refuse(w, r)
			return
		}
		a, r := b.read(to)
		if r != nil {
			p.mu.Lock()
			p.fail(p.clock.Now(), to.Name, r)
			p.mu.Unlock()
			turnAway(w, refuse(r.kind, "reading %d, of probe %q: %s", i+1, to.Name, r.why))
			return
		}
		batch[i] = pushed{to, a}
	}
	wait, safe := waits(asked.Header)
	done, r := p.take(batch, safe)
	if r != nil {
		turnAway(w, r)
		return
	}
	status := http.StatusAccepted
	ctx, cancel := context.WithTimeout(asked.Context(), wait)
	defer cancel()
	switch err := done.arrival(ctx); {
	case err != nil:
		p.refuse(w, refuse(Full, "the readings are not safe: %v; send them again in a few seconds", err))
		return
	case safe:
		status = http.StatusOK
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(done) // a sender that does not wait for it will ask again
}

// arrival waits until the readings have arrived.
func (t taken) arrival(ctx context.Context) error {
	select {
	case err := <-t.receipt.Settled():
		return err
	case <-t.end:
		return errors.New("the shop is being closed")
	case <-ctx.Done():
		return errors.New("the shop loop has not answered in time")
	}
}

// waits reports how long a sender waits for an answer, and whether for its readings to be safe: it says
// so with the preference wait (RFC 7240, 4.3).
func waits(h http.Header) (wait time.Duration, safe bool) {
	for _, line := range h.Values("Prefer") {
		for preference := range strings.SplitSeq(line, ",") {
			name, value, _ := strings.Cut(preference, "=")
			n, err := strconv.ParseUint(strings.Trim(value, " \t\""), 10, 16)
			if strings.EqualFold(strings.TrimSpace(name), "wait") && err == nil {
				return min(time.Duration(n)*time.Second, longestAnswer), true
			}
		}
	}
	return usualAnswer, false
}

// refuse counts a refusal that belongs to no probe and tells it to the sender.
func (p *Push) refuse(w http.ResponseWriter, r *refused) {
	p.ledger.note("", r)
	turnAway(w, r)
}

// turnAway tells a sender, in one sentence, what was refused.
func turnAway(w http.ResponseWriter, r *refused) {
	status := http.StatusUnprocessableEntity
	switch r.kind {
	case Malformed:
		status = http.StatusBadRequest
	case TooLarge:
		status = http.StatusRequestEntityTooLarge
	case Unauthorized:
		status = http.StatusForbidden
	case Full:
		status = http.StatusServiceUnavailable
		w.Header().Set("Retry-After", tryAgain)
	}
	http.Error(w, r.why, status)
}
