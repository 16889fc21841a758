package network

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"time"
)

const (
	bodyTimeout = 10 * time.Second // for a request to arrive
	tryAgain    = "5"              // seconds, for those who are sent away
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
		p.receive(w, shown, body)
	}
}

// receive answers a request that has arrived.
func (p *Push) receive(w http.ResponseWriter, shown *token, body []byte) {
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
	done, r := p.take(batch)
	if r != nil {
		turnAway(w, r)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(http.StatusAccepted)
	_ = json.NewEncoder(w).Encode(done) // a sender that does not wait for it will ask again
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
