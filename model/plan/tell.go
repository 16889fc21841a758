package plan

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
)

// tell tells of one start.
func (w *walker) tell(p *Plan, begin, by float64) {
	n := w.sky.sight.Paths.N
	all := make([][]stamp, n)
	done := make([]float64, n)
	blocks := map[Block]int{}
	held := 0
	for i := range n {
		stamps := make([]stamp, len(w.acts))
		for k := range stamps {
			stamps[k] = stamp{math.Inf(1), math.Inf(1), NoHold}
		}
		finished, at, stop := w.walk(i, begin, stamps)
		all[i], done[i] = stamps, finished
		switch {
		case stop != NoHold:
			done[i] = math.Inf(1)
			blocks[Block{Title: w.acts[at].title, Hold: stop}]++
		case finished <= by:
			held++
		}
	}
	p.Begin, p.Done = w.at(begin), w.band(done)
	if p.Verdict != CannotSay {
		p.Share = float64(held) / float64(n)
	}
	for k := range w.acts {
		p.Actions = append(p.Actions, w.action(k, all))
	}
	for b, on := range blocks {
		b.On = float64(on) / float64(n)
		p.Blocks = append(p.Blocks, b)
	}
	slices.SortFunc(p.Blocks, func(a, b Block) int {
		return cmp.Or(cmp.Compare(b.On, a.On), strings.Compare(a.Title, b.Title), strings.Compare(string(a.Hold), string(b.Hold)))
	})
}

// action puts an action of all paths together.
func (w *walker) action(k int, all [][]stamp) Action {
	a := &w.acts[k]
	ready, begin := make([]float64, len(all)), make([]float64, len(all))
	holds := map[Hold]int{}
	for i, stamps := range all {
		ready[i], begin[i] = stamps[k].ready, stamps[k].begin
		if h := stamps[k].held; h != NoHold {
			holds[h]++
		}
	}
	out := Action{Kind: a.kind, Title: a.title, Material: a.of.Of.Name, Ready: w.band(ready), Begin: w.band(begin)}
	most := 0
	for h, on := range holds {
		if on > most || on == most && h < out.Held {
			most, out.Held = on, h
		}
	}
	out.HeldOn = float64(most) / float64(len(all))
	return out
}

// band reads the places of the band off the paths; it sorts them.
func (w *walker) band(all []float64) Band {
	slices.Sort(all)
	at := func(tenths int) time.Time {
		s := all[max(0, (tenths*len(all)+9)/10-1)]
		if math.IsInf(s, 1) {
			return time.Time{}
		}
		return w.at(s)
	}
	return Band{at(1), at(5), at(9)}
}
