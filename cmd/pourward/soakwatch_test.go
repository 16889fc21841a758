package main

import (
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"pourward/alerts"
	"pourward/model"
)

// watcher holds every snapshot of a soak against what must never be.
type watcher struct {
	mu     sync.Mutex
	wrong  []string
	shares map[string]float64   // of cures, by mold and mark: the way they had come
	firing map[string]time.Time // alerts that fire, and since when
	fails  time.Time            // since when the journal fails; zero while it does not
	told   int
	fired  int
}

func newWatcher() *watcher {
	return &watcher{shares: map[string]float64{}, firing: map[string]time.Time{}}
}

// say notes what is wrong, up to a number.
func (w *watcher) say(format string, args ...any) {
	if len(w.wrong) < 20 {
		w.wrong = append(w.wrong, fmt.Sprintf(format, args...))
	}
}

// marked allows for what a mark may change: a correction, and what a check teaches.
func (w *watcher) marked() {
	w.mu.Lock()
	defer w.mu.Unlock()
	clear(w.shares)
}

// stepped allows for another label of every instant.
func (w *watcher) stepped() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.fails = time.Time{}
}

// step is told every snapshot and what began to fire or ended by it.
func (w *watcher) step(s *model.Snapshot, changes []alerts.Change) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.told++
	for _, m := range s.Outlook.Molds {
		for _, step := range m.Steps {
			w.cure(s.Outlook, m, step)
		}
	}
	w.alerts(changes)
	w.journal(s)
}

// cure checks one step: its share never falls, and it is not ready before it could be in air that is never
// as warm as the material's own reference. Warmer is only what failing probes say. That a cure is slower
// in the cold is Arrhenius; no value of the product's is used.
func (w *watcher) cure(o *model.Outlook, m model.MoldOutlook, step model.Step) {
	if !step.Ended.IsZero() {
		return
	}
	if step.Kind == model.DemoldTime {
		key := fmt.Sprint(m.Name, step.Mark)
		if before, known := w.shares[key]; known && step.Share < before-1e-9 {
			w.say("%v: the cure of %s fell from %v to %v", o.At, m.Name, before, step.Share)
		}
		w.shares[key] = step.Share
	}
	if step.Standing == model.Ready && o.At.Sub(step.Begun) < step.RoomTime {
		w.say("%v: %s of %s, begun %v, is ready before its time at room temperature", o.At, step.Name, m.Name, step.Begun)
	}
}

// alerts checks that each begins once before it ends once.
func (w *watcher) alerts(changes []alerts.Change) {
	for _, c := range changes {
		key := fmt.Sprint(c.Alert.Name, c.Alert.Labels)
		_, firing := w.firing[key]
		if firing == !c.Ended {
			w.say("%v: alert %s: ended %t, and it was firing %t", c.At, key, c.Ended, firing)
		}
		if c.Ended {
			delete(w.firing, key)
			continue
		}
		w.firing[key] = c.At
		w.fired++
	}
}

// journal checks that a journal that fails for long is called out.
func (w *watcher) journal(s *model.Snapshot) {
	at := s.Outlook.At
	switch {
	case s.Health.Journal.Err == "":
		w.fails = time.Time{}
	case w.fails.IsZero() || at.Before(w.fails):
		w.fails = at
	case at.Sub(w.fails) > 20*time.Minute:
		if _, firing := w.firing["PourwardJournalFailing"+fmt.Sprint(map[string]string{})]; !firing {
			w.say("%v: the journal has failed since %v, and nobody is called; %v", at, w.fails, slices.Collect(maps.Keys(w.firing)))
		}
	}
}

// ended begins anew: a daemon that is started again calls again.
func (w *watcher) ended() {
	w.mu.Lock()
	defer w.mu.Unlock()
	clear(w.firing)
	w.fails = time.Time{}
}
