package access

import (
	"net/http"
	"path"
	"strings"
	"unicode/utf8"
)

// Role is what a user may do.
type Role uint8

const (
	Read Role = iota // see the page, its JSON and the metrics
	Mark             // enter marks and hand out links, too
)

func (r Role) String() string {
	if r == Mark {
		return "mark"
	}
	return "read"
}

// Need is what a route asks of whoever comes.
type Need uint8

const (
	NeedMark Need = iota // also that of a route nobody listed
	NeedRead
	NeedNothing // nothing of the shop is told there, or the handler asks for a secret of its own
)

// Table is what every route needs, by its pattern. A route that is not in it is for those who may mark.
func Table() map[string]Need {
	return map[string]Need{
		"GET /{$}":                     NeedRead,
		"GET /molds/{name}":            NeedRead,
		"GET /molds/{name}/label":      NeedRead,
		"GET /places/{name}":           NeedRead,
		"GET /molds/{name}/report":     NeedRead,
		"GET /molds/{name}/report.csv": NeedRead,
		"GET /plan":                    NeedRead,
		"GET /patches":                 NeedRead,
		"GET /patches/{name}":          NeedRead,
		"GET /snapshot.json":           NeedRead,
		"GET /news":                    NeedRead,
		"GET /metrics":                 NeedRead,
		"GET /":                        NeedRead, // no such page
		"POST /unit":                   NeedRead, // sets a cookie only
		"GET /materials":               NeedRead,
		"GET /log":                     NeedRead,

		"GET /begin":         NeedMark,
		"POST /marks":        NeedMark,
		"GET /links":         NeedMark,
		"POST /links":        NeedMark,
		"POST /links/revoke": NeedMark,

		"GET /assets/{file}": NeedNothing,
		"GET /worker.js":     NeedNothing,
		"GET /login":         NeedNothing,
		"POST /login":        NeedNothing,
		"POST /logout":       NeedNothing,
		"GET /look/{token}":  NeedNothing, // the token is the key
		"POST /push":         NeedNothing, // has tokens of its own
		"GET /push":          NeedNothing, // tells how to post
	}
}

// needs finds what a request needs.
type needs struct {
	mux     *http.ServeMux
	byRoute map[string]Need
}

func newNeeds(table map[string]Need) needs {
	n := needs{http.NewServeMux(), table}
	for pattern := range table {
		n.mux.Handle(pattern, http.NotFoundHandler())
	}
	return n
}

func (n needs) of(r *http.Request) Need {
	_, pattern := n.mux.Handler(r)
	return n.byRoute[pattern] // none is NeedMark
}

// longestPath is the longest path of an address that is looked at, in bytes as sent.
const longestPath = 1024

// proper reports whether the path of a request is one that this program may have written: routes match
// clean paths, and no name holds control characters or bytes that are no text.
func proper(r *http.Request) bool {
	p := r.URL.Path
	if !strings.HasPrefix(p, "/") || len(r.URL.EscapedPath()) > longestPath || strings.ContainsFunc(p, isControl) || !utf8.ValidString(p) {
		return false
	}
	clean := path.Clean(p)
	return p == clean || clean != "/" && p == clean+"/"
}

func isControl(r rune) bool { return r < ' ' || r == 0x7f }
