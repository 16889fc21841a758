package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"pourward/model"
	"pourward/model/loop"
)

// demoMold is the mold of the story.
const demoMold = "frieze"

// maker is the demo's mold maker: looks at the outlook as anyone would, and makes the marks. Between
// 17:30 and 08:30 the maker is at home.
type maker struct {
	stage *stage
	seen  chan *model.Snapshot // the newest snapshot not looked at yet
}

func newMaker(s *stage) *maker {
	return &maker{stage: s, seen: make(chan *model.Snapshot, 1)}
}

// look is told of every snapshot; only the newest is kept.
func (m *maker) look(s *model.Snapshot) {
	select {
	case <-m.seen:
	default:
	}
	select {
	case m.seen <- s:
	default:
	}
}

// work makes marks until the mold is off.
func (m *maker) work(ctx context.Context, l *loop.Loop, out io.Writer) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case s := <-m.seen:
			mark, ok := m.decide(s.Outlook)
			if !ok {
				continue
			}
			mark.Mold = demoMold
			if _, err := l.Mark(ctx, mark); err != nil {
				return fmt.Errorf("the demo's maker could not mark: %w", err)
			}
			if mark.Kind == model.Demolded {
				fmt.Fprintln(out, "\nThe mold is off and the story has ended; the page stays up. Started again, the demo begins anew.")
				<-ctx.Done()
				return ctx.Err()
			}
		}
	}
}

// decide is what a careful maker does next, if anything.
func (m *maker) decide(o *model.Outlook) (model.Mark, bool) {
	if bench, ok := o.Place("bench"); !ok || !bench.Known || !m.atWork(o.At) {
		return model.Mark{}, false
	}
	frieze, ok := o.Mold(demoMold)
	if !ok {
		return model.Mark{
			Kind: model.Begun, Title: "Plaster frieze, left half", Place: "bench", Surface: "pattern", Material: "platinum-slow",
			Build: model.Build{Pattern: "plaster", PatternMM: 60, RubberMM: 15},
		}, true
	}
	if !frieze.Open() {
		return model.Mark{}, false
	}
	if len(frieze.Steps) == 0 {
		return model.Mark{Kind: model.CoatOn, Material: "lacquer"}, true
	}
	return m.after(frieze, frieze.Steps[len(frieze.Steps)-1], o.At)
}

// after is what follows the newest step.
func (m *maker) after(frieze *model.MoldOutlook, last model.Step, now time.Time) (model.Mark, bool) {
	ready := last.Standing == model.Ready
	switch {
	case last.Name == "coat-1" && ready:
		return model.Mark{Kind: model.CoatOn, Material: "lacquer"}, true
	case last.Name == "coat-2" && ready:
		return model.Mark{Kind: model.ReleaseOn, Material: "wax-naphtha"}, true
	case last.Kind == model.ReleaseDry && ready && frieze.Pour.Verdict == model.Fit:
		return model.Mark{Kind: model.Mixed}, true
	case last.Kind == model.WorkingLife && now.Sub(last.Begun) >= 8*time.Minute:
		return model.Mark{Kind: model.Poured}, true
	case last.Kind == model.DemoldTime && ready:
		return m.demold(frieze, last)
	}
	return model.Mark{}, false
}

// demold checks the cup before the mold.
func (m *maker) demold(frieze *model.MoldOutlook, cure model.Step) (model.Mark, bool) {
	for _, c := range frieze.Marks {
		if c.Kind == model.Checked && c.Of == model.Cup && c.At.After(cure.Begun) {
			return model.Mark{Kind: model.Demolded}, true
		}
	}
	return model.Mark{Kind: model.Checked, Of: model.Cup, Found: model.Firm}, true
}

// atWork reports whether the maker is in the shop.
func (m *maker) atWork(now time.Time) bool {
	local := now.In(m.stage.zone)
	minutes := local.Hour()*60 + local.Minute()
	return minutes >= 8*60+30 && minutes < 17*60+30
}
