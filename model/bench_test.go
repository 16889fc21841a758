package model

import (
	"fmt"
	"testing"
	"time"
)

// busy is a shop with three weeks of history and n molds in cure.
func busy(b *testing.B, n int, build Build) (*Shop, time.Time) {
	s := bench(b)
	at := begin().Add(-21 * 24 * time.Hour)
	for ; at.Before(begin()); at = at.Add(time.Minute) {
		h := float64(at.Hour()) + float64(at.Minute())/60
		s.Reading(airReading("air", at, 15+4*swing(h), 0.6))
		s.Reading(airReading("skin", at, 14+3*swing(h), 0.6))
	}
	id := int64(0)
	for i := range n {
		for _, m := range []Mark{
			{Kind: Begun, Place: "bench", Material: "tin-silicone", Build: build},
			{Kind: Mixed}, {Kind: Poured},
		} {
			id++
			m.ID, m.Mold, m.At = id, fmt.Sprintf("mold-%d", i), begin().Add(-time.Duration(600+i%600)*time.Second)
			if err := s.Mark(m); err != nil {
				b.Fatal(err)
			}
		}
	}
	return s, at
}

func swing(hour float64) float64 {
	if hour > 8 && hour < 18 {
		return 1
	}
	return -1
}

func BenchmarkReading(b *testing.B) {
	for _, c := range []struct {
		name  string
		build Build
	}{{"air", Build{}}, {"heat", Build{Pattern: "plaster", PatternMM: 50, RubberMM: 50}}} {
		b.Run(c.name, func(b *testing.B) {
			s, at := busy(b, 1, c.build)
			b.ReportAllocs()
			for i := range b.N {
				s.Reading(airReading("air", at.Add(time.Duration(i)*10*time.Second), 18, 0.5))
			}
		})
	}
}

func BenchmarkOutlook(b *testing.B) {
	for _, n := range []int{1, 200, 2000} {
		b.Run(fmt.Sprintf("air/%d", n), func(b *testing.B) { benchOutlook(b, n, Build{}) })
	}
	for _, n := range []int{1, 200, 2000} {
		b.Run(fmt.Sprintf("heat/%d", n), func(b *testing.B) {
			benchOutlook(b, n, Build{Pattern: "plaster", PatternMM: 50, RubberMM: 50})
		})
	}
}

func benchOutlook(b *testing.B, n int, build Build) {
	s, at := busy(b, n, build)
	s.Outlook(at)
	b.ReportAllocs()
	for b.Loop() {
		s.Outlook(at)
	}
}

// A year of readings ten seconds apart, into one mold that cures all the time.
func BenchmarkYear(b *testing.B) {
	const year = 365 * 24 * 360
	b.ReportAllocs()
	for b.Loop() {
		s := bench(b)
		markWork(b, s, begin(), stepMarks("cure")...)
		at := begin()
		for i := range year {
			s.Reading(airReading("air", at.Add(time.Duration(i)*10*time.Second), 15+float64(i%8640)/4000, 0.5))
			if i%1000 == 0 {
				s.Forget()
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/year, "ns/reading")
}

// A shop that has read a hundred patches in the last days.
func BenchmarkOutlookPatches(b *testing.B) {
	s, at := busy(b, 1, Build{})
	for i := range 100 {
		p := patchOn(fmt.Sprintf("p%d", i), "wet plaster", "lacquer")
		p.At = begin().Add(-time.Duration(20+i/4) * time.Hour)
		marked(b, s, p,
			Mark{Kind: Checked, Mold: p.Mold, Of: Cup, Found: Firm, At: p.At.Add(15 * time.Hour)},
			Mark{Kind: Checked, Mold: p.Mold, Of: Patch, Found: []Finding{Firm, Tacky}[i%2], At: p.At.Add(15 * time.Hour)})
	}
	b.ReportAllocs()
	for b.Loop() {
		s.Outlook(at)
	}
}

// A start: the marks of two hundred molds, then the four weeks of eight probes that forecasts learn from.
func BenchmarkRefold(b *testing.B) {
	const probes, rounds = 8, 28 * 24 * 360
	setup := Setup{}
	for i := range probes {
		place := fmt.Sprintf("place-%d", i)
		setup.Places = append(setup.Places, place)
		setup.Probes = append(setup.Probes, Probe{Name: place, Place: place, Every: 10 * time.Second})
	}
	b.ReportAllocs()
	for b.Loop() {
		s, err := NewShop(setup)
		if err != nil {
			b.Fatal(err)
		}
		for i := range 600 {
			m := Mark{ID: int64(i + 1), Mold: fmt.Sprintf("mold-%d", i/3), At: begin().Add(-time.Duration(i/3%180) * time.Minute)}
			m.Kind = []MarkKind{Begun, Mixed, Poured}[i%3]
			if m.Kind == Begun {
				m.Place, m.Material = setup.Places[i/3%probes], "tin-silicone"
			}
			if err := s.Mark(m); err != nil {
				b.Fatal(err)
			}
		}
		for i := range rounds {
			at := begin().Add(time.Duration(i-rounds) * 10 * time.Second)
			for _, p := range setup.Probes {
				s.Reading(airReading(p.Name, at, 15+4*swing(float64(at.Hour())), 0.5))
			}
			if i%125 == 0 {
				s.Forget()
			}
		}
		s.Outlook(begin())
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(probes*rounds), "ns/reading")
}

// A mark that is corrected two days after: its mold is folded again from the readings at hand.
func BenchmarkLateMark(b *testing.B) {
	s, at := busy(b, 1, Build{})
	for range 2 * roundsADay {
		at = at.Add(10 * time.Second)
		s.Reading(airReading("air", at, 18, 0.5))
	}
	marks := s.molds["mold-0"].marks
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.newMold(marks); err != nil {
			b.Fatal(err)
		}
	}
}

const roundsADay = 8640
