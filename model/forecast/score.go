package forecast

import (
	"math"
	"time"
)

// Reading is one good reading of a recorded climate.
type Reading struct {
	At    time.Time
	TempC float64
}

// Series is a recorded climate to score the forecaster on, in order of time. Faults must be sorted out before,
// as the daemon does.
type Series struct {
	Name     string
	Zone     *time.Location // nil means UTC
	Readings []Reading
}

// ScoreOptions say how a climate is replayed. Zero values mean the defaults.
type ScoreOptions struct {
	// Rate is the cure's rate by temperature; nil doubles per 10 K, with 1 at 23 degC, a rule of thumb.
	Rate func(tempC float64) float64
	// NeedHours are the lengths of the cures poured, at the reference temperature: 16, 20 and 48 h by default.
	NeedHours  []float64
	EveryHours int           // between pours; 3 by default
	Paths      int           // in an ensemble; 200 by default
	Settled    time.Duration // history before an origin counts as settled; 14 days by default
}

func (o ScoreOptions) withDefaults() ScoreOptions {
	if o.Rate == nil {
		o.Rate = func(tempC float64) float64 { return math.Exp2((tempC - 23) / 10) }
	}
	if len(o.NeedHours) == 0 {
		o.NeedHours = []float64{16, 20, 48}
	}
	if o.EveryHours <= 0 {
		o.EveryHours = 3
	}
	if o.Paths <= 0 {
		o.Paths = 200
	}
	if o.Settled <= 0 {
		o.Settled = 14 * 24 * time.Hour
	}
	table := newRateTable(o.Rate) // asked millions of times
	o.Rate = table.at
	return o
}

// Report is how the forecaster and the plain baselines did on one climate.
type Report struct {
	Name    string
	Days    float64 // of readings, gaps left out
	Origins int     // forecasts judged, with a settled history
	Leads   []LeadScore
	Cures   []CureScore
}

// LeadScore is the mean absolute error of the hourly mean some hours ahead, K.
type LeadScore struct {
	LeadHours int
	Count     int
	ForecastK float64
	// The baselines: the last hour's mean stays; the last day comes again; the weighted profile of the last four
	// days plus a fading offset. NewestK is persistence of the very newest reading, hard to beat an hour ahead.
	PersistenceK, YesterdayK, ProfileK, NewestK float64
	ClimatologyK                                float64 // mean of the same clock hour on the last seven days
	// PinballK is the mean pinball loss of the forecast's 10, 50 and 90 %. A baseline that tells one number for all
	// three loses half its absolute error, see [LeadScore.BaselinePinballK].
	PinballK float64
}

// BaselinePinballK is the pinball loss of a baseline of that mean absolute error.
func (l LeadScore) BaselinePinballK(absoluteK float64) float64 { return absoluteK / 2 }

// AgainstBest is the forecast's error over that of the best of the three hourly baselines.
func (l LeadScore) AgainstBest() float64 {
	return l.ForecastK / min(l.PersistenceK, l.YesterdayK, l.ProfileK)
}

// pinballLevels are the places of the band whose pinball loss is scored.
var pinballLevels = [...]float64{0.1, 0.5, 0.9}

var scoredLeads = []int{1, 3, 6, 12, 24, 48, 72}

// Score replays a climate: at every few hours it asks for a forecast, pours a cure of each length, and judges
// both by what the place did then.
func Score(s Series, o ScoreOptions) Report {
	r := newReplay(s, o.withDefaults())
	for i := range s.Readings {
		r.upTo(s.Readings[i].At)
		r.forecaster.Observe(s.Readings[i].At, s.Readings[i].TempC)
		r.last = s.Readings[i]
	}
	return r.report()
}

// replay is one pass over a climate.
type replay struct {
	series     Series
	options    ScoreOptions
	truth      truth
	forecaster *Forecaster
	last       Reading
	nextHour   int64 // the next whole hour to look at
	firstHour  int64
	paths      Paths
	times      []float64
	leads      []leadSums
	cures      []cureTally
	origins    int
	later      []agingCure // cures to come back to
}

