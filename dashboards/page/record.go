package page

import (
	"context"
	"math"
	"net/http"
	"slices"
	"time"

	"pourward/model"
)

// noRecord is said where traces cannot be had.
const noRecord = "The record could not be read just now; the shop's log says why."

// trackOf reads what a probe recorded. ok is false where the record cannot be read; that is logged.
func (s *site) trackOf(ctx context.Context, class, name string, o *model.Outlook, probe string, from, to time.Time) (track, bool) {
	if probe == "" || !from.Before(to) {
		return newTrack(class, name, nil, 0), true
	}
	points, err := s.opts.Trace(ctx, probe, from, to)
	if err != nil {
		s.opts.Log.Error("trace not read", "probe", probe, "from", from, "to", to, "error", err)
		return newTrack(class, name, nil, 0), false
	}
	var every time.Duration
	for _, p := range o.Probes {
		if p.Name == probe {
			every = p.Every
		}
	}
	return newTrack(class, name, points, every), true
}

// timeLine draws a mold's steps and, over the same time, what was measured at its pattern and around,
// and how the one it is reckoned with may go on.
func (s *site) timeLine(r *http.Request, v voice, o *model.Outlook, m *model.MoldOutlook, view *moldView) {
	view.Time = v.section(m, true)
	ts := timeScale{x0: panelLeft, x1: drawingWidth - 1}
	ts.from, ts.to = v.stretch(m)
	if s.opts.Trace == nil {
		return
	}
	tracks, ok := s.tracksOf(r.Context(), v, o, m, ts)
	if !ok {
		view.NoTrace = noRecord
		return
	}
	if len(tracks) == 0 {
		return
	}
	var window *model.PlaceOutlook
	if p, ok := o.Place(m.Place); ok && !m.Poured {
		window = &p
	}
	panel := v.tempPanel(tracks, window, ts, view.Time.GridEnd+2)
	view.Time.hang(ts, v, panel)
	view.Lines, view.Fan = panel.Lines, len(panel.Fans) > 0
	view.Table = v.table("Measured "+tracks[0].name, tracks[0], ts.from, earlier(ts.to, v.now))
	for i, t := range tracks {
		if i == 0 {
			view.Time.Label += " " + v.traceWords("Temperature "+t.name, t, ts)
			continue
		}
		view.Time.Label += v.aheadWords(t.ahead)
		if t.ahead != nil {
			view.Table.AheadOf, view.Table.Ahead = t.name, v.aheadRows(t.ahead)
		}
	}
}

// tracksOf reads what was measured at a mold's pattern, then around it, each where it stood. The first of
// them that was looked ahead of carries the forecast: it is what the mold was reckoned with. ok is false
// where the record cannot be read.
func (s *site) tracksOf(ctx context.Context, v voice, o *model.Outlook, m *model.MoldOutlook, ts timeScale) (tracks []track, ok bool) {
	told, stood := false, stays(m, ts.from, earlier(ts.to, v.now))
	for _, at := range []struct {
		class, name string
		of          func(stay) string
	}{{"pattern", "at the pattern", func(st stay) string { return st.surface }}, {"around", "in the air", stay.air}} {
		t, heard := track{}, false
		for i, st := range stood {
			p, known := o.Place(at.of(st))
			if !known || p.Probe == "" {
				continue
			}
			part, ok := s.trackOf(ctx, at.class, at.name, o, p.Probe, st.from, st.to)
			if !ok {
				return nil, false
			}
			t, heard = t.then(part, st.from), true
			if i == len(stood)-1 && !told {
				t.ahead = foretold(p.Ahead).within(ts.from, ts.to)
				told = t.ahead != nil
			}
		}
		if heard {
			tracks = append(tracks, t)
		}
	}
	return tracks, true
}

// stay is where a mold stood for a while.
type stay struct {
	from, to       time.Time
	place, surface string
}

// air is the place whose air is around the mold, where it is not the surface itself.
func (st stay) air() string {
	if st.place == st.surface {
		return ""
	}
	return st.place
}

// stays are where a mold stood within a span, by its marks; it stands where the outlook says.
func stays(m *model.MoldOutlook, from, to time.Time) []stay {
	out := []stay{{from: from, to: to, place: m.Place, surface: m.Surface}}
	at := stay{}
	for _, k := range m.Marks {
		if k.Kind != model.Begun && k.Kind != model.Moved || k.At.After(to) {
			continue
		}
		if last := &out[len(out)-1]; k.Kind == model.Moved && k.At.After(from) {
			last.to, last.place, last.surface = k.At, at.place, at.surface
			out = append(out, stay{from: k.At, to: to, place: m.Place, surface: m.Surface})
		}
		at = stay{place: k.Place, surface: k.Surface}
	}
	return out
}

// then is a track with what was measured at the next place, from an instant on. The line breaks there: the
// mold was carried from one air into another.
func (t track) then(next track, from time.Time) track {
	if t.points == nil {
		return next
	}
	points := append(slices.Clone(t.points), Point{At: from, TempC: math.NaN(), Humidity: math.NaN()})
	next.points, next.gap = append(points, next.points...), max(t.gap, next.gap)
	return next
}

// placeTrace draws what was measured at a place, and how it may go on.
func (s *site) placeTrace(r *http.Request, v voice, o *model.Outlook, p model.PlaceOutlook, back time.Duration, view *placePage) {
	ts := timeScale{from: v.now.Add(-back), to: v.now, x0: panelLeft, x1: drawingWidth - 1}
	if s.opts.Trace == nil {
		view.NoTrace = "No record of readings is kept here."
		return
	}
	t, ok := s.trackOf(r.Context(), "pattern", "here", o, p.Probe, ts.from, v.now)
	if !ok {
		view.NoTrace = noRecord
		return
	}
	if n := len(p.Ahead); n > 0 { // as far ahead as back
		ts.to = later(v.now, earlier(p.Ahead[n-1].At, v.now.Add(back)))
		t.ahead = foretold(p.Ahead).within(ts.from, ts.to)
	}
	window, panels := &p, []panel(nil)
	if view.Place.Surface != nil {
		window = nil // the air decides, and a surface has no humidity
	}
	panels = append(panels, v.tempPanel([]track{t}, window, ts, 0))
	if view.Place.Surface == nil {
		panels = append(panels, v.humidityPanel(t, ts, panels[0].Frame.Y+panels[0].Frame.H+4))
	}
	view.Time = drawing{W: drawingWidth, Big: true, GridTop: panels[0].Frame.Y, Label: v.traceWords(view.Place.Name, t, ts)}
	view.Time.hang(ts, v, panels...)
	if view.Fan = t.ahead != nil; !view.Fan {
		view.Time.Now = nil // the right edge is now
	}
	view.Table = v.table("Lowest and highest measured", t, ts.from, v.now)
}
