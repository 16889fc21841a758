package plan

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyShop draws paths with levels, swings and drifts of their own, within the rubbers' window while warm.
func anyShop(t *rapid.T, level, swing float64) Sight {
	seed := rapid.Float64Range(0.1, 3).Draw(t, "seed")
	return shop(20, func(i, h int) float64 {
		x := float64(i)
		drift := 0.03 * float64(h) * math.Sin(seed*(x+1))
		return level + 1.5*math.Sin(seed*x*1.7) + drift + swing*math.Sin(2*math.Pi*(float64(h)-9)/24)
	}, materials()...)
}

func anyHours(t *rapid.T) Hours {
	from := rapid.IntRange(6, 11).Draw(t, "opens")
	return daily(from, from+rapid.IntRange(2, 12).Draw(t, "for"))
}

func anyCourse(t *rapid.T, layers bool) Course {
	texts := []string{"platinum-slow", "tin-silicone", "2 lacquer, wax-naphtha, platinum-slow", "water-borne, tin-silicone", "lacquer, resin, wax-naphtha, platinum-slow"}
	if layers {
		texts = append(texts, "2 platinum-slow", "lacquer, 3 platinum-slow", "wax-naphtha, 2 tin-silicone")
	}
	return parsed(t, rapid.SampledFrom(texts).Draw(t, "course"))
}

func anyRequest(t *rapid.T, layers bool) Request {
	s := anyShop(t, rapid.Float64Range(10, 24).Draw(t, "level"), rapid.Float64Range(0, 5).Draw(t, "swing"))
	s.At = s.At.Add(time.Duration(rapid.IntRange(0, 1800).Draw(t, "into the hour")) * time.Second)
	return Request{
		Sight: s, Course: anyCourse(t, layers), Hours: anyHours(t), Now: s.At.Add(time.Duration(rapid.IntRange(0, 600).Draw(t, "late")) * time.Second),
		By: wednesday().Add(time.Duration(rapid.IntRange(12, 71).Draw(t, "by")) * time.Hour),
	}
}

// Every action begins and ends while somebody is there, and never before it is ready.
func TestActionsLieInWorkingHours(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyRequest(t, true)
		acts, err := r.Sight.acts(r.Course)
		require.NoError(t, err)
		w := newWalker(r, acts)
		begin := rapid.Float64Range(0, end).Draw(t, "begin")
		for i := range r.Sight.Paths.N {
			stamps := make([]stamp, len(acts))
			done, at, stop := w.walk(i, begin, stamps)
			for k := range stamps[:at] {
				s := stamps[k]
				require.GreaterOrEqual(t, s.begin, s.ready-1e-6)
				require.True(t, r.Hours.Open(w.at(s.begin), time.UTC), "%s at %s", acts[k].title, w.at(s.begin))
				hands, held := w.allowed(i, &acts[k], s.begin)
				require.Equal(t, NoHold, held)
				require.True(t, r.Hours.Open(w.at(s.begin+hands), time.UTC), "%s ends at %s", acts[k].title, w.at(s.begin+hands))
				require.Zero(t, w.at(s.begin).Unix()%300, "whole five minutes")
			}
			if stop == NoHold {
				require.True(t, r.Hours.Open(w.at(done), time.UTC))
			}
		}
		p := make1(t, r)
		for _, a := range p.Actions {
			for _, at := range []time.Time{a.Begin.Early, a.Begin.Likely, a.Begin.Late} {
				require.True(t, at.IsZero() || r.Hours.Open(at, time.UTC))
			}
		}
	})
}

