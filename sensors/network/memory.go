package network

import (
	"math"
	"time"
)

const rememberFor = 10 * time.Minute

// memory knows the last readings of a probe again. A reading is known by its sequence and time together
// with its values: a probe that starts anew counts from 0 again, and its readings must not be lost.
// Without sequence and time no reading is ever known.
type memory struct {
	most int // how many readings are remembered
	ring []seen
	next int // where the oldest is, once there are so many
}

type seen struct {
	identity
	at int64 // when it came, s
}

// identity compares by bits, so that a missing value equals a missing value.
type identity struct {
	own, sequence, temp, humidity uint64
	counted                       bool
}

func identityOf(a arrival) (id identity, known bool) {
	id = identity{sequence: a.sequence, counted: a.counted,
		temp: math.Float64bits(a.sample.TempC), humidity: math.Float64bits(a.sample.Humidity)}
	if !a.sample.At.IsZero() {
		id.own = uint64(a.sample.At.UnixMilli())
	}
	return id, a.counted || id.own != 0
}

// has reports that a reading came before.
func (m *memory) has(now time.Time, a arrival) bool {
	id, known := identityOf(a)
	if !known {
		return false
	}
	from := now.Add(-rememberFor).Unix()
	for _, s := range m.ring {
		if s.identity == id && s.at > from {
			return true
		}
	}
	return false
}

// add remembers a reading in place of the oldest.
func (m *memory) add(now time.Time, a arrival) {
	id, known := identityOf(a)
	switch {
	case !known:
	case len(m.ring) < m.most:
		m.ring = append(m.ring, seen{id, now.Unix()})
	default:
		m.ring[m.next] = seen{id, now.Unix()}
		m.next = (m.next + 1) % m.most
	}
}
