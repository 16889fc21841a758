package network

import (
	"math"
	"time"

	"pourward/sensors"
)

// samples makes samples, in order of time, of the series that answer a probe's question. It also returns
// what had to be left out of those that are new, and whether the quantity the probe is for is there.
func (q *Query) samples(p *asked, answer []series) (out []sensors.Sample, faults []*refused, err error) {
	parts := map[string]series{}
	for _, s := range answer {
		if _, twice := parts[s.part]; twice {
			return nil, nil, found(sensors.Malformed, "the expression of %s gives several series; narrow it with labels", s.part)
		}
		parts[s.part] = s
	}
	sound := func(points []point, convert func(float64) (float64, *refused)) []point {
		for i, x := range points {
			v, r := convert(x.v)
			if !finite(x.v) {
				v, r = math.NaN(), refuse(NotNumber, "a sample is %g", x.v)
			}
			if r != nil && x.millis > max(p.newest.UnixMilli(), p.early.UnixMilli()) {
				faults = append(faults, r)
			}
			points[i].v = v
		}
		return points
	}
	temps := sound(stamped(parts[tempPart], parts[tempAtPart]), func(v float64) (float64, *refused) { return p.TempUnit.celsius(v), nil })
	humidities := sound(stamped(parts[humidityPart], parts[humidityAtPart]), p.HumidityUnit.ratio)
	out = together(temps, humidities, q.opts.Every)
	if p.Temp != "" && len(temps) == 0 || len(out) == 0 {
		err = p.silent()
	}
	return out, faults, err
}

// silent is the error for a probe of which there is no sample.
func (p *asked) silent() error {
	if p.newest.IsZero() {
		return found(sensors.NoResponse, "there is no sample; check the expression and that its target is scraped")
	}
	return found(sensors.NoResponse, "there is no new sample, the last was of %s", p.newest.Format(time.RFC3339))
}

// stamped gives the values of one series the instants that another holds in seconds. A sample that stands
// for several steps comes once.
func stamped(values, instants series) []point {
	at := map[int64]float64{}
	for _, x := range instants.points {
		at[x.millis] = x.v
	}
	var out []point
	for _, x := range values.points {
		seconds, ok := at[x.millis]
		if !ok {
			continue
		}
		own, err := instantOf(seconds * 1000)
		if err != nil || len(out) > 0 && own.UnixMilli() <= out[len(out)-1].millis {
			continue
		}
		out = append(out, point{own.UnixMilli(), x.v})
	}
	return out
}

// together pairs temperatures with humidities whose instants are no further apart than within. A pair has
// the instant of its temperature.
func together(temps, humidities []point, within time.Duration) []sensors.Sample {
	var out []sensors.Sample
	for len(temps) > 0 || len(humidities) > 0 {
		s := sensors.Sample{TempC: math.NaN(), Humidity: math.NaN()}
		alone := len(temps) == 0 || len(humidities) == 0
		for !alone && len(humidities) > 1 && apart(temps[0], humidities[1]) <= apart(temps[0], humidities[0]) {
			humidities = humidities[1:] // the next fits better
		}
		pair := !alone && apart(temps[0], humidities[0]) <= within
		if len(temps) > 0 && (pair || alone || temps[0].millis < humidities[0].millis) {
			s.TempC, s.At = temps[0].v, temps[0].at()
			temps = temps[1:]
		}
		if s.At.IsZero() || pair {
			if s.At.IsZero() {
				s.At = humidities[0].at()
			}
			s.Humidity = humidities[0].v
			humidities = humidities[1:]
		}
		out = append(out, s)
	}
	return out
}

func (p point) at() time.Time { return time.UnixMilli(p.millis).UTC() }

func apart(a, b point) time.Duration { return a.at().Sub(b.at()).Abs() }
