package page

import (
	"math"
	"net/http"
	"strings"
	"time"

	"pourward/model/plan"
)

// The JSON form of a plan: instants are RFC 3339 in UTC, null where they cannot be said; what is in words is
// in the shop's time.

type wirePlan struct {
	Verdict  string       `json:"verdict"`
	By       *time.Time   `json:"by"`
	Latest   *time.Time   `json:"latest"`
	Soonest  *time.Time   `json:"soonest"`
	AskFrom  *time.Time   `json:"ask_from"`
	Begin    *time.Time   `json:"begin"`
	Share    *float64     `json:"share"`
	Actions  []wireAction `json:"actions"`
	Heated   wireHeated   `json:"heated"`
	Told     []string     `json:"told"`
	Heat     string       `json:"heat"`
	Cautions []string     `json:"cautions"`
}

type wireHeated struct {
	TempC   float64    `json:"temp_c"`
	Verdict string     `json:"verdict"`
	Latest  *time.Time `json:"latest"`
	Soonest *time.Time `json:"soonest"`
}

// wirePlanBand is an instant over all paths: 10, 50 and 90 %.
type wirePlanBand struct {
	Early  *time.Time `json:"early"`
	Likely *time.Time `json:"likely"`
	Late   *time.Time `json:"late"`
}

type wireAction struct {
	Kind     string       `json:"kind"`
	Title    string       `json:"title"`
	Material string       `json:"material"`
	Ready    wirePlanBand `json:"ready"`
	Begin    wirePlanBand `json:"begin"`
	Held     string       `json:"held,omitempty"`
	HeldOn   float64      `json:"held_on"`
	At       string       `json:"at"`
	Between  string       `json:"between"`
	Why      string       `json:"why"`
}

func (s *site) planJSON(w http.ResponseWriter, v voice, status int, problem string, p *planned) {
	switch {
	case problem != "":
		writeJSON(w, status, map[string]string{"error": problem})
	case p == nil:
		writeJSON(w, http.StatusUnprocessableEntity, map[string]string{"error": "Say by when it is to be demolded, such as by=Fri 17:00."})
	default:
		writeJSON(w, status, v.wirePlan(p))
	}
}

func (v voice) wirePlan(p *planned) wirePlan {
	t := v.planTold(p)
	out := wirePlan{
		Verdict: string(p.plain.Verdict), By: instant(p.ask.By), Latest: instant(p.plain.Latest), Soonest: instant(p.plain.Soonest),
		AskFrom: instant(p.plain.AskFrom), Begin: instant(p.plain.Begin), Actions: []wireAction{},
		Heated:   wireHeated{p.heat.TempC, string(p.warm.Verdict), instant(p.warm.Latest), instant(p.warm.Soonest)},
		Heat:     spaced(t.Heat),
		Cautions: p.cautions(),
	}
	if !math.IsNaN(p.plain.Share) {
		out.Share = &p.plain.Share
	}
	for _, says := range append([]string{t.Head + "."}, t.Says...) {
		out.Told = append(out.Told, spaced(says))
	}
	for _, r := range t.Rows {
		a := r.action
		out.Actions = append(out.Actions, wireAction{
			Kind: string(a.Kind), Title: a.Title, Material: a.Material, Ready: planBand(a.Ready), Begin: planBand(a.Begin),
			Held: string(a.Held), HeldOn: a.HeldOn, At: spaced(r.At), Between: spaced(r.Between), Why: spaced(r.Why),
		})
	}
	return out
}

// spaced is text for a terminal.
func spaced(s string) string { return strings.ReplaceAll(s, nbsp, " ") }

func planBand(b plan.Band) wirePlanBand {
	return wirePlanBand{instant(b.Early), instant(b.Likely), instant(b.Late)}
}
