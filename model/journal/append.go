package journal

import (
	"errors"
	"fmt"
	"math"
	"math/bits"

	"pourward/sensors"
)

// AppendReading takes a reading, rounded or not, into the record as [sensors.Reading.Rounded] has it.
// It stays in memory until the next [Journal.Flush] or [Journal.AppendMark]; queries see it at once.
//
// Ignored without an error: a failed attempt (r.Err set), a reading of which neither value is present,
// and a reading of an instant that the probe already has one for. Refused with an error: a reading
// without a probe's name, and one with a value or instant outside what any probe can give.
func (j *Journal) AppendReading(r sensors.Reading) error {
	if r.Err != nil || r.Temp.Quality == sensors.Missing && r.Humidity.Quality == sensors.Missing {
		return nil
	}
	if r.Probe == "" {
		return errors.New("record a reading: it names no probe; its source should")
	}
	s, err := sampleOf(r)
	if err != nil {
		return err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.ended || j.write == nil {
		return fmt.Errorf("record %s in journal %s: %w", r.Probe, j.path, j.refusal())
	}
	if s.probe, err = j.idOf(r.Probe); err != nil {
		return err
	}
	if j.head.add(s) {
		j.waiting = append(j.waiting, s)
		j.giveUpOldest()
	}
	return nil
}

// refusal says why nothing can be written.
func (j *Journal) refusal() error {
	if j.write == nil {
		return errors.New("it was opened for reading alone")
	}
	return ErrClosed
}

// idOf returns the number of a probe, a new one for a name not seen before.
func (j *Journal) idOf(name string) (uint16, error) {
	if id, known := j.ids[name]; known {
		return id, nil
	}
	if len(j.names) > math.MaxUint16 {
		return 0, fmt.Errorf("record %s in journal %s: it has %d probes already; begin a new journal",
			name, j.path, math.MaxUint16)
	}
	id := uint16(len(j.names))
	j.names = append(j.names, name)
	j.ids[name] = id
	return id, nil
}

// giveUpOldest keeps the readings that wait within bounds. The newest are worth more: the outlook of
// a running cure is folded from them.
func (j *Journal) giveUpOldest() {
	if len(j.waiting) <= j.opts.MaxWaiting {
		return
	}
	oldest := j.waiting[0]
	j.head.remove(oldest)
	j.waiting = j.waiting[1:]
	j.begin++
	j.lost++
	if bits.OnesCount64(j.lost) == 1 { // at 1, 2, 4, 8 and so on, not each time
		j.opts.Log.Error("the record cannot be written and too many readings wait; the oldest are given up",
			"path", j.path, "lost", j.lost, "probe", j.names[oldest.probe])
	}
}

// Waiting returns how many readings are in memory and not safe yet.
func (j *Journal) Waiting() int {
	j.mu.RLock()
	defer j.mu.RUnlock()
	return len(j.waiting)
}

// Lost returns how many readings were given up since the journal was opened, because more than
// [Options.MaxWaiting] waited.
func (j *Journal) Lost() uint64 {
	j.mu.RLock()
	defer j.mu.RUnlock()
	return j.lost
}