func newReplay(s Series, o ScoreOptions) *replay {
	r := &replay{series: s, options: o, truth: truthOf(s.Readings), leads: make([]leadSums, len(scoredLeads))}
	r.forecaster = New(Options{Zone: s.Zone, Shadows: []Cure{{20, o.Rate}, {48, o.Rate}}})
	for _, need := range o.NeedHours {
		r.cures = append(r.cures, newCureTally(need))
	}
	return r
}

// upTo judges from every whole hour before an instant, which is known to have a reading soon after it.
func (r *replay) upTo(at time.Time) {
	if r.last.At.IsZero() {
		r.firstHour = at.Unix()/hourSeconds + 1
		r.nextHour = r.firstHour + 1
		return
	}
	for ; r.nextHour*hourSeconds <= at.Unix(); r.nextHour++ {
		origin := time.Unix(r.nextHour*hourSeconds, 0).UTC()
		if origin.Sub(r.last.At) > time.Hour {
			continue
		}
		if r.nextHour%int64(r.options.EveryHours) == 0 {
			r.judge(origin)
		}
		r.comeBack(origin)
	}
}

func (r *replay) judge(origin time.Time) {
	if !r.forecaster.PathsInto(&r.paths, origin, r.options.Paths) {
		return
	}
	settled := origin.Sub(time.Unix(r.firstHour*hourSeconds, 0)) >= r.options.Settled
	if settled {
		r.origins++
		r.judgeLeads()
	}
	for i := range r.cures {
		r.judgeCure(i, settled)
	}
}

// judgeCure pours a cure at the next whole hour and looks up when it was done.
func (r *replay) judgeCure(i int, settled bool) {
	c := &r.cures[i]
	actual := r.truth.completion(r.nextHour, r.options.Rate, c.need)
	if math.IsNaN(actual) {
		return
	}
	cure := Cure{NeedHours: c.need, Rate: r.options.Rate}
	r.times = r.paths.Completions(cure, 0, r.times)
	told := outcome{hour: r.nextHour, actual: actual, band: r.forecaster.Band(r.times)}
	for b := range baselines {
		told.baseline[b] = r.baselineCompletion(b, cure)
	}
	c.add(told, r.times, settled)
	if settled {
		r.watch(i, told)
	}
}

// leadSums collects absolute errors at one lead.
type leadSums struct {
	count                                        float64
	forecast, newest, hourly, yesterday, profile float64
	climate, pinball                             float64
}

func (r *replay) judgeLeads() {
	for i, lead := range scoredLeads {
		target := r.nextHour + int64(lead) - 1
		truthC, lastHourC := r.truth.at(target), r.truth.at(r.nextHour-1)
		yesterday := r.truth.at(target - int64(dayBack(lead)))
		profile := r.profile(lead)
		climate := r.climatology(lead)
		if math.IsNaN(truthC + lastHourC + yesterday + profile + climate) {
			continue
		}
		s := &r.leads[i]
		s.count++
		told := r.paths.TempQuantiles(float64(lead)-0.5, pinballLevels[:]...)
		s.forecast += math.Abs(told[1] - truthC)
		for k, level := range pinballLevels {
			s.pinball += Pinball(level, told[k], truthC) / float64(len(pinballLevels))
		}
		s.newest += math.Abs(r.last.TempC - truthC)
		s.hourly += math.Abs(lastHourC - truthC)
		s.yesterday += math.Abs(yesterday - truthC)
		s.profile += math.Abs(profile - truthC)
		s.climate += math.Abs(climate - truthC)
	}
}

func (r *replay) report() Report {
	out := Report{Name: r.series.Name, Origins: r.origins, Days: r.truth.days()}
	for i, s := range r.leads {
		out.Leads = append(out.Leads, LeadScore{
			LeadHours: scoredLeads[i], Count: int(s.count), ForecastK: s.forecast / s.count,
			PersistenceK: s.hourly / s.count, NewestK: s.newest / s.count, YesterdayK: s.yesterday / s.count, ProfileK: s.profile / s.count,
			ClimatologyK: s.climate / s.count, PinballK: s.pinball / s.count,
		})
	}
	for i := range r.cures {
		out.Cures = append(out.Cures, r.cures[i].score())
	}
	return out
}
