package page

import (
	"fmt"
	"net/http"
	"net/netip"
	"strings"

	"rsc.io/qr"
)

// labelPath is the address of the labels of a mold.
func labelPath(name string) string { return moldPath(name) + "/label" }

// labelView are the labels of a mold: one for it, and one for the cup that is its control, which looks like
// every other cup on the shelf.
type labelView struct {
	frame
	PaperCSS, LabelCSS string
	Back               string
	Of, Name           string // the mold, for people and for commands
	Rubber, Begun      string
	Labels             []string // what each is to be stuck to
	Address            string   // that the code holds
	Code               code
	Alone              bool // the address means another machine on every machine
}

// label shows the labels of a mold. Their code holds the address of its page at the host by which the visitor
// came, as that one is known to work.
func (s *site) label(w http.ResponseWriter, r *http.Request) {
	snap, v := s.look(r)
	name := r.PathValue("name")
	m, ok := outlookOf(snap).Mold(name)
	if !ok {
		s.missing(w, r, http.StatusOK, nil, noMold(snap, name, ""))
		return
	}
	card := s.card(v, m)
	view := labelView{
		frame:    s.frame(v, snap, "Labels for "+card.Title, labelPath(m.Name)),
		PaperCSS: s.assets.path("report.css"), LabelCSS: s.assets.path("label.css"),
		Back: moldPath(m.Name), Of: card.Title, Name: m.Name, Rubber: card.Rubber, Begun: m.Begun.In(v.zone).Format("2 Jan 2006"),
		Labels: []string{"Mold", "Cup (control)"}, Address: addressHere(r, moldPath(m.Name)), Alone: alone(hostName(r.Host)),
	}
	var err error
	if view.Code, err = codeOf(view.Address); err != nil {
		s.message(w, r, http.StatusUnprocessableEntity, "No label", fmt.Sprintf("The name of this mold is too long for a code: %d characters with the shop's address.", len(view.Address)))
		return
	}
	s.renderIn("labels", w, r, http.StatusOK, "label", view)
}

// addressHere is the whole address of a path, at the host by which the visitor came.
func addressHere(r *http.Request, path string) string {
	if r.TLS != nil {
		return "https://" + r.Host + path
	}
	return "http://" + r.Host + path
}

// alone reports whether a host is the machine itself, whichever that is.
func alone(host string) bool {
	ip, err := netip.ParseAddr(host)
	return isLoopbackName(host) || err == nil && ip.IsLoopback()
}

// code is a QR code (ISO/IEC 18004) as a drawing: one unit to a module.
type code struct{ View, Dark string }

// quietZone is how many light modules are around the dark ones (ISO/IEC 18004, section 5.3.8).
const quietZone = 4

// codeOf draws a text, with as much spare that a smudge over a seventh of it does no harm (level M).
func codeOf(text string) (code, error) {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return code{}, fmt.Errorf("draw the code of %q: %w", text, err)
	}
	var dark strings.Builder
	for y := range c.Size {
		for x := 0; x < c.Size; x++ {
			from := x
			for x < c.Size && c.Black(x, y) {
				x++
			}
			if n := x - from; n > 0 {
				fmt.Fprintf(&dark, "M%d %dh%dv1h-%dz", from, y, n, n)
			}
		}
	}
	whole := c.Size + 2*quietZone
	return code{fmt.Sprintf("%d %d %d %d", -quietZone, -quietZone, whole, whole), dark.String()}, nil
}
