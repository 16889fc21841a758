package main

import (
	"io"
	"regexp"
	"slices"
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
		reportIsWhatWasTold(t, night.get(t, "/molds/frieze/report"), day.String())
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

// reportIsWhatWasTold holds the report of the frieze against what was told when each step was begun, though
// the daemon was ended and started again since.
func reportIsWhatWasTold(t *testing.T, report, told string) {
	t.Helper()
	stamp := func(s string) string { // "Wed 14 Jan 12:43" as the report has it
		_, s, _ = strings.Cut(s, " ")
		return strings.Replace(s, " Jan ", " Jan\u00a0", 1)
	}
	steps := regexp.MustCompile(`frieze: (coat on|release on|mixed|poured).*; [a-z ]+ likely (\w+ \d+ Jan \d\d:\d\d)`).FindAllStringSubmatch(told, -1)
	require.Len(t, steps, 5)
	for _, step := range steps {
		row := regexp.MustCompile(`, `+step[1]+`</td><td>[^<]*</td><td>([^<]*)</td>`).FindAllStringSubmatch(report, -1)
		var rows []string
		for _, r := range row {
			rows = append(rows, r[1])
		}
		at, err := time.Parse("2 Jan\u00a015:04", stamp(step[2]))
		require.NoError(t, err)
		up := at.Add(time.Minute).Format("2 Jan\u00a015:04") // the report rounds to the minute, the story cuts
		require.True(t, slices.Contains(rows, stamp(step[2])) || slices.Contains(rows, up), "%s in %q", step[0], rows)
	}
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
