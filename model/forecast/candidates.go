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
	Profile                        // the usual temperature of the hour, plus today's departure fading within half a day
	ProfileSoon                    // the same, the departure gone within a few hours
	ShapeNow                       // from the temperature now, along the usual daily shape
	Shape                          // the recent level stays, the usual daily shape on top
	ShapeDamped                    // as Shape, its level drawn back to that of the last two days
	ShapeTrend                     // as ShapeNow, the change since yesterday going on and fading out
	Weekly                         // the same hours of past weeks, plus today's departure fading within a day
	NumCandidates                  // how many there are
)

var candidateNames = [NumCandidates]string{
	"persistence", "yesterday", "profile", "profile soon", "shape now", "shape", "shape damped", "shape trend", "weekly",
}

func (c Candidate) String() string { return candidateNames[c] }

const (
	offsetBins       = 18 // three hours of ten-minute means set the offset
	levelWindowHours = 48
	hoursPerWeek     = 7 * 24
	pastWeeks        = 4   // as far as the record reaches,
	weekShare        = 0.5 // each counting half of the next

	// How soon, in hours, a departure fades to a third. Plain values, not fitted: past errors choose among them.
	profileFade = 12
	soonFade    = 4
	dampFade    = 36
	trendFade   = 24
	weekFade    = 24
	latestFade  = 1

	maxLatestK = 1
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
	weekGap := o.nowC - f.pastWeeks(o.at)
	dayGap := o.nowC - f.past.around(o.at-24*hourSeconds)
	for c := range out {
		out[c][0] = o.nowC
	}
	for h := 1; h <= leads; h++ {
		lead := float64(h) - 0.5
		center := o.at + lead*hourSeconds
		departure, profile := math.NaN(), math.NaN()
		if f.shape.known {
			departure, profile = f.shape.departure.at(slots[h]), f.shape.profile.at(slots[h])
		}
		shapeNow := o.nowC + departure - departureNow
		out[Persistence][h] = o.nowC
		out[Yesterday][h] = f.past.around(center - dayBack(h)*hourSeconds)
		out[Profile][h] = profile + profileGap*faded(lead, profileFade)
		out[ProfileSoon][h] = profile + profileGap*faded(lead, soonFade)
		out[ShapeNow][h] = shapeNow
		out[Shape][h] = o.offsetC + departure
		out[ShapeDamped][h] = o.levelC + departure + (o.offsetC-o.levelC)*faded(lead, dampFade)
		out[ShapeTrend][h] = shapeNow + dayGap*trendFade/24*(1-faded(lead, trendFade))
		out[Weekly][h] = f.pastWeeks(center) + weekGap*faded(lead, weekFade)
	}
}

func faded(hours, fade float64) float64 { return math.Exp(-hours / fade) }

// pastWeeks is the mean of the same hour of past weeks, NaN without any.
func (f *Forecaster) pastWeeks(at float64) float64 {
	sum, weights, w := 0.0, 0.0, 1.0
	for week := 1; week <= pastWeeks; week++ {
		if v := f.past.around(at - float64(week)*hoursPerWeek*hourSeconds); !math.IsNaN(v) {
			sum, weights = sum+w*v, weights+w
		}
		w *= weekShare
	}
	return sum / weights
}

// project combines the candidates into one forecast.
func (f *Forecaster) project(o origin, all *[NumCandidates]curve, mean *curve) {
	f.forecastAll(o, all)
	f.skill.combine(all, mean)
	mean.lean(o.latestK)
}

// lean adds what only the newest reading says. It fades within an hour and counts for a kelvin at most: enough for
// a coarse sensor's step, too little for a bad reading to matter.
func (c *curve) lean(latestK float64) {
	latestK = min(max(latestK, -maxLatestK), maxLatestK)
	c[0] += latestK
	for h := 1; h <= leads && latestK != 0; h++ {
		c[h] += latestK * faded(float64(h)-0.5, latestFade)
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
