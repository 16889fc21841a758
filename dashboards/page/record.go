package page

import (
	"context"
	"net/http"
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

// timeLine draws a mold's steps and, over the same time, what was measured at its pattern and around.
func (s *site) timeLine(r *http.Request, v voice, o *model.Outlook, m *model.MoldOutlook, view *moldView) {
	view.Time = v.section(m, true)
	ts := timeScale{x0: 38, x1: drawingWidth - 1}
	ts.from, ts.to = v.stretch(m)
	to := earlier(ts.to, v.now)

	if s.opts.Trace == nil {
		return
	}
	var tracks []track
	for _, at := range []struct{ class, name, place string }{{"pattern", "at the pattern", m.Surface}, {"around", "in the air", m.Place}} {
		p, ok := o.Place(at.place)
		if !ok || p.Probe == "" || (at.class == "around" && m.Surface == m.Place) {
			continue
		}
		t, ok := s.trackOf(r.Context(), at.class, at.name, o, p.Probe, ts.from, to)
		if !ok {
			view.NoTrace = noRecord
		}
		tracks = append(tracks, t)
	}
	if len(tracks) == 0 || view.NoTrace != "" {
		return
	}
	var window *model.PlaceOutlook
	if p, ok := o.Place(m.Place); ok && !m.Poured {
		window = &p
	}
	panel := v.tempPanel(tracks, window, ts, view.Time.GridEnd+2)
	view.Time.hang(ts, v, panel)
	view.Lines = panel.Lines
	view.Table = v.table("Measured "+tracks[0].name, tracks[0].points, ts.from, to)
	view.Time.Label += " " + v.traceWords("Temperature "+tracks[0].name, tracks[0], ts)
}

// placeTrace draws what was measured at a place.
func (s *site) placeTrace(r *http.Request, v voice, o *model.Outlook, p model.PlaceOutlook, back time.Duration, view *placePage) {
	ts := timeScale{from: v.now.Add(-back), to: v.now, x0: 38, x1: drawingWidth - 1}
	if s.opts.Trace == nil {
		view.NoTrace = "No record of readings is kept here."
		return
	}
	t, ok := s.trackOf(r.Context(), "pattern", "here", o, p.Probe, ts.from, ts.to)
	if !ok {
		view.NoTrace = noRecord
		return
	}
	temp := v.tempPanel([]track{t}, &p, ts, 0)
	damp := v.humidityPanel(t, ts, temp.Frame.Y+temp.Frame.H+4)
	view.Time = drawing{W: drawingWidth, Big: true, GridTop: temp.Frame.Y, Label: v.traceWords(view.Place.Name, t, ts)}
	view.Time.hang(ts, v, temp, damp)
	view.Time.Now = nil // the right edge is now
	view.Table = v.table("Lowest and highest measured", t.points, ts.from, ts.to)
}
