package page

import (
	"fmt"
	"net/http"
	"time"

	"pourward/model"
)

// newsPath is where scripts are told that there is something new to look at.
const newsPath = "/news"

// How visitors are told of news. Whoever looks reads a whole page, so that a shop whose probes speak every
// second does not keep phones and a small board busy.
const (
	mostListeners = 64               // at once; the others look every 15 s
	newsLook      = time.Second      // how often it is looked whether there is any
	newsApart     = 5 * time.Second  // least time between two tidings to one listener
	newsBeat      = 15 * time.Second // longest silence, so that nothing between here and there hangs up
	newsLasts     = 10 * time.Minute // then the browser comes again, and the door looks at it anew
	newsWrite     = 10 * time.Second // longest time for one tiding to leave
)

// tiding names a snapshot to scripts: by the same words as the page that shows it.
func (s *site) tiding(snap *model.Snapshot) string {
	if snap == nil || snap.Outlook == nil {
		return ""
	}
	return snap.Outlook.At.In(s.opts.Zone).Format(time.RFC3339)
}

// news tells a script of every new snapshot, as server-sent events (HTML standard, section 9.2), and nothing
// of what is in it. It only looks at what the shop loop has published, and so never holds it up.
func (s *site) news(w http.ResponseWriter, r *http.Request) {
	select {
	case s.listeners <- struct{}{}:
		defer func() { <-s.listeners }()
	default:
		w.Header().Set("Retry-After", "60")
		http.Error(w, "too many listen already; look at the page itself every 15 s", http.StatusServiceUnavailable)
		return
	}
	seen := r.Header.Get("Last-Event-ID")
	if seen == "" {
		seen = r.URL.Query().Get("seen")
	}
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no") // to a proxy that would gather it
	listener := lasting{w}
	if !listener.say("retry: 3000\n\n") {
		return
	}
	look := time.NewTicker(newsLook)
	defer look.Stop()
	apart, silent := newsApart, time.Duration(0)
	for lasted := time.Duration(0); lasted < newsLasts; lasted += newsLook {
		said := true
		switch fresh := s.tiding(s.opts.Snapshot()); {
		case fresh != seen && apart >= newsApart:
			said = listener.say("event: news\nid: %s\ndata: %s\n\n", fresh, fresh)
			seen, apart, silent = fresh, 0, 0
		case silent >= newsBeat:
			said = listener.say(": nothing new\n\n")
			silent = 0
		}
		if !said {
			return
		}
		select {
		case <-look.C:
			apart, silent = apart+newsLook, silent+newsLook
		case <-r.Context().Done():
			return
		case <-s.opts.Ended:
			return
		}
	}
}

// lasting is an answer that goes on for longer than a server lets others.
type lasting struct{ w http.ResponseWriter }

// say sends something at once; false means that nobody is there any more.
func (l lasting) say(format string, a ...any) bool {
	c := http.NewResponseController(l.w)
	_ = c.SetWriteDeadline(time.Now().Add(newsWrite)) // where there is no bound, none is to be moved
	if _, err := fmt.Fprintf(l.w, format, a...); err != nil {
		return false
	}
	return c.Flush() == nil
}
