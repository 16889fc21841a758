package model

import (
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/material"
)

// prepOf reads a prep as the tables write it.
func prepOf(text string) []string {
	if text == "" {
		return nil
	}
	return strings.Split(text, ",")
}

func patchOn(name, face string, prep ...string) Mark {
	return Mark{Kind: PatchOn, Mold: name, At: begin(), Place: "bench", Material: "platinum-slow", Face: face, Prep: prep}
}

// marked gives a shop marks with numbers of their own.
func marked(t require.TestingT, s *Shop, marks ...Mark) {
	for _, m := range marks {
		m.ID = int64(len(s.marks) + 1)
		require.NoError(t, s.Mark(m))
	}
}

// touch reads "patch tacky 2": what was touched, what was found, and after how many hours.
func touch(t *testing.T, name, text string) Mark {
	words := strings.Fields(text)
	hours, err := strconv.ParseFloat(words[len(words)-1], 64)
	require.NoError(t, err)
	return Mark{
		Kind: Checked, Mold: name, Of: Subject(words[0]), Found: Finding(strings.Join(words[1:len(words)-1], " ")),
		At: begin().Add(time.Duration(hours * float64(time.Hour))),
	}
}

func TestStatesOfAPatch(t *testing.T) {
	for _, row := range records(t, "testdata/patchstates.csv") {
		t.Run(row["case"], func(t *testing.T) {
			s := bench(t)
			steady(s, begin().Add(-2*time.Hour), 2*time.Hour, number(t, row["temp_c"]))
			marked(t, s, patchOn("p1", "wet plaster"))
			last := steady(s, begin(), time.Duration(number(t, row["now_h"])*float64(time.Hour)), number(t, row["temp_c"]))
			for _, text := range strings.Split(row["touches"], ";") {
				if text != "" {
					marked(t, s, touch(t, "p1", text))
				}
			}
			o := s.Outlook(last)
			require.Empty(t, o.Molds, "a patch is no mold")
			require.Len(t, o.Patches, 1)
			p := o.Patches[0]
			require.Equal(t, PatchState(row["state"]), p.State, "%s %+v", p.Says, p.Cure)
			require.NotEmpty(t, p.Says)
			require.Equal(t, p.State == PatchPassed, p.Cold.Known)
			require.Len(t, o.Trials, 1)
			require.Equal(t, []string{"p1"}, o.Trials[0].Patches)
		})
	}
}

// When to touch a patch at room temperature: nine in ten are firm at its latest time, which lies after the
// 4 h that are common practice for the material (no source), and one in ten at its earliest, before them.
func TestWhenToTouchAPatch(t *testing.T) {
	s := bench(t)
	steady(s, begin().Add(-5*24*time.Hour), 5*24*time.Hour, 22.5)
	marked(t, s, patchOn("p1", "wet plaster"))
	p := s.Outlook(steady(s, begin(), time.Hour, 22.5)).Patches[0]
	require.Equal(t, PatchCuring, p.State)
	require.True(t, p.TouchFrom().After(begin().Add(4*time.Hour)), p.TouchFrom())
	require.True(t, p.TouchFrom().Before(begin().Add(6*time.Hour)), p.TouchFrom())
	require.True(t, p.Cure.Band.Earliest.Before(begin().Add(4*time.Hour)), p.Cure.Band)
	require.WithinDuration(t, begin().Add(4*time.Hour), p.Cure.Band.Likely, 5*time.Minute)
}

// Two hours at 20 °C, then two hours in which it falls evenly to 16 °C: the mean is (20+20+18+18)/4 = 19 °C
// and the lowest 16 °C; worked by hand.
func TestProvenColdByHand(t *testing.T) {
	s := bench(t)
	steady(s, begin().Add(-time.Hour), 3*time.Hour, 20)
	marked(t, s, patchOn("p1", "wet plaster"))
	at := begin().Add(2 * time.Hour)
	for i := 1; i <= 150; i++ {
		s.Reading(airReading("air", at.Add(time.Duration(i)*time.Minute), 20-4*float64(i)/120, 0.5))
	}
	marked(t, s, touch(t, "p1", "patch firm 4"))
	p := s.Outlook(at.Add(150 * time.Minute)).Patches[0]
	require.Equal(t, PatchPassed, p.State, p.Says)
	require.InDelta(t, 19, p.Cold.MeanC, 1e-6)
	require.InDelta(t, 16, p.Cold.LowestC, 1e-9)
	require.Equal(t, begin().Add(4*time.Hour), p.ReadAt)
}

// An hour of four without readings counts as 5 K warmer: (20+20+25+20)/4 = 21.25 °C, worked by hand. Seven
// hours leave it open.
func TestGapProvesNoCold(t *testing.T) {
	cold := func(hole, firm time.Duration) Cold {
		s := bench(t)
		steady(s, begin().Add(-time.Hour), 3*time.Hour, 20)
		marked(t, s, patchOn("p1", "wet plaster"))
		last := steady(s, begin().Add(2*time.Hour+hole), 20*time.Hour, 20)
		marked(t, s, Mark{Kind: Checked, Mold: "p1", Of: Patch, Found: Firm, At: begin().Add(firm)})
		return s.Outlook(last).Patches[0].Cold
	}
	short := cold(time.Hour, 4*time.Hour)
	require.True(t, short.Known)
	require.InDelta(t, 21.25, short.MeanC, 1e-9)
	require.InDelta(t, 20, short.LowestC, 1e-9)
	require.Equal(t, Cold{}, cold(7*time.Hour, 12*time.Hour))
}

