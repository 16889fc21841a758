package page

import (
	"time"

	"pourward/model"
)

// wireDoubt is the answer to "late, inhibited, or a bad batch?".
type wireDoubt struct {
	Verdict  string      `json:"verdict"`
	Says     string      `json:"says"`
	Do       []string    `json:"do"`
	Cautions []string    `json:"cautions"`
	Odds     wireOdds    `json:"odds"`
	Next     string      `json:"next,omitempty"` // the touch that would tell most
	NextAt   *time.Time  `json:"next_at"`
	Routes   []wireRoute `json:"routes"` // the ways on, where the surface inhibits
}

// wireOdds are probabilities, 0..1, which sum to 1.
type wireOdds struct {
	NothingWrong    *float64 `json:"nothing_wrong"`
	SurfaceInhibits *float64 `json:"surface_inhibits"`
	BatchBad        *float64 `json:"batch_bad"`
	BothWrong       *float64 `json:"both_wrong"`
	OnlyCup         *float64 `json:"only_cup"`
}

type wireRoute struct {
	Title    string   `json:"title"`
	Steps    []string `json:"steps"`
	Cautions []string `json:"cautions"`
}

func wireDoubtOf(d *model.Doubt) *wireDoubt {
	if d == nil {
		return nil
	}
	out := &wireDoubt{
		Verdict: d.Verdict, Says: d.Says, Do: listed(d.Do), Cautions: listed(d.Cautions), Next: d.Next, NextAt: instant(d.NextAt),
		Odds:   wireOdds{known(d.NothingWrong), known(d.SurfaceInhibits), known(d.BatchBad), known(d.BothWrong), known(d.OnlyCup)},
		Routes: []wireRoute{},
	}
	for _, r := range d.Routes {
		out.Routes = append(out.Routes, wireRoute{r.Title, listed(r.Steps), listed(r.Cautions)})
	}
	return out
}

// listed is a list that JSON shows as one even where it is empty.
func listed(of []string) []string { return append([]string{}, of...) }
