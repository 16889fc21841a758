package page

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/sensors"
)

// bench is a shop whose time the test sets: its air is steady at 20 °C, and the model itself folds what is
// marked.
type bench struct {
	t     *testing.T
	mu    sync.Mutex
	now   time.Time
	marks []model.Mark
}

func (w *bench) shop() *model.Shop {
	w.t.Helper()
	s, err := model.NewShop(model.Setup{Places: []string{"bench"}, Probes: []model.Probe{{Name: "air-1", Place: "bench", Every: 10 * time.Minute}}, Zone: berlin()})
	require.NoError(w.t, err)
	for at := thursday().Add(-48 * time.Hour); !at.After(w.now); at = at.Add(10 * time.Minute) {
		s.Reading(sensors.Reading{Probe: "air-1", At: at, Temp: sensors.GoodMeasure(20), Humidity: sensors.GoodMeasure(0.5)})
	}
	return s
}

func (w *bench) snapshot() *model.Snapshot {
	w.mu.Lock()
	defer w.mu.Unlock()
	s := w.shop()
	for _, m := range w.marks {
		require.NoError(w.t, s.Mark(m))
	}
	return &model.Snapshot{Outlook: s.Outlook(w.now), Health: model.Health{ClockTrusted: true}}
}

func (w *bench) record(_ context.Context, m model.Mark) (model.Mark, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	m.ID = int64(len(w.marks) + 1)
	w.marks = append(w.marks, m)
	return m, nil
}

// later lets time pass.
func (w *bench) later(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.now = w.now.Add(d)
}

func (w *bench) clock() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.now
}

// pointed is something on the page to be pressed or filled in.
const pointed = `((what) => {
	const seen = [...document.querySelectorAll("a, button, summary, label, input, select, textarea")].filter((e) => e.checkVisibility());
	return seen.find((e) => e.id === what) ?? seen.find((e) => e.textContent.trim() === what) ?? seen.find((e) => e.textContent.includes(what));
})(%s)`

func find(what string) string {
	asked, _ := json.Marshal(what)
	return fmt.Sprintf(pointed, asked)
}

// hands is a way of working the page.
type hands interface {
	// tap presses something, found by its id or by what it says.
	tap(what string)
	// fill puts text into a field instead of what it holds.
	fill(id, text string)
	// choose takes an option of a list.
	choose(id, value string)
}

// finger touches a screen.
type finger struct{ *browser }

func (f finger) tap(what string) {
	f.t.Helper()
	var at struct{ X, Y float64 }
	f.evaluate(&at, `(() => { const e = `+find(what)+`; if (!e) throw new Error("not there"); e.scrollIntoView({ block: "center" });
		const r = e.getBoundingClientRect(); return { x: r.left + r.width / 2, y: r.top + r.height / 2 }; })()`)
	point := []params{{"x": at.X, "y": at.Y}}
	f.tell("Input.dispatchTouchEvent", params{"type": "touchStart", "touchPoints": point})
	f.tell("Input.dispatchTouchEvent", params{"type": "touchEnd", "touchPoints": []params{}})
}

func (f finger) fill(id, text string) {
	f.t.Helper()
	f.evaluate(nil, `(() => { const e = document.getElementById("`+id+`"); e.scrollIntoView({ block: "center" }); e.focus(); e.select(); })()`)
	f.tell("Input.insertText", params{"text": text})
}

// choose goes around the list's own menu, which is the system's and out of reach here.
func (f finger) choose(id, value string) {
	f.t.Helper()
	f.evaluate(nil, `(() => { const e = document.getElementById("`+id+`"); e.value = "`+value+`"; if (e.value !== "`+value+`") throw new Error("no such option"); e.dispatchEvent(new Event("change", { bubbles: true })); })()`)
}

// keys has nothing but a keyboard.
type keys struct{ *browser }

// reach presses Tab until something, or what its label is for, has the focus.
func (k keys) reach(what string) {
	k.t.Helper()
	for range 150 {
		k.press("Tab")
		var there bool
		k.evaluate(&there, `(() => { const e = `+find(what)+`; return !!e && document.activeElement === (e.control ?? e); })()`)
		if there {
			return
		}
	}
	require.Fail(k.t, "not reached by the Tab key", what)
}

func (k keys) tap(what string) {
	k.t.Helper()
	k.reach(what)
	var kind string
	k.evaluate(&kind, `document.activeElement.type ?? ""`)
	if kind == "radio" || kind == "checkbox" {
		k.press(" ")
	} else {
		k.press("Enter")
	}
}

func (k keys) fill(id, text string) {
	k.t.Helper()
	k.reach(id) // by the keyboard a field is entered with all its text taken
	k.tell("Input.insertText", params{"text": text})
}

func (k keys) choose(id, value string) {
	k.t.Helper()
	k.reach(id)
	for range 60 {
		var now string
		if k.evaluate(&now, `document.activeElement.value`); now == value {
			return
		}
		k.press("ArrowDown")
	}
	require.Fail(k.t, "not reached by the arrow key", value)
}

// enter presses what leads to another page and waits for it.
func (b *browser) enter(by hands, what string) {
	b.t.Helper()
	b.events = nil
	by.tap(what)
	b.await("Page.loadEventFired")
	at(b)
}

// says reads what a part of the page says.
func (b *browser) says(selector string) string {
	b.t.Helper()
	var text string
	b.evaluate(&text, `[...document.querySelectorAll("`+selector+`")].map((e) => e.textContent).join(" | ")`)
	return strings.Join(strings.Fields(text), " ")
}