func TestWhatAPatchVouchesFor(t *testing.T) {
	for _, row := range records(t, "testdata/vouching.csv") {
		t.Run(row["case"], func(t *testing.T) {
			s := bench(t)
			m := patched(t, s, row)
			var codes []string
			for _, r := range m.Pour.Reasons {
				if strings.HasPrefix(string(r.Code), "patch-") || r.Code == ReasonRisky {
					codes = append(codes, string(r.Code))
					require.Equal(t, r.Code != ReasonPatchFailed, r.Caution)
				}
				if r.Code == ReasonPatchColder || r.Code == ReasonPatchOld || r.Code == ReasonPatchLot {
					require.Contains(t, r.Text, "et a new patch")
				}
			}
			slices.Sort(codes)
			require.Equal(t, row["codes"], strings.Join(codes, " "))
			require.Equal(t, row["codes"] == "" && row["material"] != "tin-silicone", m.Vouch != nil)
			if slices.Contains(codes, string(ReasonPatchFailed)) {
				require.Equal(t, NotFit, m.Pour.Verdict)
			}
		})
	}
}

// patched sets and reads a patch, and some days later begins and coats a mold, as a row of the table says.
func patched(t *testing.T, s *Shop, row map[string]string) MoldOutlook {
	steady(s, begin().Add(-time.Hour), 26*time.Hour, number(t, row["patch_c"]))
	marked(t, s, Mark{
		Kind: PatchOn, Mold: "p1", At: begin(), Place: "bench", Material: row["patch_material"], Face: row["patch_face"],
		Prep: prepOf(row["patch_prep"]), Batch: Batch{Lot: row["patch_lot"]},
	}, touch(t, "p1", "cup firm 24"), touch(t, "p1", "patch "+row["found"]+" 24"))
	now := begin().Add(24*time.Hour + time.Duration(number(t, row["days"])*24)*time.Hour)
	steady(s, now.Add(-3*time.Hour), 3*time.Hour, number(t, row["mold_c"]))
	marked(t, s, Mark{Kind: Begun, Mold: "frieze", At: now.Add(-3 * time.Hour), Place: "bench", Material: row["material"], Face: row["face"]})
	for i, name := range prepOf(row["prep"]) {
		kind := CoatOn
		if strings.HasPrefix(name, "wax") {
			kind = ReleaseOn
		}
		marked(t, s, Mark{Kind: kind, Mold: "frieze", At: now.Add(time.Duration(i-100) * time.Minute), Material: name})
	}
	if row["lot"] != "" {
		marked(t, s, Mark{Kind: Mixed, Mold: "frieze", At: now.Add(-time.Minute), Batch: Batch{Lot: row["lot"]}})
	}
	return s.Outlook(now).Molds[0]
}

// Air that is warm enough now but will not be through the cure is told as well.
func TestColdToComeIsNotVouchedFor(t *testing.T) {
	s := bench(t)
	evening := begin().Add(-15 * time.Hour) // 17 o'clock: still warm
	for at := begin().Add(-15 * 24 * time.Hour); !at.After(evening); at = at.Add(5 * time.Minute) {
		s.Reading(airReading("air", at, 17+3*swing(float64(at.Hour())), 0.5)) // 20 °C by day, 14 °C by night
	}
	p := patchOn("p1", "wet plaster")
	p.At = begin().Add(-47 * time.Hour) // 9 in the morning: in the warm until it is firm
	marked(t, s, p, Mark{Kind: Checked, Mold: "p1", Of: Patch, Found: Firm, At: p.At.Add(8 * time.Hour)},
		Mark{Kind: Begun, Mold: "frieze", At: evening.Add(-time.Hour), Place: "bench", Material: "platinum-slow", Face: "wet plaster"})
	m := s.Outlook(evening).Molds[0]
	require.Nil(t, m.Vouch)
	texts := ""
	for _, r := range m.Pour.Reasons {
		if r.Code == ReasonPatchColder {
			texts += r.Text
		}
	}
	require.Contains(t, texts, "it will be colder here before a pour has cured")
}

