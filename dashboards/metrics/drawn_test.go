package metrics_test

import (
	"math/rand/v2"
	"time"

	"pourward/model"
)

// drawn makes up the course of a shop day, step by step, from a seed: the same seed, the same day.
// Nothing in it follows from anything else, as it would in a real shop, so that odd combinations occur.
type drawn struct {
	*rand.Rand
	windows *rand.Rand // of layers: what else is drawn does not follow from them
	done    float64    // share of the day
	warmerK float64
	places  [2]drawnPlace
	probes  [3]drawnProbe
	molds   [2]drawnMold
	patches drawnPatches
	journal model.JournalHealth
	trusted bool
	apart   *rand.Rand   // for what was added later, so that the days stay what they were
	unheard [2]time.Time // since when two targets have not heard what they must; zero = they have
}

// drawDay draws a day of so many steps.
func drawDay(seed uint64, every time.Duration, steps int) []*model.Snapshot {
	d := &drawn{Rand: rand.New(rand.NewPCG(seed, 1)), windows: rand.New(rand.NewPCG(seed, 3)), warmerK: 1.5 * float64(seed%2), trusted: true, apart: rand.New(rand.NewPCG(seed, 2))}
	d.patches.Rand = rand.New(rand.NewPCG(seed, 4))
	for i := range d.molds {
		d.molds[i].open, d.molds[i].begun = true, at(7, 30)
	}
	d.molds[seed%2].poured = true
	for i := range d.places {
		d.places[i].tempC, d.places[i].known, d.places[i].night = 17.5, true, 12
	}
	d.journal.LastSync = at(6, 0) // by the run before this one
	var day []*model.Snapshot
	for i := range steps {
		d.done = float64(i) / float64(steps)
		day = append(day, d.step(at(8, 0).Add(time.Duration(i)*every)))
	}
	return day
}

// turns reports a change that comes once in n steps on average.
func (d *drawn) turns(n int) bool { return d.IntN(n) == 0 }

func (d *drawn) step(now time.Time) *model.Snapshot {
	s := &model.Snapshot{Outlook: &model.Outlook{At: now}}
	for i, name := range []string{"bench", "shelf"} {
		s.Outlook.Places = append(s.Outlook.Places, d.place(i, name, now))
	}
	for i, name := range []string{"bench-air", "shelf-air", "bench-low"} {
		outlook, health := d.probe(i, name, now)
		s.Outlook.Probes = append(s.Outlook.Probes, outlook)
		s.Health.Probes = append(s.Health.Probes, health)
	}
	for i, name := range []string{"cornice", "metope"} {
		s.Outlook.Molds = append(s.Outlook.Molds, d.mold(i, name, now))
	}
	d.patches.tell(s.Outlook)
	if d.turns(20) {
		d.trusted = !d.trusted
	}
	s.Health.Delivery = d.delivery(now)
	s.Health.Started, s.Health.Journal, s.Health.ClockTrusted = at(7, 59), d.record(now), d.trusted
	return s
}

// record waits, syncs and fails at odd times.
func (d *drawn) record(now time.Time) model.JournalHealth {
	switch {
	case d.turns(12):
		d.journal.Err = "no space left on device"
	case d.turns(4):
		d.journal.Err = ""
	}
	states := model.RecordStates() // by the clock, for to draw them would draw other days
	d.journal.Stand.State = states[now.Unix()/(47*60)%int64(len(states))]
	d.journal.Waiting += d.IntN(6)
	if d.journal.Err == "" && d.turns(3) {
		d.journal.LastSync, d.journal.Waiting = now, 0
	}
	return d.journal
}

// delivery reaches two targets at odd times.
func (d *drawn) delivery(now time.Time) (out []model.DeliveryHealth) {
	for i, name := range []string{"house", "maker"} {
		h := model.DeliveryHealth{Target: name, Channel: []string{"alertmanager", "mail"}[i]}
		switch {
		case d.unheard[i].IsZero() && d.apart.IntN(15) == 0:
			d.unheard[i] = now
		case d.apart.IntN(40) == 0:
			d.unheard[i] = time.Time{}
		}
		if !d.unheard[i].IsZero() {
			h.Oldest = now.Sub(d.unheard[i])
		}
		out = append(out, h)
	}
	return out
}
