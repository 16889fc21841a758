package page

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strings"
	"time"

	"pourward/model"
)

// fitView is a verdict in words.
type fitView struct {
	Word, Brief, Class string
	Reasons            []model.Reason // those that decide
	Cautions           []model.Reason // those that are only told
	From               string         // when it turns fit, and what warmth would bring
	Heat               bool           // warmth would bring it forward: heaters call for a caution
}

func fitOf(f model.Fitness) fitView {
	out := fitView{Word: "cannot say", Brief: "cannot say", Class: "cannot"}
	switch f.Verdict {
	case model.Fit:
		out.Word, out.Brief, out.Class = "fit to pour", "fit", "fit"
	case model.NotFit:
		out.Word, out.Brief, out.Class = "not fit to pour", "not fit", "notfit"
	}
	for _, r := range f.Reasons {
		if r.Caution {
			out.Cautions = append(out.Cautions, r)
			continue
		}
		out.Reasons = append(out.Reasons, r)
	}
	return out
}

// pour is a mold's verdict in words, with when it turns fit.
func (v voice) pour(f model.Fitness) fitView {
	out := fitOf(f)
	const grid = 5 * time.Minute // a forecast is no surer
	from, warm := ceil(f.From, grid), model.Warmer{}
	if out.Heat = f.Warmer != nil; out.Heat {
		warm = model.Warmer{TempC: f.Warmer.TempC, From: ceil(f.Warmer.From, grid)}
	}
	if !f.From.IsZero() {
		out.From = fmt.Sprintf("Fit from %s on, by the forecast.", v.at(from))
	}
	switch {
	case !out.Heat:
	case warm.From.Sub(v.now) <= grid:
		out.From = sentence(out.From, fmt.Sprintf("Fit at once where the place is held at %s.", v.temp(warm.TempC)))
	default:
		out.From = sentence(out.From, fmt.Sprintf("Held at %s from now: %s.", v.temp(warm.TempC), v.at(warm.From)))
	}
	return out
}

// placeView is a place in words.
type placeView struct {
	Name, Href          string
	Known               bool
	Temp, Humidity, Dew string
	Last                string // of the last trusted reading
	Damp                bool   // humidity is measured, and known
	Window              string
	Short               string // why not, in a few words
	Off                 string // which probe is believed, where two disagree
	Gate                *gate
	Fit                 fitView
	Surface             *surfaceView // instead of gate and verdict, where the place is no air to pour in
}

func (v voice) place(o *model.Outlook, p model.PlaceOutlook) placeView {
	out := placeView{
		Name: capital(p.Name), Href: placePath(p.Name), Known: p.Known,
		Temp: v.temp(p.TempC), Humidity: v.humidity(p.Humidity), Dew: v.temp(p.DewPointC), Fit: fitOf(p.Pour), Gate: v.gateOf(p),
	}
	out.Surface, out.Off = v.surface(o, p), v.off(p)
	if p.PourMaxC > p.PourMinC {
		out.Window = v.temp(p.PourMinC) + " to " + v.temp(p.PourMaxC)
	}
	out.Damp, out.Short = p.Known && !math.IsNaN(p.Humidity), shortReasons(p.Pour)
	switch {
	case p.At.IsZero():
		out.Last = "No trusted reading yet."
	case !p.Known:
		out.Last = sentence("last trusted reading", v.temp(p.TempC), "at", v.at(p.At)+",", v.until(p.At))
	}
	return out
}

// shortReasons names what decides a verdict in a few words.
func shortReasons(f model.Fitness) string {
	var words []string
	for _, r := range f.Reasons {
		if word := shortReason(r.Code); !r.Caution && word != "" {
			words = append(words, word)
		}
	}
	return strings.Join(words, ", ")
}

func shortReason(c model.ReasonCode) string {
	switch c {
	case model.ReasonNoAir:
		return "no reading"
	case model.ReasonCold:
		return "too cold"
	case model.ReasonWarm:
		return "too warm"
	case model.ReasonDamp:
		return "damp"
	case model.ReasonDew:
		return "near the dew point"
	case model.ReasonSurface:
		return "pattern not read"
	case model.ReasonCoat:
		return "coat not dry"
	case model.ReasonRelease:
		return "release not dry"
	case model.ReasonPatchFailed:
		return "a patch failed"
	}
	return ""
}

// stepView is a step in words.
type stepView struct {
	told
	Title, Material, Begun   string
	Share, Room              string
	Why, Cautions, Sources   []string
	Closed                   bool
	Earliest, Likely, Latest string // for the table; a dash where not told
}

func (s *site) step(v voice, st model.Step) stepView {
	out := stepView{
		told: v.stand(st), Title: st.Title, Material: s.materialTitle(st.Material), Begun: v.at(st.Begun),
		Cautions: st.Cautions, Sources: st.Sources, Closed: st.Standing == model.Closed,
		Earliest: "—", Likely: "—", Latest: "—",
	}
	if st.RoomTime > 0 {
		out.Room = v.span(st.RoomTime)
		if m, err := s.opts.Shelf.Find(st.Material); err == nil {
			out.Room += " at " + v.temp(m.RefC)
		}
	}
	if st.Standing == model.CannotSay || st.Standing == model.Doubtful {
		return out // the reasons are in the tail, and no number overrides them
	}
	out.Why = st.Why
	if st.Standing == model.Running || st.Standing == model.Maybe {
		out.Share = decimal(100*st.Share, 0)
	}
	if st.Band.Told() {
		b := rounded(st.Band)
		out.Earliest, out.Likely, out.Latest = v.at(b.Earliest), v.at(b.Likely), v.at(b.Latest)
	}
	return out
}