// A patch that failed is answered by one that passed after it: they disagree, and the maker is told.
func TestPatchesThatDisagree(t *testing.T) {
	s := bench(t)
	steady(s, begin().Add(-time.Hour), 40*time.Hour, 20)
	marked(t, s, patchOn("p1", "wet plaster"), touch(t, "p1", "cup firm 12"), touch(t, "p1", "patch tacky 12"))
	second := patchOn("p2", "Wet plaster")
	second.At = begin().Add(13 * time.Hour)
	marked(t, s, second, touch(t, "p2", "patch firm 25"),
		Mark{Kind: Begun, Mold: "frieze", At: begin().Add(26 * time.Hour), Place: "bench", Material: "platinum-slow", Face: "wet plaster"})
	o := s.Outlook(begin().Add(39 * time.Hour))
	require.Equal(t, TrialDisagree, o.Trials[0].Result)
	require.Equal(t, []string{"p2", "p1"}, o.Trials[0].Patches)
	require.Equal(t, "Wet plaster", o.Trials[0].Face, "as typed last")
	require.Equal(t, "p2", o.Molds[0].Vouch.Patch)
	codes := []ReasonCode{}
	for _, r := range o.Molds[0].Pour.Reasons {
		codes = append(codes, r.Code)
	}
	require.Contains(t, codes, ReasonPatchDisagree)
	require.NotContains(t, codes, ReasonPatchFailed)
}

// The older way stays: a patch of the same batch beside the mold, touched as part of the mold.
func TestPatchBesideTheMoldVouches(t *testing.T) {
	s := bench(t)
	last := steady(s, begin().Add(-time.Hour), 30*time.Hour, 20)
	marked(t, s,
		Mark{Kind: Begun, Mold: "frieze", At: begin(), Place: "bench", Material: "platinum-slow"},
		Mark{Kind: CoatOn, Mold: "frieze", At: begin().Add(time.Hour), Material: "lacquer"},
		touch(t, "frieze", "patch firm 24"))
	m := s.Outlook(last).Molds[0]
	require.Equal(t, &Vouch{At: begin().Add(24 * time.Hour)}, m.Vouch)
	marked(t, s, Mark{Kind: CoatOn, Mold: "frieze", At: begin().Add(25 * time.Hour), Material: "shellac"})
	require.Nil(t, s.Outlook(last).Molds[0].Vouch, "what went on since was not tested")
	marked(t, s, touch(t, "frieze", "patch surface spoiled 26"))
	require.Equal(t, NotFit, s.Outlook(last).Molds[0].Pour.Verdict)
}

// What patches found reaches the weighing of what is touched on the mold later.
func TestPatchesReachTheJudgement(t *testing.T) {
	inhibits := func(found string) float64 {
		s := bench(t)
		steady(s, begin().Add(-time.Hour), 48*time.Hour, 22.5)
		if found != "" {
			marked(t, s, patchOn("p1", "wet plaster"), touch(t, "p1", "cup firm 12"), touch(t, "p1", "patch "+found+" 12"))
		}
		at := begin().Add(20 * time.Hour)
		marked(t, s, Mark{Kind: Begun, Mold: "frieze", At: at, Place: "bench", Material: "platinum-slow", Face: "wet plaster"},
			Mark{Kind: Mixed, Mold: "frieze", At: at}, Mark{Kind: Poured, Mold: "frieze", At: at},
			Mark{Kind: Checked, Mold: "frieze", Of: Cup, Found: Tacky, At: at.Add(2 * time.Hour)})
		return s.Outlook(begin().Add(23 * time.Hour)).Molds[0].Doubt.SurfaceInhibits
	}
	require.Less(t, inhibits("firm"), inhibits(""))
	require.Greater(t, inhibits("tacky"), 0.5)
}

func TestCupOfAPatchTeaches(t *testing.T) {
	s := bench(t)
	of, err := s.setup.Shelf.Find("platinum-slow")
	require.NoError(t, err)
	steady(s, begin().Add(-time.Hour), 20*time.Hour, 22.5)
	marked(t, s, patchOn("p1", "wet plaster"), touch(t, "p1", "cup tacky 4.8"), touch(t, "p1", "cup firm 5.2"), touch(t, "p1", "patch tacky 12"))
	e, _ := s.learn(of, 0, begin().Add(24*time.Hour).UnixMilli())
	require.Greater(t, e.Ref, of.Demold.Ref, "the cup cured, and teaches; that the surface failed changes nothing")
	second := func(factor float64, cup string) material.Event {
		s := bench(t)
		steady(s, begin().Add(-time.Hour), 20*time.Hour, 22.5)
		slow := patchOn("p2", "wet plaster")
		slow.Batch = Batch{Additives: []Portion{{Name: "retarder", Grams: 2, Factor: factor}}}
		marked(t, s, slow, touch(t, "p2", cup))
		after, _ := s.learn(of, 0, begin().Add(24*time.Hour).UnixMilli())
		return after
	}
	require.InDelta(t, second(1, "cup firm 6").Ref, second(1.5, "cup firm 9").Ref, float64(time.Second), "a retarded cup teaches with the factor divided out")
}

// A coat's place in the order of a prep matters, and so does how many there are.
func TestPrepsAreComparedByRuns(t *testing.T) {
	for _, c := range []struct {
		prep, than string
		want       bool
	}{
		{"", "", true}, {"a", "", false}, {"", "a", false}, {"a", "a", true}, {"a,a", "a", true}, {"a", "a,a", false},
		{"a,b", "b,a", false}, {"a,a,b", "a,b", true}, {"a,b,a", "a,b", false}, {"a,b,a", "a,b,a", true},
	} {
		require.Equal(t, c.want, atLeast(prepOf(c.prep), prepOf(c.than)), "%q of %q", c.prep, c.than)
	}
}
