package page

import (
	"encoding/base64"
	"flag"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

var shots = flag.String("shots", "", "folder to put screenshots of the canned shop into, to look at them")

// A phone in hand, and the narrowest screen that the page is made for.
const (
	phoneWide, phoneHigh = 390, 844
	narrowest            = 320
)

// TestInABrowser opens the page in a real browser, as a phone shows it.
func TestInABrowser(t *testing.T) {
	k := &keeper{}
	var shown atomic.Pointer[model.Snapshot]
	shown.Store(plagued())
	o := cannedOptions(nil)
	o.Snapshot, o.Record, o.Sight = shown.Load, k.record, planning(t, 19.5).Sight
	o.Report = cannedReport
	server := serveShop(t, "127.0.0.1:0", o)
	b := openBrowser(t)
	b.screen(phoneWide, phoneHigh, "light")

	t.Run("nothing sticks out", func(t *testing.T) {
		b.t = t
		nothingSticksOut(b, server.URL, "/", "/begin", "/plan", planQuery(), planQuery("by", "Sun 18:00", "first", "platinum-slow", "cast", "polyurethane-resin"), "/molds/frieze-left", "/molds/volute", "/molds/keystone", "/molds/finial/report", "/places/bench", "/places/bench?span=7d")
	})
	t.Run("nothing of patches sticks out", func(t *testing.T) {
		b.t = t
		tested := serveShop(t, "127.0.0.1:0", cannedOptions(patched(t)))
		nothingSticksOut(b, tested.URL, "/patches", "/patches/p1", "/patches/p5", "/molds/frieze", "/molds/panel")
	})
	t.Run("a mark by the keyboard", func(t *testing.T) { b.t = t; markByKeyboard(b, server.URL, k) })
	t.Run("what changes is put in", func(t *testing.T) { b.t = t; changesArePutIn(b, server.URL, &shown) })
	b.t = t
	require.Empty(t, b.wrong, "what the browser found wrong")
}

// nothingSticksOut opens every kind of page with every fold open.
func nothingSticksOut(b *browser, server string, paths ...string) {
	for _, path := range paths {
		for _, wide := range []int{phoneWide, narrowest} {
			b.screen(wide, phoneHigh, "light")
			b.open(server + path)
			var page struct {
				Wide   float64
				Out    []string
				Styled bool
			}
			b.evaluate(&page, `(() => {
				document.querySelectorAll("details").forEach((d) => { d.removeAttribute("name"); d.open = true; });
				const wide = document.documentElement.clientWidth;
				const scrolls = (e) => e.closest(".scroll, .skip, .unseen");
				const out = [...document.querySelectorAll("body *")].filter((e) => !scrolls(e) && e.getBoundingClientRect().right > wide + 0.5);
				return {
					wide: document.documentElement.scrollWidth, out: out.map((e) => e.outerHTML.slice(0, 120)),
					styled: getComputedStyle(document.querySelector("main h1")).marginBottom !== "0px" && getComputedStyle(document.body).marginTop === "0px",
				};
			})()`)
			require.Empty(b.t, page.Out, "%s, %d px wide: wider than the screen", path, wide)
			require.LessOrEqual(b.t, page.Wide, float64(wide), "%s scrolls sideways", path)
			require.True(b.t, page.Styled, "%s has its style sheet", path)
		}
	}
	b.open("about:blank")
	b.screen(phoneWide, phoneHigh, "light")
}

// markByKeyboard enters that the cup is tacky without a pointer.
func markByKeyboard(b *browser, server string, k *keeper) {
	b.open(server + "/molds/rosette")
	b.press("Tab")
	require.Equal(b.t, "To the content", b.focused())
	b.press("Enter")
	b.tabTo("Touched it")
	b.press("Enter") // opens the form
	b.tabTo("mark-checked-of-cup")
	b.press(" ")
	b.press("ArrowDown") // to the mold
	require.Equal(b.t, "mark-checked-of-mold", b.focused())
	b.tabTo("mark-checked-at")
	b.tell("Input.insertText", params{"text": "20 min ago"})
	b.press("Enter")
	var path string
	b.evaluate(&path, `location.pathname + location.search`)
	require.Equal(b.t, "/molds/rosette", path, "Enter in a field says no finding")
	require.Empty(b.t, k.marks)

	b.tabTo("Face spoiled")
	b.events = nil
	b.press("Enter")
	b.await("Page.loadEventFired")
	b.evaluate(&path, `location.pathname + location.search`)
	require.Equal(b.t, "/molds/rosette?marked=101", path)
	require.Len(b.t, k.marks, 1)
	require.Equal(b.t, model.Checked, k.marks[0].Kind)
	require.Equal(b.t, model.Mold, k.marks[0].Of)
	require.Equal(b.t, model.Spoiled, k.marks[0].Found)
	require.Equal(b.t, thursday().Add(-20*60e9), k.marks[0].At)
	var said string
	b.evaluate(&said, `document.querySelector(".banner.good").textContent`)
	require.Equal(b.t, "Recorded as mark 101.", said)
}

// changesArePutIn lets the shop go on while a fold is open. Nobody waits for the page's own clock: news comes.
func changesArePutIn(b *browser, server string, shown *atomic.Pointer[model.Snapshot]) {
	b.open(server + "/molds/volute")
	later := plagued()
	later.Outlook.At = later.Outlook.At.Add(10 * time.Second)
	later.Outlook.Molds[4].Doubt.Do[0] = "Clean it off."
	var now struct {
		Open    bool
		Text    string
		Seconds float64
	}
	b.evaluate(nil, `document.getElementById("ways").open = true`)
	shown.Store(later)
	b.evaluate(&now, `new Promise((put) => {
		const next = document.getElementById("live-next"), begun = performance.now();
		new MutationObserver(() => put({
			open: document.getElementById("ways").open, text: next.querySelector("ol li").textContent, seconds: (performance.now() - begun) / 1000,
		})).observe(next, { childList: true });
	})`)
	require.Equal(b.t, "Clean it off.", now.Text)
	require.True(b.t, now.Open, "the open fold stays open")
	require.Less(b.t, now.Seconds, 14.0, "by news, and not by the clock")
}

// TestScreenshots writes pictures for a person to look at; it does so only where a folder is named.
func TestScreenshots(t *testing.T) {
	if *shots == "" {
		return
	}
	o := cannedOptions(plagued())
	o.Sight = planning(t, 19.5).Sight
	server := serveShop(t, "127.0.0.1:0", o)
	b := openBrowser(t)
	for name, path := range map[string]string{
		"now": "/", "inhibits": "/molds/volute", "wait": "/molds/rosette", "batch": "/molds/keystone", "unsettled": "/molds/tablet", "disagree": "/places/bench",
		"plan": planQuery("work", "daily 8:00-18:00"), "plan-two-step": planQuery("by", "Sun 18:00", "first", "platinum-slow", "cast", "polyurethane-resin", "coats", "1", "work", "daily 7:00-22:00"),
	} {
		for _, scheme := range []string{"light", "dark"} {
			b.screen(phoneWide, phoneHigh, scheme)
			b.open(server.URL + path)
			b.evaluate(nil, `document.querySelectorAll("#ways, .do:first-child").forEach((d) => { d.open = true; });
				new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))`)
			var shot struct{ Data string }
			b.ask(&shot, "Page.captureScreenshot", params{"captureBeyondViewport": true})
			data, err := base64.StdEncoding.DecodeString(shot.Data)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(*shots, name+"-"+scheme+".png"), data, 0o644))
		}
	}
}
