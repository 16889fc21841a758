package forecast

import "math"

const (
	trialHours = 24
	trialFrom  = 6 // the first hours do not tell the courses apart
	openTrials = trialHours / hindcastEvery
	// trialPrior is how many trials' worth of doubt a place starts with.
	trialPrior    = 8
	creditFloor   = 0.1
	trialHalfLife = 80 // trials
)

// trials keep book of what a noticed fall is worth here: while the heating seems off, the course without heating
// and the usual course are both noted, and compared with what came. Where rooms cool off early every other evening
// the alarm soon loses its say; where it was right before, it keeps it.
type trials struct {
	open [openTrials]struct {
		issued      int64
		live        bool
		cold, usual [trialHours]float32
	}
	coldK, usualK, weight float64
}

func (t *trials) issue(hour int64, cold, usual *curve) {
	o := &t.open[ring(hour/hindcastEvery, openTrials)]
	o.issued, o.live = hour, true
	for i := range o.cold {
		o.cold[i], o.usual[i] = float32(cold[i+1]), float32(usual[i+1])
	}
}

func (t *trials) verify(hour int64, truthC float64) {
	if math.IsNaN(truthC) {
		return
	}
	for i := range t.open {
		o := &t.open[i]
		lead := hour - o.issued + 1
		if !o.live || lead < trialFrom || lead > trialHours {
			continue
		}
		o.live = lead < trialHours
		keep := math.Exp2(-1.0 / ((trialHours - trialFrom + 1) * trialHalfLife))
		t.coldK = t.coldK*keep + math.Abs(float64(o.cold[lead-1])-truthC)
		t.usualK = t.usualK*keep + math.Abs(float64(o.usual[lead-1])-truthC)
		t.weight = t.weight*keep + 1
	}
}

// credit is the share of paths on which the heating stays off, at most a half; another such share sees it resumed.
func (t *trials) credit() float64 {
	if t.weight == 0 {
		return 0.5
	}
	doubt := trialPrior * (trialHours - trialFrom + 1) * (t.coldK + t.usualK) / (2 * t.weight)
	ratio := math.Pow((t.coldK+doubt)/(t.usualK+doubt), sharpness)
	c := min(1/(1+ratio), 0.5)
	if c < creditFloor {
		return 0
	}
	return c
}