// The latest start holds on nine paths of ten when it is walked forward, and the next chance does not.
func TestLatestStartHoldsAndTheNextDoesNot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyRequest(t, true)
		p := make1(t, r)
		if p.Verdict != Holds {
			r.Begin = p.Begin
			if !p.Begin.IsZero() && r.Begin.Before(r.By) && !r.Begin.Before(r.Now) {
				require.Less(t, make1(t, r).Share, 0.9)
			}
			return
		}
		require.GreaterOrEqual(t, p.Share, 0.9)
		require.False(t, p.Done.Late.After(r.By))
		r.Begin = p.Latest
		require.Equal(t, p.Share, make1(t, r).Share)
		for r.Begin = p.Latest.Add(5 * time.Minute); !r.Hours.Open(r.Begin, time.UTC) || !r.Hours.Open(r.Begin.Add(time.Minute), time.UTC); {
			r.Begin = r.Begin.Add(5 * time.Minute)
		}
		if r.Begin.Before(r.By) && r.since(r.Begin) <= end {
			require.Less(t, make1(t, r).Share, 0.9, "begun at %s", r.Begin)
		}
	})
}

func TestLaterDeadlineIsNoEarlierStart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyRequest(t, true)
		before := make1(t, r)
		r.By = r.By.Add(time.Duration(rapid.IntRange(5, 600).Draw(t, "minutes later")) * time.Minute)
		after := make1(t, r)
		if after.Verdict == CannotSay {
			return
		}
		require.False(t, after.Latest.Before(before.Latest), "%s, then %s", before.Latest, after.Latest)
		require.Equal(t, before.Soonest, after.Soonest)
	})
}

// As long as it does not get too warm to pour, and nothing waits for layers, warmth only helps.
func TestWarmerShopIsNoEarlierStart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyRequest(t, false)
		before := make1(t, r)
		warmest := 0.0
		for _, c := range r.Sight.Paths.TempC {
			warmest = max(warmest, c)
		}
		if warmest > 31 {
			return
		}
		warmer := rapid.Float64Range(0, 31-warmest).Draw(t, "warmer")
		paths := *r.Sight.Paths
		paths.TempC = append([]float64(nil), paths.TempC...)
		for k := range paths.TempC {
			paths.TempC[k] += warmer
		}
		r.Sight.Paths = &paths
		after := make1(t, r)
		require.False(t, after.Latest.Before(before.Latest), "%s, then %s", before.Latest, after.Latest)
		r.Heat = &Heat{TempC: rapid.Float64Range(5, 31).Draw(t, "heat")}
		require.False(t, make1(t, r).Latest.Before(after.Latest), "heat")
	})
}

// A course parsed from its own words is the same course, and so are hours.
func TestWordsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Course{}
		for range rapid.IntRange(1, 6).Draw(t, "items") {
			c = append(c, Item{rapid.StringMatching(`[a-z][a-z-]{0,10}`).Draw(t, "material"), rapid.IntRange(1, 12).Draw(t, "times")})
		}
		require.Equal(t, c, parsed(t, c.String()))
		h := Hours{}
		for range rapid.IntRange(1, 3).Draw(t, "shifts") {
			s := Shift{From: time.Duration(rapid.IntRange(0, 700).Draw(t, "from")) * time.Minute, To: time.Duration(rapid.IntRange(701, 1440).Draw(t, "to")) * time.Minute}
			for s.Days == [7]bool{} {
				for d := range s.Days {
					s.Days[d] = rapid.Bool().Draw(t, "day")
				}
			}
			h = append(h, s)
		}
		again, err := ParseHours(h.String())
		require.NoError(t, err, h.String())
		require.Equal(t, h, again)
	})
}

func FuzzParseHours(f *testing.F) {
	for _, s := range []string{"mon-fri 08:00-17:00; sat 09:00-12:00", "daily 00:00-24:00", "fri-mon, wed 7:00-8:00", "mon 8-9", ";"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		h, err := ParseHours(s)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		again, err := ParseHours(h.String())
		require.NoError(t, err)
		require.Equal(t, h, again)
	})
}

func FuzzParseCourse(f *testing.F) {
	for _, s := range []string{"2 lacquer, wax-naphtha, 3 platinum-slow", "3x lacquer", ",", "0 wax"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseCourse(s)
		if err != nil {
			return
		}
		require.Equal(t, c, parsed(t, c.String()))
	})
}
