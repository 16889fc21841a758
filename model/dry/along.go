package dry

import "sort"

// Along is how far a coat would come along a course of air, worked out once so that it may be asked for from
// any beginning. A coat that goes on later is never dry earlier.
type Along struct {
	step                    float64   // s between two airs of the course
	wet, film               []float64 // s at the reference pace, from the beginning of the course to each air
	wetSeconds, filmSeconds float64   // of which each stage needs so much
}

// Along runs the coat's clock over airs that are stepSeconds apart. Where the air changes by up to 0.3 K in a
// quarter of an hour, a dry time comes within 10 s plus 0.2 % of what [Coat.Advance] says.
func (c Coat) Along(course []Air, stepSeconds float64) Along {
	k := c.clock()
	a := Along{step: stepSeconds, wetSeconds: k.wetSeconds, filmSeconds: k.filmSeconds}
	if len(course) == 0 {
		return a
	}
	both := make([]float64, 2*len(course))
	a.wet, a.film = both[:len(course):len(course)], both[len(course):]
	here := course[0].moment()
	pace := k.pace(here)
	for i := 1; i < len(course); i++ {
		next := course[i].moment()
		after := k.pace(next)
		from, to, seconds := k.moving(here, next, pace, after, stepSeconds)
		a.wet[i] = a.wet[i-1] + (from.wet+to.wet)/2*seconds
		a.film[i] = a.film[i-1] + (from.film+to.film)/2*seconds
		here, pace = next, after
	}
	return a
}

// Dry is when a coat that goes on some seconds after the beginning of the course is dry, s after that
// beginning; ok is false where the course ends before.
func (a Along) Dry(from float64) (seconds float64, ok bool) {
	if !(a.wetSeconds+a.filmSeconds > 0) {
		return 0, false
	}
	if seconds, ok = reach(a.wet, a.step, from, a.wetSeconds); !ok {
		return 0, false
	}
	return reach(a.film, a.step, seconds, a.filmSeconds)
}

// reach is when a sum that only grows has grown by need since from; linear between its points.
func reach(sum []float64, step, from, need float64) (seconds float64, ok bool) {
	if need <= 0 {
		return from, true
	}
	k := int(from / step)
	if from < 0 || k >= len(sum)-1 {
		return 0, false
	}
	need *= 1 - 1e-9 // as [whole] closes a stage
	need += sum[k] + (sum[k+1]-sum[k])*(from/step-float64(k))
	k += sort.SearchFloat64s(sum[k:], need)
	if k == len(sum) {
		return 0, false
	}
	return max(from, step*(float64(k-1)+(need-sum[k-1])/(sum[k]-sum[k-1]))), true
}
