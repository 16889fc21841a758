package metrics_test

import (
	"math"
	"time"

	"pourward/model"
	"pourward/sensors"
)

type drawnPlace struct {
	tempC   float64
	known   bool
	night   float64 // the coldest to come; 0 = not told
	reasons []model.Reason
	offK    float64
	cut     bool // the heating
}

type drawnProbe struct {
	silent, faulty bool
	last           time.Time
	reads          uint64
	faults         [2]uint64
}

// place is cold, passes the lower end of the pour window and back, in tenths so that it meets the limits
// exactly; now and then it is not known.
func (d *drawn) place(i int, name string, now time.Time) model.PlaceOutlook {
	p := &d.places[i]
	tide := 18.1 + d.warmerK - 0.6*math.Cos(2*math.Pi*d.done)
	p.tempC = math.Round(10*(p.tempC+0.2*d.NormFloat64()+0.2*(tide-p.tempC))) / 10
	if p.known && d.turns(80) || !p.known && d.turns(15) {
		p.known = !p.known
	}
	if d.turns(60) {
		p.night = []float64{0, 12, 12, 15, 17.9, 18, 18.4, 18.5}[d.IntN(8)]
	}
	if d.turns(25) {
		p.reasons = [][]model.Reason{nil, {{Code: model.ReasonDamp}}, {{Code: model.ReasonDamp}}, {{Code: model.ReasonCold}, {Code: model.ReasonDamp}}, {{Code: model.ReasonNoAir}}}[d.IntN(5)]
	}
	if d.turns(25) {
		p.cut = !p.cut
	}
	if i == 0 && d.turns(20) {
		p.offK = []float64{0, 0, 1.04, -2.6}[d.IntN(4)]
	}
	out := model.PlaceOutlook{
		Name: name, Known: p.known, TempC: p.tempC, Humidity: 0.5, DewPointC: math.NaN(), Probe: name + "-air",
		PourMinC: 18, PourMaxC: 32, Pour: model.Fitness{Verdict: model.Fit, Reasons: p.reasons}, OffK: p.offK, HeatedOff: p.cut, Ahead: p.ahead(now),
	}
	if p.offK != 0 {
		out.OffProbe = "bench-low"
	}
	return out
}

// ahead is colder still now and after more than a day, which counts as neither.
func (p *drawnPlace) ahead(now time.Time) []model.Reach {
	if p.night == 0 {
		return nil
	}
	hour := func(h int, likelyC float64) model.Reach {
		return model.Reach{At: now.Add(time.Duration(h) * time.Hour), LikelyC: likelyC}
	}
	return []model.Reach{hour(0, 2), hour(1, 25), hour(9, p.night), hour(24, 21), hour(25, 2)}
}

func (d *drawn) probe(i int, name string, now time.Time) (model.ProbeOutlook, model.ProbeHealth) {
	p := &d.probes[i]
	if d.turns([]int{10, 10, 200}[i]) {
		p.silent = !p.silent
	}
	if !p.silent {
		p.last = now
	}
	if d.turns(30) {
		p.faulty = !p.faulty
	}
	p.reads += 6
	if p.faulty {
		p.faults[d.IntN(2)] += uint64(d.IntN(4))
	}
	place := []string{"bench", "shelf", "bench"}[i]
	return model.ProbeOutlook{Name: name, Place: place, Last: p.last, Every: 10 * time.Second, Silent: p.silent, TempC: math.NaN(), Humidity: math.NaN()},
		model.ProbeHealth{Name: name, Reads: p.reads, Faults: map[sensors.Fault]uint64{sensors.BadChecksum: p.faults[0], sensors.NoResponse: p.faults[1]}}
}
