package deliver

import "time"

// Quiet are the hours in which only critical alerts are told. They are times of the day on the wall of the
// shop: where the clock is put forward or back between them, the night is an hour shorter or longer.
type Quiet struct {
	From, To time.Duration // after midnight as clocks show it, below 24 h; to the next day where To is not after From
	Zone     *time.Location
}

// Contains reports whether t is in the quiet hours, From included and To not.
func (q *Quiet) Contains(t time.Time) bool {
	if q == nil {
		return false
	}
	t = t.In(q.Zone)
	day := time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute +
		time.Duration(t.Second())*time.Second + time.Duration(t.Nanosecond())
	if q.From < q.To {
		return q.From <= day && day < q.To
	}
	return q.From <= day || day < q.To
}

// change is how long it is from t to the next time at which quiet may begin or end, and at most within.
func (q *Quiet) change(t time.Time, within time.Duration) time.Duration {
	if q == nil {
		return within
	}
	t = t.In(q.Zone)
	for _, edge := range []time.Duration{q.From, q.To} {
		for day := range 2 {
			at := time.Date(t.Year(), t.Month(), t.Day()+day, 0, int(edge/time.Minute), 0, 0, q.Zone)
			if d := at.Sub(t); d > 0 && d < within {
				within = d
			}
		}
	}
	return within
}
