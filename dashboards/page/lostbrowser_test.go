package page

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// whenLost waits until the page says that it has no contact, or has it again, even while a form is filled in.
const whenLost = `new Promise((said) => {
	const lost = document.getElementById("lost");
	const look = () => lost.hidden === HIDDEN && said(document.getElementById("live-as-of").textContent);
	new MutationObserver(look).observe(document.body, { attributes: true, childList: true, subtree: true });
	look();
})`

// TestContactIsLostAndRegained ends the shop under an open page, and starts it again.
func TestContactIsLostAndRegained(t *testing.T) {
	var shown atomic.Pointer[model.Snapshot]
	shown.Store(annex())
	o := cannedOptions(nil)
	o.Snapshot = shown.Load
	server := serveShop(t, "127.0.0.1:0", o)
	b := openBrowser(t)
	b.screen(phoneWide, phoneHigh, "light")
	b.open(server.URL + "/molds/rosette")
	b.evaluate(nil, `navigator.serviceWorker.ready.then(() => null)`) // all is fetched
	for _, focus := range []string{"main a", "textarea"} {
		b.evaluate(nil, `document.querySelectorAll("details").forEach((d) => d.open = true); document.querySelector("`+focus+`").focus()`)
		server.close()
		b.evaluate(nil, strings.Replace(whenLost, "HIDDEN", "false", 1))
		require.NotEmpty(t, b.wrong, "the browser found nobody there")
		for _, w := range b.wrong {
			require.Contains(t, w, "Failed to load resource: net::ERR_", "nothing else is wrong")
		}
		b.wrong = nil

		later := annex()
		later.Outlook.At = shown.Load().Outlook.At.Add(time.Minute)
		shown.Store(later)
		server = serveShop(t, strings.TrimPrefix(server.URL, "http://"), o)
		b.evaluate(nil, strings.Replace(whenLost, "HIDDEN", "true", 1))
		if focus == "textarea" { // nothing moves under the hands of who writes
			b.evaluate(nil, `document.activeElement.blur()`)
		}
		b.evaluate(nil, `new Promise((fresh) => {
			const look = () => document.querySelector("#live-as-of time").dateTime === "`+later.Outlook.At.In(berlin()).Format(time.RFC3339)+`" && fresh();
			new MutationObserver(look).observe(document.body, { attributes: true, childList: true, subtree: true });
			look();
		})`)
		b.wrong = nil // it may have been away for one more try
	}
	b.open("about:blank")
}
