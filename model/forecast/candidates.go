package forecast

import "math"

// leads is how far a forecast reaches: 72 hourly means ahead.
const leads = 72

// curve is a forecast from one origin: curve[0] is the temperature now, curve[h] the mean of the h-th hour
// ahead, whose center lies h-1/2 hours after the origin. NaN where a candidate cannot say.
type curve [leads + 1]float64

// Candidate names one of the simple forecasts that are weighed against each other.
type Candidate int

// The candidates, from the plainest on.
const (
	Persistence   Candidate = iota // it stays as it is now
	Yesterday                      // the last 24 hours come again
	Profile                        // the usual temperature of the hour, plus today's departure fading out
	ShapeNow                       // from the temperature now, along the usual daily shape
	Shape                          // the recent level stays, the usual daily shape on top
	ShapeDamped                    // as Shape, its level drawn back to that of the last two days
	WeekBack                       // the same hours a week ago, plus today's departure fading out
	NumCandidates                  // how many there are
)

var candidateNames = [NumCandidates]string{"persistence", "yesterday", "profile", "shape now", "shape", "shape damped", "week back"}

func (c Candidate) String() string { return candidateNames[c] }

const (
	offsetBins       = 18 // three hours of ten-minute means set the offset
	fadeHours        = 12 // e-folding time of a departure from the usual
	dampHours        = 36 // e-folding time of a level's return to normal
	hoursPerWeek     = 7 * 24
	levelWindowHours = 48
	maxLatestK       = 1
	latestHours      = 1
)

// origin is all a candidate needs to know about the present.
type origin struct {
	at      float64 // Unix seconds
	nowC    float64 // the latest temperature its neighbors vouch for
	latestK float64 // what the newest reading alone adds to it
	offsetC float64 // mean of the last three hours of temperature minus daily shape
	levelC  float64 // mean of the last two days
}

// forecastAll fills every candidate's curve from one origin.
func (f *Forecaster) forecastAll(o origin, out *[NumCandidates]curve) {
	slots := f.slotsAhead(o.at)
	departureNow := f.shape.departure.at(slots[0])
	profileGap := o.nowC - f.shape.profile.at(slots[0])
	weekGap := o.nowC - f.past.around(o.at-hoursPerWeek*hourSeconds)
	for c := range out {
		out[c][0] = o.nowC
	}
	for h := 1; h <= leads; h++ {
		lead := float64(h) - 0.5
		center := o.at + lead*hourSeconds
		fade := math.Exp(-lead / fadeHours)
		out[Persistence][h] = o.nowC
		out[Yesterday][h] = f.past.around(center - dayBack(h)*hourSeconds)
		out[WeekBack][h] = f.past.around(center-hoursPerWeek*hourSeconds) + weekGap*fade
		out[Profile][h], out[ShapeNow][h] = math.NaN(), math.NaN()
		out[Shape][h], out[ShapeDamped][h] = math.NaN(), math.NaN()
		if f.shape.known {
			departure := f.shape.departure.at(slots[h])
			out[Profile][h] = f.shape.profile.at(slots[h]) + profileGap*fade
			out[ShapeNow][h] = departure + o.nowC - departureNow
			out[Shape][h] = departure + o.offsetC
			out[ShapeDamped][h] = departure + o.levelC + (o.offsetC-o.levelC)*math.Exp(-lead/dampHours)
		}
	}
}

// project combines the candidates into one forecast. What only the newest reading says fades within an hour,
// and counts for a kelvin at most: enough for a coarse sensor's step, too little for a bad reading to matter.
func (f *Forecaster) project(o origin, all *[NumCandidates]curve, mean *curve) {
	f.forecastAll(o, all)
	f.skill.combine(all, mean)
	latest := min(max(o.latestK, -maxLatestK), maxLatestK)
	mean[0] += latest
	for h := 1; h <= leads && latest != 0; h++ {
		mean[h] += latest * math.Exp(-(float64(h)-0.5)/latestHours)
	}
}

// dayBack is how many whole days in hours lie between an hour ahead and its last known likeness.
func dayBack(lead int) float64 { return float64((lead + 23) / 24 * 24) }

// slotsAhead places the origin (index 0) and the centers of the hours ahead on the local clock.
func (f *Forecaster) slotsAhead(at float64) (slots [leads + 1]slot) {
	slots[0] = slotAt(at, f.past.zone)
	for h := 1; h <= leads; h++ {
		slots[h] = slotAt(at+(float64(h)-0.5)*hourSeconds, f.past.zone)
	}
	return slots
}

// offset is the mean of temperature minus daily shape over the ten-minute means that end in the three hours
// before an instant.
func (f *Forecaster) offset(at, nowC float64) float64 {
	sum, count := 0.0, 0.0
	newest := int64(math.Floor(at/binSeconds)) - 1
	for b := newest; b > newest-offsetBins; b-- {
		if v := f.past.bin(b); !math.IsNaN(v) {
			sum += v - f.shape.departure.at(slotAt((float64(b)+0.5)*binSeconds, f.past.zone))
			count++
		}
	}
	if count == 0 {
		return nowC - f.shape.departure.at(slotAt(at, f.past.zone))
	}
	return sum / count
}