func (s *site) materialTitle(name string) string {
	if m, err := s.opts.Shelf.Find(name); err == nil && m.Title != "" {
		return m.Title
	}
	return name
}

// cardView is a mold as it stands on the first page.
type cardView struct {
	Name, Title, Href, Place, Rubber string
	PlaceHref                        string
	Next, When                       string
	Long                             bool       // too long for the largest letters
	Class                            string     // how pressing
	Doubt                            *doubtView // what the touches of cup, patch and mold say
	Fit                              *fitView
	Cup                              string // when to touch the leftover
	Face                             string // what the rubber meets, and under what
	Vouch                            string // which patch vouches, and how cold it was
	VouchHref                        string // of that patch
	Open, Closed                     []stepView
	Section                          drawing
}

func (s *site) card(v voice, m *model.MoldOutlook) cardView {
	c := cardView{
		Name: m.Name, Title: m.Title, Href: moldPath(m.Name), Place: capital(m.Place), PlaceHref: placePath(m.Place), Rubber: s.materialTitle(m.Rubber),
		Next: nextWords(m), When: v.nextWhen(m), Class: pressing(m), Doubt: v.doubt(m.Doubt), Section: v.section(m, false),
	}
	c.Cup = v.cupWords(m)
	c.Long = len(c.Next) > 70
	if c.Title == "" {
		c.Title = m.Name
	}
	if m.Open() && !m.Poured {
		f := v.pour(m.Pour)
		c.Fit = &f
	}
	if m.Face != "" {
		c.Face = sentence("on", m.Face+",", s.prepWords(m.Prep))
	}
	c.Vouch, c.VouchHref = v.vouch(m.Vouch)
	for _, st := range drawnSteps(m) {
		view := s.step(v, st)
		if st.Standing == model.Doubtful && len(st.Why) > 0 && strings.Contains(m.Next, st.Why[0]) {
			view.Tail = "" // said already
		}
		if view.Closed {
			c.Closed = append(c.Closed, view)
			continue
		}
		c.Open = append(c.Open, view)
	}
	return c
}

func moldPath(name string) string { return "/molds/" + url.PathEscape(name) }

func placePath(name string) string { return "/places/" + url.PathEscape(name) }

// nextWhen words the instant that belongs to the next thing to do.
func (v voice) nextWhen(m *model.MoldOutlook) string {
	if !m.NextAt.After(v.now) || len(m.Steps) == 0 {
		return ""
	}
	if when := v.layerWhen(m); when != "" {
		return when
	}
	last := m.Steps[len(m.Steps)-1]
	at := m.NextAt
	b := rounded(last.Band)
	switch {
	case last.Kind == model.WorkingLife:
		if at.Equal(last.Band.Earliest) {
			at = b.Earliest
		}
		return v.span(at.Sub(v.now)) + " left, till " + v.at(at)
	case last.Standing == model.CannotSay:
		return "not before " + v.at(at)
	}
	if at.Equal(last.Band.Latest) {
		at = b.Latest
	}
	return "until " + v.at(at) + ", " + v.span(at.Sub(v.now)) + " from now"
}

// pressing ranks what cannot wait: a batch in the cup, then something found wrong.
func pressing(m *model.MoldOutlook) string {
	class := ""
	for _, s := range m.Steps {
		switch {
		case s.Standing == model.Closed:
		case s.Kind == model.WorkingLife, s.Kind == model.LayerWindow && s.Standing == model.Ending:
			return "now"
		case s.Standing == model.Doubtful:
			class = "wrong"
		}
	}
	return class
}

// byPress orders molds: what cannot wait first, else as they were begun.
func byPress(a, b cardView) int {
	rank := func(c cardView) int { return slices.Index([]string{"now", "wrong", ""}, c.Class) }
	return rank(a) - rank(b)
}

// alertView is an alert in words.
type alertView struct {
	Alert
	Class, When string
}

func (v voice) alerts(all []Alert) []alertView {
	out := make([]alertView, 0, len(all))
	for _, a := range all {
		view := alertView{Alert: a, Class: "info"}
		if severity := strings.ToLower(a.Severity); severity == "critical" || severity == "warning" {
			view.Class = severity
		}
		if view.Summary == "" {
			view.Summary = a.Name
		}
		if !a.Since.IsZero() {
			view.When = strings.TrimPrefix(a.Severity+", since "+v.at(a.Since), ", ")
		}
		out = append(out, view)
	}
	rank := func(a alertView) int { return slices.Index([]string{"critical", "warning", "info"}, a.Class) }
	slices.SortStableFunc(out, func(a, b alertView) int { return rank(a) - rank(b) })
	return out
}
