package journal

import (
	"cmp"
	"slices"
)

// head mirrors the tail of the file in memory, with the samples that wait for a flush: by probe, each
// rising in time.
type head [][]sample

func byInstant(s sample, at int64) int { return cmp.Compare(s.at, at) }

// add puts a sample in its place and reports whether its instant was free.
func (h *head) add(s sample) bool {
	for int(s.probe) >= len(*h) {
		*h = append(*h, nil)
	}
	of := (*h)[s.probe]
	if n := len(of); n == 0 || of[n-1].at < s.at {
		(*h)[s.probe] = append(of, s)
		return true
	}
	i, taken := slices.BinarySearchFunc(of, s.at, byInstant)
	if taken {
		return false
	}
	(*h)[s.probe] = slices.Insert(of, i, s)
	return true
}

// remove takes out one sample.
func (h head) remove(s sample) {
	of := h[s.probe]
	i, found := slices.BinarySearchFunc(of, s.at, byInstant)
	switch {
	case !found:
	case i == 0:
		h[s.probe] = of[1:]
	default:
		h[s.probe] = slices.Delete(of, i, i+1)
	}
}

// removeAll takes out samples, rising in time within each probe. Those that stay move to new memory,
// so that what was kept for a busy hour is given back.
func (h head) removeAll(gone []sample) {
	leaving := make(map[uint16][]sample)
	for _, s := range gone {
		leaving[s.probe] = append(leaving[s.probe], s)
	}
	for probe, out := range leaving {
		var stay []sample
		for _, s := range h[probe] {
			if len(out) > 0 && out[0].at == s.at {
				out = out[1:]
				continue
			}
			stay = append(stay, s)
		}
		h[probe] = stay
	}
}

// within returns the part of samples, rising in time, from lo to before hi, in ms.
func within(samples []sample, lo, hi int64) []sample {
	i, _ := slices.BinarySearchFunc(samples, lo, byInstant)
	n, _ := slices.BinarySearchFunc(samples, hi, byInstant)
	return samples[min(i, n):n]
}

// outside returns the samples before lo and from hi on, in ms, rising in time within each probe.
func (h head) outside(lo, hi int64) []sample {
	var out []sample
	for _, of := range h {
		out = append(out, within(of, 0, lo)...)
		out = append(out, within(of, hi, endMS)...)
	}
	return out
}

// newest returns the latest instant in ms, or -1.
func (h head) newest() int64 {
	at := int64(-1)
	for _, of := range h {
		if n := len(of); n > 0 {
			at = max(at, of[n-1].at)
		}
	}
	return at
}
