package metrics_test

import (
	"math"
	"math/rand/v2"
	"time"

	"pourward/model"
)

// drawn makes up the course of a shop day, minute by minute, from a seed: the same seed, the same day.
// Nothing in it follows from anything else, as it would in a real shop, so that odd combinations occur.
type drawn struct {
	*rand.Rand
	minutes int
	temps   [2]float64
	known   [2]bool
	silent  [2]bool
	last    [2]time.Time
	molds   [2]drawnMold
	journal model.JournalHealth
}

type drawnMold struct {
	open  bool
	steps [4]model.Step
}

func drawDay(seed uint64) []*model.Snapshot {
	d := &drawn{Rand: rand.New(rand.NewPCG(seed, 1))}
	d.molds[0].open, d.molds[1].open = true, true
	d.temps, d.known = [2]float64{17.5, 17.5}, [2]bool{true, true}
	d.journal.LastSync = at(6, 0) // by the run before this one
	var day []*model.Snapshot
	for i := range dayMinutes {
		day = append(day, d.minute(at(8, i)))
	}
	return day
}

// turns reports a change that comes once in n minutes on average.
func (d *drawn) turns(n int) bool { return d.IntN(n) == 0 }

func (d *drawn) minute(now time.Time) *model.Snapshot {
	s := &model.Snapshot{Outlook: &model.Outlook{At: now}}
	s.Health.Started = at(7, 59)
	for i, place := range []string{"bench", "shelf"} {
		s.Outlook.Places = append(s.Outlook.Places, d.place(i, place))
		s.Outlook.Probes = append(s.Outlook.Probes, d.probe(i, place+"-air", place, now))
	}
	for i, name := range []string{"cornice", "metope"} {
		s.Outlook.Molds = append(s.Outlook.Molds, d.mold(i, name, now))
	}
	s.Health.Journal = d.record(now)
	d.minutes++
	return s
}

// place is cold, passes the lower end of the pour window and back, in tenths so that it meets the limits
// exactly; now and then it is not known.
func (d *drawn) place(i int, name string) model.PlaceOutlook {
	tide := 18.1 - 0.6*math.Cos(2*math.Pi*float64(d.minutes)/dayMinutes)
	d.temps[i] = math.Round(10*(d.temps[i]+0.2*d.NormFloat64()+0.2*(tide-d.temps[i]))) / 10
	if d.turns(30) {
		d.known[i] = !d.known[i]
	}
	return model.PlaceOutlook{
		Name: name, Known: d.known[i], TempC: d.temps[i], Humidity: 0.5, DewPointC: math.NaN(),
		PourMinC: 18, PourMaxC: 32, Pour: model.Fitness{Verdict: model.Fit},
	}
}

func (d *drawn) probe(i int, name, place string, now time.Time) model.ProbeOutlook {
	if d.turns(10) {
		d.silent[i] = !d.silent[i]
	}
	if !d.silent[i] {
		d.last[i] = now
	}
	return model.ProbeOutlook{Name: name, Place: place, Last: d.last[i], Every: 10 * time.Second, Silent: d.silent[i], TempC: math.NaN(), Humidity: math.NaN()}
}

// mold is begun, demolded and, by a correction, open again; its steps stand where they like.
func (d *drawn) mold(i int, name string, now time.Time) model.MoldOutlook {
	m := &d.molds[i]
	if d.turns(30) {
		m.open = !m.open
	}
	out := model.MoldOutlook{Name: name, Place: []string{"bench", "shelf"}[i], Begun: at(7, 59)}
	if !m.open {
		out.Demolded = now
	}
	for j, kind := range []model.StepKind{model.CoatDry, model.ReleaseDry, model.WorkingLife, model.DemoldTime} {
		if m.steps[j].Name == "" || d.turns(6) {
			m.steps[j] = d.step(kind, now)
		}
		out.Steps = append(out.Steps, m.steps[j])
	}
	return out
}

func (d *drawn) step(kind model.StepKind, now time.Time) model.Step {
	standings := model.Standings()
	s := model.Step{Kind: kind, Name: string(kind) + "-1", Begun: now}
	s.Standing = standings[d.IntN(len(standings))]
	if d.turns(2) {
		begin := now.Add(time.Duration(d.IntN(120)-60) * time.Minute)
		s.Band = model.Band{Earliest: begin, Likely: begin.Add(20 * time.Minute), Latest: begin.Add(time.Hour)}
	}
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
	d.journal.Waiting += d.IntN(6)
	if d.journal.Err == "" && d.turns(3) {
		d.journal.LastSync, d.journal.Waiting = now, 0
	}
	return d.journal
}
