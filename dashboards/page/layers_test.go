package page

import (
	"context"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/sensors"
)

// brushing is a shop in which a mold of brushed layers waits for its third, at an hour after the second: folded
// by the model itself, in steady air, so that what the page says of a window follows from one.
func brushing(t *testing.T, hours float64) *model.Snapshot {
	t.Helper()
	s, err := model.NewShop(model.Setup{
		Places: []string{"bench", "warm box"},
		Probes: []model.Probe{{Name: "air", Place: "bench", Every: 10 * time.Minute}, {Name: "warm", Place: "warm box", Every: 10 * time.Minute}},
	})
	require.NoError(t, err)
	now := thursday()
	for at := now.Add(-50 * time.Hour); !at.After(now); at = at.Add(10 * time.Minute) {
		for _, p := range []string{"air", "warm"} {
			s.Reading(sensors.Reading{Probe: p, At: at, Temp: sensors.GoodMeasure(20), Humidity: sensors.GoodMeasure(0.5)})
		}
	}
	ago := func(h float64) time.Time { return now.Add(-time.Duration(h * float64(time.Hour))) }
	for i, m := range []model.Mark{
		{Kind: model.Begun, At: ago(hours + 8), Title: "Capital", Place: "bench", Material: "platinum-slow", Design: model.Design{Method: model.Brushed, Coats: 1, Layers: 4, LayerMM: 3}},
		{Kind: model.CoatOn, At: ago(hours + 7), Material: "lacquer"},
		{Kind: model.Mixed, At: ago(hours + 2.2)}, {Kind: model.LayerOn, At: ago(hours + 2.1)},
		{Kind: model.Moved, At: ago(hours + 0.5), Place: "warm box"},
		{Kind: model.Mixed, At: ago(hours + 0.1)}, {Kind: model.LayerOn, At: ago(hours)},
	} {
		m.ID, m.Mold, m.Entered = int64(i+1), "capital", m.At
		require.NoError(t, s.Mark(m))
	}
	return &model.Snapshot{Outlook: s.Outlook(now), Health: model.Health{ClockTrusted: true}}
}

func TestGoldenLayers(t *testing.T) {
	for name, hours := range map[string]float64{"mold-layer-soon": 0.5, "mold-layer-open": 2.2, "mold-layer-closing": 3.8, "mold-layer-over": 9} {
		golden(t, name, get(t, New(cannedOptions(brushing(t, hours))), "/molds/capital").Body.String())
	}
}

func TestLayerWindowInWords(t *testing.T) {
	for hours, want := range map[float64][]string{
		0.5: {"Wait for layer 3 of 4", "too soon for the next layer", "Still to come", "the last: leave no thin spot"},
		2.2: {"Mix, and brush layer 3 of 4 on before the window closes.", "takes the next layer", "left</p>"},
		3.8: {"on now: the window is closing.", "closing: brush the next layer now"},
		9:   {"The bond of layer 3 of 4 is doubtful", "over: the bond is doubtful"},
	} {
		page := get(t, New(cannedOptions(brushing(t, hours))), "/molds/capital").Body.String()
		for _, w := range append(want, "The next layer went on", "moved to warm box") {
			require.Contains(t, page, w, "after %g h", hours)
		}
	}
}

func TestFormsOfLayersAndMoves(t *testing.T) {
	kinds := nextKinds
	m := &brushing(t, 2.2).Outlook.Molds[0]
	require.Equal(t, []model.MarkKind{model.Mixed, model.Checked, model.Demolded}, kinds(m))
	cup := model.Step{Kind: model.WorkingLife, Projection: model.Projection{Standing: model.Running}}
	m.Steps = append(m.Steps, cup)
	require.Equal(t, []model.MarkKind{model.LayerOn, model.Checked, model.Mixed}, kinds(m))
	untold := &model.MoldOutlook{Steps: []model.Step{cup}}
	require.Equal(t, []model.MarkKind{model.Poured, model.LayerOn, model.Checked, model.Mixed}, kinds(untold))
	untold.Design.Method = model.Block
	require.Equal(t, []model.MarkKind{model.Poured, model.Checked, model.Mixed}, kinds(untold))

	page := get(t, New(cannedOptions(brushing(t, 2.2))), "/molds/capital").Body.String()
	require.Contains(t, page, `<summary>Moved</summary>`)
	require.NotContains(t, page, `name="kind" value="layer on">`+"\n"+`<input type="hidden" name="seen"`, "no layer is offered before its batch is mixed")

	var taken model.Mark
	opts := cannedOptions(brushing(t, 2.2))
	opts.Record = func(_ context.Context, m model.Mark) (model.Mark, error) {
		taken = m
		return m, nil
	}
	post(t, New(opts), "/marks", url.Values{"kind": {"moved"}, "mold": {"capital"}, "place": {"bench"}, "surface": {""}}, nil)
	require.Equal(t, model.Moved, taken.Kind)
	require.Equal(t, "bench", taken.Place)
}

func TestLayersInJSON(t *testing.T) {
	body := get(t, New(cannedOptions(brushing(t, 2.2))), "/snapshot.json").Body.String()
	for _, want := range []string{`"closes":{"earliest":"2025-11-27T`, `"coming":[{"mark":"layer on","name":"layer-3","title":"Layer 3 of 4"`, `"kind":"layer"`, `"place":"warm box"`} {
		require.Contains(t, body, want)
	}
}

// What is drawn and listed as measured is of the place where the mold stood, each for its time.
func TestTraceFollowsTheMold(t *testing.T) {
	m := &brushing(t, 2).Outlook.Molds[0]
	moved := m.Marks[4].At
	opts := cannedOptions(brushing(t, 2))
	asked := map[string][2]time.Time{}
	opts.Trace = func(_ context.Context, probe string, from, to time.Time) ([]Point, error) {
		asked[probe] = [2]time.Time{from, to}
		return []Point{{At: from, TempC: 20}, {At: to.Add(-time.Second), TempC: 20}}, nil
	}
	get(t, New(opts), "/molds/capital")
	require.Equal(t, moved, asked["air"][1])
	require.Equal(t, [2]time.Time{moved, thursday()}, asked["warm"])
}
