package page

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/material"
	"pourward/model/mix"
)

// weighing is the annex with a product of its own, a mold in a box of 300 x 200 x 60 mm around 1200 mL, and
// a scale of 1 g.
func weighing(t *testing.T) Options {
	snap := annex()
	m := &snap.Outlook.Molds[0]
	require.Equal(t, "frieze-left", m.Name)
	m.Rubber = "my-rubber"
	m.Marks[0].Design = model.Design{Method: model.Block, LengthMM: 300, WidthMM: 200, DepthMM: 60, PatternML: 1200}
	m.Marks = append(m.Marks, model.Mark{ID: 4, Kind: model.Mixed, Mold: m.Name, At: hm(0, 17, 0), Entered: hm(0, 17, 0),
		Batch: model.Batch{Parts: []model.Portion{{Name: "A", Grams: 100}, {Name: "B", Grams: 9, From: "warm box"}}, From: "shelf", Lot: "SR-0301"}})
	o := cannedOptions(snap)
	own, err := o.Shelf.Find("platinum-slow")
	require.NoError(t, err)
	own.Name, own.Title, own.GramsPerML = "my-rubber", "My rubber", 1.12
	own.Mixing = material.Mixing{Tolerance: 0.02, Parts: []material.Part{{Name: "A", Ratio: 10}, {Name: "B", Ratio: 1}}}
	o.Shelf = o.Shelf.With(own)
	o.Scale = mix.Scale{StepGrams: 1}
	return o
}

// 2400 mL at 1.12 g/mL and a tenth more are 2957 g, of which a part in eleven is B.
func TestWhatToWeigh(t *testing.T) {
	h := New(weighing(t))
	page := get(t, h, "/molds/frieze-left").Body.String()
	golden(t, "mold-weigh", page)
	require.Contains(t, plain(page), "2957 g, about 2640 mL, for the box around the pattern.")
	require.Contains(t, page, `name="parts" value="A 2688 g, B 269 g"`)
	require.Contains(t, plain(page), "Weighed A 100 g, B 9 g from warm box; 10 % off the ratio, more than is tolerated; from shelf; lot SR-0301.")

	asked := func(q url.Values) string { return get(t, h, "/molds/frieze-left?"+q.Encode()).Body.String() }
	page = asked(url.Values{"grams": {"110"}, "waste": {"10"}, "additives": {"retarder 0.5 % x1.5"}})
	require.Contains(t, plain(page), "The scale does not hold the ratio.")
	require.Contains(t, page, `name="additives" value="retarder 1 g x1.5"`)
	require.Contains(t, plain(page), "instead of 0.5473 g: take a finer scale for it")
	for typed, says := range map[string]string{
		"grams=much&waste=":                "Cannot read &#34;much&#34; as the grams in all: write it in g, such as 12 or 12.5.",
		"waste=10":                         "Say how much: grams in all, a volume in mL, or a part to use up.",
		"grams=5&ml=5&waste=":              "Say how much in one way only: grams in all, a volume in mL, or a part to use up.",
		"grams=5&waste=&additives=pigment": "Cannot read the additive &#34;pigment&#34;",
		"grams=5&waste=&ratio=A+1,+B+1":    "My-rubber has its ratio in the file of materials",
	} {
		q, err := url.ParseQuery(typed)
		require.NoError(t, err)
		require.Contains(t, asked(q), says, typed)
	}
}

// What is typed of a batch arrives in the mark, and is put back where it was not taken.
func TestWeightsAreEntered(t *testing.T) {
	h, k := withKeeper()
	form := url.Values{"kind": {"mixed"}, "mold": {"corner"}, "material": {"platinum-slow"}, "parts": {"A 1000 g, B 100 g"}, "additives": {"retarder 5 g x1.5"}, "from": {"bench"}, "lot": {"L1"}}
	require.Equal(t, 303, post(t, h, "/marks", form, nil).Code)
	require.Equal(t, model.Batch{Parts: []model.Portion{{Name: "A", Grams: 1000}, {Name: "B", Grams: 100}},
		Additives: []model.Portion{{Name: "retarder", Grams: 5, Factor: 1.5}}, From: "bench", Lot: "L1"}, k.marks[0].Batch)
	form.Set("parts", "A much")
	page := post(t, h, "/marks", form, nil).Body.String()
	require.Contains(t, page, "Cannot read the weight &#34;A much&#34;")
	require.Contains(t, page, `name="parts" value="A much"`)
}

func TestTheCupIsToldOf(t *testing.T) {
	snap := annex()
	m := &snap.Outlook.Molds[0]
	m.Cup, m.CupAt = "Touch the cup's leftover.", hm(0, 22, 10)
	h := New(cannedOptions(snap))
	require.Contains(t, plain(get(t, h, "/molds/frieze-left").Body.String()), "Thu 22:10: Touch the cup&#39;s leftover.")
	require.Contains(t, get(t, h, "/snapshot.json").Body.String(), `"cup":"Touch the cup's leftover.","cup_at":"2025-11-27T21:10:00Z"`)
}
