package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"pourward/model"
	"pourward/model/loop"
)

// demoMold and demoPatch are the mold of the story, and the test patch set before it.
const (
	demoMold  = "frieze"
	demoPatch = "frieze-patch"
)

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
	patch, ok := o.Patch(demoPatch)
	if !ok {
		return model.Mark{
			Kind: model.PatchOn, Mold: demoPatch, Place: "bench", Face: "plaster", Prep: []string{"lacquer", "lacquer", "wax-naphtha"},
			Material: "platinum-slow", Batch: model.Batch{Parts: []model.Portion{{Name: "A", Grams: 50}, {Name: "B", Grams: 5}}},
		}, true
	}
	frieze, ok := o.Mold(demoMold)
	if !ok {
		return model.Mark{
			Kind: model.Begun, Mold: demoMold, Title: "Plaster frieze, left half", Place: "bench", Surface: "pattern", Material: "platinum-slow",
			Build: model.Build{Pattern: "plaster", PatternMM: 60, RubberMM: 15}, Face: "plaster",
			Design: model.Design{Method: model.Block, Coats: 2, LengthMM: 600, WidthMM: 300, DepthMM: 45, PatternML: 5000},
		}, true
	}
	if !frieze.Open() {
		return model.Mark{}, false
	}
	next, ok := model.Mark{Kind: model.CoatOn, Material: "lacquer"}, true
	if len(frieze.Steps) > 0 {
		next, ok = m.after(frieze, frieze.Steps[len(frieze.Steps)-1], o.At)
	}
	next.Mold = demoMold
	if ok && next.Kind == model.Mixed && patch.Open() {
		return readPatch(patch, o.At)
	}
	return next, ok
}

// readPatch touches the patch before anything is mixed for the mold, first its cup, once it is likely firm.
func readPatch(p *model.PatchOutlook, now time.Time) (model.Mark, bool) {
	of := model.Cup
	for _, c := range p.Marks {
		if c.Kind == model.Checked && c.Of == model.Cup {
			of = model.Patch
		}
	}
	return model.Mark{Kind: model.Checked, Mold: demoPatch, Of: of, Found: model.Firm}, !now.Before(p.Cure.Band.Likely)
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
		return model.Mark{Kind: model.Mixed, Batch: model.Batch{
			Parts: []model.Portion{{Name: "A", Grams: 3400}, {Name: "B", Grams: 340}}, From: "bench"}}, true
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
