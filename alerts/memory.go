package alerts

import "time"

// memory is what a condition has seen of each instance over a span that ends with the newest snapshot, both
// ends included, as a Prometheus range holds samples. It begins anew with the daemon.
type memory[T any] struct {
	span time.Duration
	seen map[string][]seen[T]
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

// forget drops what lies before the span. An instance that was not seen within it is dropped whole.
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
