package main

import (
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// act is one run of the demo, with what it has told so far.
type act struct {
	*rehearsal
	notes
}

// play starts the demo as [demoFlags.run] does, on a stage in the bubble.
func play(t *testing.T, f demoFlags) *act {
	t.Helper()
	s, err := f.set(t.Context())
	require.NoError(t, err)
	a := &act{}
	o := f.options(s, &a.notes, io.Discard)
	o.tell = time.Minute // of the shop: enough for the story, and six times faster
	a.rehearsal = rehearse(t, o)
	return a
}

// followOn wants the phrases in the text, one after the other.
func followOn(t *testing.T, text string, phrases ...string) {
	t.Helper()
	rest := text
	for _, p := range phrases {
		_, after, found := strings.Cut(rest, p)
		require.True(t, found, "%q does not come where it should in\n%s", p, text)
		rest = after
	}
}

// The demo tells its whole story, once, though it is ended in the middle and started again. What a step
// may follow is the trade's: nothing goes over a coat that is not dry, a batch is poured within its working
// life, and the cup is touched before the mold comes off.
func TestDemo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := demoFlags{speed: 360, seed: 1, dir: t.TempDir()}

		day := play(t, f)
		within(t, 5*time.Minute, "the rubber is poured", func() bool { return day.has("frieze: poured") })
		require.NoError(t, day.end())
		followOn(t, day.String(),
			"  frieze: begun (platinum-slow)\n", "  frieze: coat on (lacquer)",
			"  ALERT PourwardCoatDry frieze coat-1: ", "  frieze: coat on (lacquer); dry likely ", "  ended PourwardCoatDry frieze coat-1: ",
			"  ALERT PourwardCoatDry frieze coat-2: ", "  frieze: release on (wax-naphtha); dry likely ", "  ended PourwardCoatDry frieze coat-2: ",
			"  ALERT PourwardReleaseDry frieze release: ", "  frieze: mixed; working life ends likely ", "  frieze: poured; demold likely ")
		require.NotContains(t, day.String(), "PourwardWorkingLifeEnding")

		night := play(t, f)
		begun := marksOf(night, demoMold)
		require.Len(t, begun, 6, "the marks of the day are there")
		require.WithinDuration(t, begun[5].At, night.Snapshot().Outlook.At, 10*time.Minute, "it goes on where it stopped")
		within(t, 5*time.Minute, "the mold is off", func() bool { return night.has("\nThe mold is off and the story has ended") })
		require.NoError(t, night.end())
		require.NotContains(t, night.String(), "coat on", "nothing is told twice")
		followOn(t, night.String(),
			"  ALERT PourwardShopTooCold bench: ", "  ALERT PourwardProbeSilent pattern-skin: ", "  ended PourwardProbeSilent pattern-skin: ",
			"  ALERT PourwardDemoldReady frieze cure: ", "Thu 15 Jan 08:30  frieze: checked: cup firm", "Thu 15 Jan 08:30  frieze: demolded\n")
		marks := marksOf(night, demoMold)
		require.Equal(t, begun, marks[:6])
		require.Equal(t, []model.MarkKind{
			model.Begun, model.CoatOn, model.CoatOn, model.ReleaseOn, model.Mixed, model.Poured, model.Checked, model.Demolded,
		}, kindsOf(marks))

		anew := play(t, f)
		within(t, time.Minute, "the story begins anew", func() bool { return anew.has("Wed 14 Jan 11:30  frieze: begun") })
		require.NoError(t, anew.end())
	})
}

func marksOf(a *act, mold string) []model.Mark {
	m, ok := a.Snapshot().Outlook.Mold(mold)
	if !ok {
		return nil
	}
	return m.Marks
}

func kindsOf(marks []model.Mark) []model.MarkKind {
	kinds := make([]model.MarkKind, 0, len(marks))
	for _, m := range marks {
		kinds = append(kinds, m.Kind)
	}
	return kinds
}