// TestAWholeMold marks a mold from its beginning to its end on a phone's screen, with a mark that is put right
// afterwards.
func TestAWholeMold(t *testing.T) {
	b := openBrowser(t)
	b.screen(phoneWide, phoneHigh, "light")
	t.Run("by touch", func(t *testing.T) {
		b.tell("Emulation.setTouchEmulationEnabled", params{"enabled": true})
		b.t = t
		wholeMold(b, finger{b})
		b.tell("Emulation.setTouchEmulationEnabled", params{"enabled": false})
	})
	t.Run("by the keyboard", func(t *testing.T) {
		b.t = t
		wholeMold(b, keys{b})
	})
}

func wholeMold(b *browser, by hands) {
	t := b.t
	w := &bench{t: t, now: thursday()}
	o := cannedOptions(nil)
	o.Snapshot, o.Record, o.Now, o.Alerts, o.Places = w.snapshot, w.record, w.clock, nil, []string{"bench"}
	server := serveShop(t, "127.0.0.1:0", o)

	b.open(server.URL + "/")
	b.enter(by, "Begin a mold")
	by.fill("mark-begun-title", "Frieze, left end")
	by.choose("mark-begun-place", "bench")
	by.choose("mark-begun-material", "platinum-slow")
	b.enter(by, "Begin this mold")
	require.Equal(t, "Frieze, left end", b.says("h1"))
	require.Contains(t, b.says(".banner.good"), "Recorded: begun")

	for _, did := range []struct {
		fold, field, option, submit string
		after                       time.Duration
		then                        string // the page says of it
	}{
		{"Seal coat on", "mark-coat-on-material", "lacquer", "The coat is on", 3 * time.Hour, "Seal coat 1"},
		{"Seal coat on", "mark-coat-on-material", "lacquer", "The coat is on", 3 * time.Hour, "Seal coat 2"},
		{"Release on", "mark-release-on-material", "wax-naphtha", "The release is on", 2 * time.Hour, "Release agent"},
		{"Mixed", "", "", "The two parts met", 10 * time.Minute, "Batch 1 in the cup"},
		{"Poured", "", "", "It is on the pattern", 30 * time.Minute, "Cure"},
	} {
		by.tap(did.fold)
		if did.field != "" {
			by.choose(did.field, did.option)
		}
		b.enter(by, did.submit)
		require.Contains(t, b.says("#live-next"), did.then)
		w.later(did.after)
	}

	// It was poured five minutes earlier than marked: within the working life, as the record then has it.
	poured := w.marks[len(w.marks)-1]
	require.Equal(t, model.Poured, poured.Kind)
	by.tap("poured")
	by.fill(fmt.Sprintf("mark-poured-%d-at", poured.ID), "35 min ago")
	b.enter(by, "Put this right")
	require.Contains(t, b.says(".marks"), fmt.Sprintf("instead of mark %d", poured.ID))
	right := w.marks[len(w.marks)-1]
	require.Equal(t, poured.ID, right.Corrects)
	require.Equal(t, w.clock().Add(-35*time.Minute), right.At)

	w.later(15 * time.Hour)
	b.open(server.URL + "/")
	b.enter(by, "Frieze, left end")
	require.Contains(t, b.says("#live-next"), "demold", "the night is over")
	by.tap("Touched it")
	by.tap("the cup (the control)")
	b.enter(by, "It is firm")
	require.Contains(t, b.says(".marks"), "checked: cup firm")
	by.tap("Demolded")
	b.enter(by, "The mold is off")
	require.Contains(t, b.says(".banner.good"), "Recorded: demolded")
	b.open(server.URL + "/")
	require.Contains(t, b.says("#live-done"), "Frieze, left end")

	var kinds []string
	for _, m := range w.marks {
		kinds = append(kinds, string(m.Kind))
	}
	require.Equal(t, []string{"begun", "coat on", "coat on", "release on", "mixed", "poured", "poured", "checked", "demolded"}, kinds)
	require.Empty(t, b.wrong, "what the browser found wrong")
	b.open("about:blank")
}

// TestViewsLookAsTheyDid holds the main views against pictures that a person has looked at.
func TestViewsLookAsTheyDid(t *testing.T) {
	o := cannedOptions(annex())
	o.Sight = planning(t, 19.5).Sight
	server := serveShop(t, "127.0.0.1:0", o)
	tested := serveShop(t, "127.0.0.1:0", cannedOptions(patched(t)))
	b := openBrowser(t)
	pictures := map[string][]byte{}
	for name, address := range map[string]string{
		"now": server.URL + "/", "mold": server.URL + "/molds/rosette", "begin": server.URL + "/begin", "plan": server.URL + planQuery(),
		"place": server.URL + "/places/bench", "patches": tested.URL + "/patches",
	} {
		for _, scheme := range []string{"light", "dark"} {
			b.screen(phoneWide, phoneHigh, scheme)
			b.open(address)
			b.evaluate(nil, `document.fonts.ready.then(() => null)`)
			picture := b.shoot(clip{Width: phoneWide, Height: phoneHigh})
			goldenPicture(t, "testdata/golden/"+name+"-"+scheme+".png", picture, mostDiffering)
			pictures[name+" "+scheme] = picture
		}
	}
	for name, picture := range pictures { // one view is not taken for another
		for other := range pictures {
			if name != other {
				require.Greater(t, differing(decoded(t, picture), decoded(t, pictures[other])), 2*mostDiffering, "%s and %s", name, other)
			}
		}
	}
	require.Empty(t, b.wrong)
	b.open("about:blank")
}

// mostDiffering is the share of pixels that may differ from a picture: letters are smoothed differently on
// another machine with the same fonts.
const mostDiffering = 0.03
