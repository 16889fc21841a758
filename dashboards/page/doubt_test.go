package page

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/model/doubt"
)

func TestChances(t *testing.T) {
	for _, row := range rowsOf(t, "chances.csv") {
		p, err := strconv.ParseFloat(row["p"], 64)
		require.NoError(t, err)
		require.Equal(t, row["words"], plain(chance(p)), "%s: %s", row["p"], row["source"])
	}
}

// The page knows every verdict by name.
func TestVerdictsHaveTheirStamps(t *testing.T) {
	for verdict, want := range map[doubt.Verdict]string{
		doubt.CannotSay: "cannot say yet", doubt.Wait: "wait", doubt.Inhibited: "the surface inhibits", doubt.BadBatch: "the batch is bad", doubt.Fine: "fine so far",
	} {
		v := cannedVoice().doubt(&model.Doubt{Verdict: verdict.String()})
		require.Equal(t, want, v.Word)
		require.Equal(t, verdict != doubt.Wait && verdict != doubt.Fine, v.Pressing)
	}
	require.Nil(t, cannedVoice().doubt(nil))
}

// What the stamp says is not said twice, and nothing else is left out.
func TestFoundInWords(t *testing.T) {
	for want, d := range map[string]*model.Doubt{
		"Cup firm, patch tacky at 2.1 times its time, mold surface spoiled.": inhibited(),
		"Cup tacky before its earliest time.":                                waiting(),
		"Patch tacky at 1.5 times its time: the surface is in doubt.":        unsettled(),
		"Cup firm, patch firm, mold firm: nothing speaks against it.":        fineSoFar(),
		"An earlier patch failed on this surface, and no firm edge clears it.": {Verdict: doubt.CannotSay.String(),
			Says: "an earlier patch failed on this surface, and no firm edge clears it."},
	} {
		require.Equal(t, want, cannedVoice().doubt(d).Found)
	}
}

func TestNextLeavesOutWhatIsFoundBelow(t *testing.T) {
	m := poisoned()
	require.Equal(t, "Do not demold or pour more.", nextWords(&m))
	m.Next += "."
	require.Equal(t, "Do not demold or pour more.", nextWords(&m))
	m.Next = "Let it cure."
	require.Equal(t, "Let it cure.", nextWords(&m))
	m = curing()
	m.Doubt = nil
	require.Equal(t, "Let it cure.", nextWords(&m))
}

// The next touch is told no earlier than it is due, and not at all where its time is not known.
func TestNextTouchInWords(t *testing.T) {
	d := waiting()
	require.Equal(t, "Fri 02:35, in 7 h 3 min", plain(cannedVoice().doubt(d).NextWhen))
	require.Empty(t, cannedVoice().doubt(unsettled()).NextWhen)
	d.NextAt = thursday().Add(-time.Minute)
	require.Empty(t, cannedVoice().doubt(d).NextWhen)
}

// Whatever the probabilities, each is told once, and the strip is as long as they are.
func TestOddsAreToldOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p [5]float64
		sum := 0.0
		for i := range p {
			p[i] = rapid.Float64Range(0, 1).Draw(t, "weight") + 1e-9
			sum += p[i]
		}
		v := cannedVoice().doubt(&model.Doubt{NothingWrong: p[0] / sum, SurfaceInhibits: p[1] / sum, BatchBad: p[2] / sum, BothWrong: p[3] / sum, OnlyCup: p[4] / sum})
		all := v.Hardly
		for _, o := range v.Odds {
			all += " " + o.Name
		}
		for _, name := range []string{"nothing wrong", "the surface", "the batch", "both", "only the cup"} {
			require.Equal(t, 1, strings.Count(all, name), name)
		}
		require.NotEmpty(t, v.Strip)
		last := v.Strip[len(v.Strip)-1]
		require.InDelta(t, stripWidth, last.X+last.W, 5*thinnest)
		for i, s := range v.Strip[1:] {
			require.GreaterOrEqual(t, s.X+0.11, v.Strip[i].X+v.Strip[i].W)
		}
	})
}

// Color never tells alone: whatever is wrong has a pattern of its own, and a line of words.
func TestTheStripIsToldInWords(t *testing.T) {
	page := plain(get(t, New(cannedOptions(plagued())), "/molds/tablet").Body.String())
	for _, o := range oddsOf(unsettled()) {
		if o.Pattern != "" {
			require.Contains(t, page, `<pattern id="`+o.Pattern+`"`)
		}
	}
	for _, line := range []string{"<b>nothing wrong</b>: unlikely, 18 in 100", "<b>the surface</b>: about as likely as not, 51 in 100", "<b>the batch</b>: unlikely, 28 in 100",
		"<b>both</b>: very unlikely, 3 in 100", "Exceptionally unlikely: only the cup."} {
		require.Contains(t, page, line)
	}
}

func TestDoubtOnThePages(t *testing.T) {
	h := New(cannedOptions(plagued()))
	first := plain(get(t, h, "/").Body.String())
	for _, said := range []string{">the surface inhibits<", ">the batch is bad<", ">cannot say yet<"} {
		require.Contains(t, first, said)
	}
	require.NotContains(t, first, ">wait<", "what can wait stays on its own page")
	require.NotContains(t, first, "Late, inhibited")

	mold := plain(get(t, h, "/molds/volute").Body.String())
	at := -1
	for _, said := range []string{"Do not demold or pour more.", "Late, inhibited, or a bad batch?", ">the surface inhibits<", "Cup firm, patch tacky", "Clean off, seal, release, patch again.",
		doubt.CautionCleaning, "How sure is that?", "Seal, release, patch again", "Another material", "In two steps, by a pattern of resin", doubt.CautionIsocyanate, "What did you do?"} {
		next := strings.Index(mold, said)
		require.Greater(t, next, at, said)
		at = next
	}
	require.NotContains(t, mold, "Still tacky: cold, or inhibited?", "the rule of thumb gives way to the answer")
	require.Contains(t, get(t, h, "/molds/bracket").Body.String(), "Still tacky: cold, or inhibited?")
	require.NotContains(t, get(t, h, "/molds/rosette").Body.String(), "The ways on")
}

func TestDoubtInJSON(t *testing.T) {
	molds := wireOf(plagued()).Molds
	got := molds[4].Doubt
	require.Equal(t, "surface inhibits", got.Verdict)
	require.Equal(t, inhibited().Says, got.Says)
	require.Len(t, got.Routes, 3)
	require.Equal(t, doubt.Routes()[2].Cautions, got.Routes[2].Cautions)
	require.InDelta(t, 0.9616, *got.Odds.SurfaceInhibits, 1e-12)
	require.Nil(t, got.NextAt)
	require.Equal(t, hm(1, 2, 33), *molds[1].Doubt.NextAt)
	require.NotNil(t, molds[1].Doubt.Cautions, "a list, though empty")
	require.Nil(t, molds[0].Doubt)
}
