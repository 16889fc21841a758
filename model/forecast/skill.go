package forecast

import "math"

const (
	skillHalfLifeDays = 10
	// sharpness is the power of the error that divides a candidate's share: 1/MAE^6 leaves a candidate that errs
	// half as much again with a tenth of the better one's share.
	sharpness = 6
	// skillPrior is how many hindcasts' worth of the field's mean error a candidate starts with.
	skillPrior  = 4
	skillFloorK = 0.01 // errors below a probe's resolution count alike
)

// skill keeps each candidate's recent absolute error by lead, forgotten with a half-life of ten days. Absolute
// errors, not squares: one evening when the heating came on must not decide three weeks.
type skill struct {
	errK    [NumCandidates][leads + 1]float64 // weighted sum of absolute errors, K
	weights [NumCandidates][leads + 1]float64 // sum of weights
	open    [openHindcasts]openCandidates
}

// openCandidates are the candidates' forecasts from one origin, waiting for truth.
type openCandidates struct {
	issued int64
	live   bool
	tempC  [NumCandidates][leads]float32
}

func (s *skill) issue(hour int64, all *[NumCandidates]curve) {
	o := &s.open[ring(hour/hindcastEvery, openHindcasts)]
	o.issued, o.live = hour, true
	for c := range all {
		for i := range o.tempC[c] {
			o.tempC[c][i] = float32(all[c][i+1])
		}
	}
}

// verify learns from the truth of one hour.
func (s *skill) verify(hour int64, truthC float64) {
	for i := range s.open {
		o := &s.open[i]
		lead := hour - o.issued + 1
		if !o.live || lead < 1 || lead > leads {
			continue
		}
		for c := range o.tempC {
			if e := float64(o.tempC[c][lead-1]) - truthC; !math.IsNaN(e) {
				s.learn(Candidate(c), int(lead), e)
			}
		}
	}
}

// forget drops the open forecasts.
func (s *skill) forget() {
	for i := range s.open {
		s.open[i].live = false
	}
}

func (s *skill) learn(c Candidate, lead int, errK float64) {
	keep := math.Exp2(-1.0 / (hindcastsPerDay * skillHalfLifeDays))
	s.errK[c][lead] = s.errK[c][lead]*keep + math.Abs(errK)
	s.weights[c][lead] = s.weights[c][lead]*keep + 1
}

// meanAbs is a candidate's recent mean absolute error, NaN before the first truth.
func (s *skill) meanAbs(c Candidate, lead int) float64 {
	return s.errK[c][lead] / s.weights[c][lead]
}

// combine mixes the candidates by their shares at every lead.
func (s *skill) combine(all *[NumCandidates]curve, out *curve) {
	out[0] = all[Persistence][0]
	for lead := 1; lead <= leads; lead++ {
		sum := 0.0
		for c, share := range s.shares(all, lead) {
			if share > 0 {
				sum += share * all[c][lead]
			}
		}
		out[lead] = sum
	}
}

// shares of the candidates that can speak at a lead; they sum to 1.
func (s *skill) shares(all *[NumCandidates]curve, lead int) (shares [NumCandidates]float64) {
	field, ok := s.field(lead)
	sum := 0.0
	for c := range shares {
		n := s.weights[c][lead]
		if !ok || n == 0 || math.IsNaN(all[c][lead]) {
			continue
		}
		err := (s.errK[c][lead] + skillPrior*field) / (n + skillPrior)
		shares[c] = math.Pow(field/(err+skillFloorK), sharpness)
		sum += shares[c]
	}
	if sum == 0 {
		return unskilled(all, lead)
	}
	for c := range shares {
		shares[c] /= sum
	}
	return shares
}

// field is the mean error of all candidates with a record at a lead.
func (s *skill) field(lead int) (errK float64, ok bool) {
	sum, voices := 0.0, 0.0
	for c := range NumCandidates {
		if s.weights[c][lead] > 0 {
			sum += s.meanAbs(c, lead)
			voices++
		}
	}
	return sum/max(voices, 1) + skillFloorK, voices > 0
}

// unskilled lets the daily shape speak alone while nothing is on record, and persistence before it is known.
func unskilled(all *[NumCandidates]curve, lead int) (shares [NumCandidates]float64) {
	best := Persistence
	if !math.IsNaN(all[Shape][lead]) {
		best = Shape
	}
	shares[best] = 1
	return shares
}
