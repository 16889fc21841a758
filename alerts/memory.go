package alerts

import (
	"time"

	"pourward/model"
	"pourward/sensors"
)

// memory is what a condition has seen of each instance over a span that ends with the newest snapshot, both
// ends included, as a Prometheus range holds samples. It begins anew with the daemon.
type memory[T any] struct {
	span   time.Duration
	move   func(T, sensors.Shift) T // of what was seen, when the shop clock's labels are moved; nil: it holds no instants
	seen   map[string][]seen[T]
	shifts int // that were followed
}

type seen[T any] struct {
	at   time.Time
	what T
}

func newMemory[T any](span time.Duration) *memory[T] {
	return &memory[T]{span: span, seen: map[string][]seen[T]{}}
}

// note adds what is seen of an instance now, and returns all that was seen of it within the span, in order.
// Of one instant the last counts.
func (m *memory[T]) note(key string, now time.Time, what T) []seen[T] {
	all := m.seen[key]
	if n := len(all); n > 0 && all[n-1].at.Equal(now) {
		all = all[:n-1]
	}
	m.seen[key] = append(all, seen[T]{now, what})
	return m.seen[key]
}

// turn takes the next snapshot: it follows the labels of the shop clock, and drops what lies before the span. An
// instance that was not seen within it is dropped whole.
func (m *memory[T]) turn(s *model.Snapshot) {
	for _, shift := range s.Health.Shifts[m.shifts:] {
		m.follow(shift)
	}
	m.shifts = len(s.Health.Shifts)
	m.forget(s.Outlook.At)
}

func (m *memory[T]) follow(by sensors.Shift) {
	for _, all := range m.seen {
		for i := range all {
			all[i].at = by.Moved(all[i].at)
			if m.move != nil {
				all[i].what = m.move(all[i].what, by)
			}
		}
	}
}

func (m *memory[T]) forget(now time.Time) {
	for key, all := range m.seen {
		old := 0
		for old < len(all) && now.Sub(all[old].at) > m.span {
			old++
		}
		if old == len(all) {
			delete(m.seen, key)
		} else if old > 0 {
			m.seen[key] = all[old:]
		}
	}
}
