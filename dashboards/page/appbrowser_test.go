package page

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The icons for home screens are drawn from the one drawing. A round one is cut to a circle of 80 % of its
// width (Web Application Manifest, "maskable"), and the drawing stays inside.
func TestIconsAreOfTheDrawing(t *testing.T) {
	svg, err := assetFiles.ReadFile("assets/icon.svg")
	require.NoError(t, err)
	ground := regexp.MustCompile(`<rect width="32" height="32" fill="(#[0-9a-f]{6})"/>`).FindSubmatch(svg)
	require.NotNil(t, ground)
	b := openBrowser(t)
	for name, size := range map[string]float64{"icon-192": 192, "icon-512": 512, "icon-round-512": 512} {
		part := 1.0
		if strings.Contains(name, "round") {
			part = 0.66 // of 26/32 by 22/32 the corners are within 0.36 of the middle
		}
		b.screen(int(size), int(size), "light")
		b.open("data:text/html," + url.PathEscape(fmt.Sprintf(`<meta name="viewport" content="width=device-width"><body style="margin:0;background:%s;display:grid;place-items:center;height:100vh">
			<img width="%g" height="%g" src="data:image/svg+xml;base64,%s">`, ground[1], size*part, size*part, base64.StdEncoding.EncodeToString(svg))))
		goldenPicture(t, "assets/"+name+".png", b.shoot(clip{Width: size, Height: size}), 0.01)
	}
}

// What the browser itself says of putting the page on a home screen. It judges the manifest and its icons.
func TestThePageCanBeInstalled(t *testing.T) {
	server := serveShop(t, "127.0.0.1:0", cannedOptions(annex()))
	b := openBrowser(t)
	b.screen(phoneWide, phoneHigh, "light")
	b.open(server.URL + "/")
	var manifest struct {
		URL    string
		Data   string
		Errors []struct{ Message string }
	}
	b.ask(&manifest, "Page.getAppManifest", nil)
	require.Equal(t, server.URL+loadAssets().path("app.webmanifest"), manifest.URL)
	require.Empty(t, manifest.Errors)
	var app struct {
		Icons []struct{ Src string }
		Theme string `json:"theme_color"`
	}
	require.NoError(t, json.Unmarshal([]byte(manifest.Data), &app))
	require.Len(t, app.Icons, 4)
	h := New(cannedOptions(annex()))
	for _, icon := range app.Icons {
		require.Equal(t, http.StatusOK, get(t, h, icon.Src).Code, icon.Src)
	}
	var install struct {
		InstallabilityErrors []struct{ ErrorID string }
	}
	b.ask(&install, "Page.getInstallabilityErrors", nil)
	require.Empty(t, install.InstallabilityErrors)
	require.Empty(t, b.wrong)

	colors := palettes(t)
	require.Equal(t, colors["light"]["ground"], app.Theme)
	page := get(t, h, "/").Body.String()
	require.Contains(t, page, `media="(prefers-color-scheme: light)" content="`+colors["light"]["ground"]+`"`)
	require.Contains(t, page, `media="(prefers-color-scheme: dark)" content="`+colors["dark"]["ground"]+`"`)
}

// Without the shop an installed page says so and when it was told last. It keeps nothing that could be taken
// for news, and goes on by itself.
func TestAwayFromTheShop(t *testing.T) {
	o := cannedOptions(annex())
	server := serveShop(t, "127.0.0.1:0", o)
	b := openBrowser(t)
	b.screen(phoneWide, phoneHigh, "light")
	b.open(server.URL + "/")
	b.evaluate(nil, `navigator.serviceWorker.ready.then(() => navigator.serviceWorker.controller ?? new Promise((now) => navigator.serviceWorker.addEventListener("controllerchange", now))).then(() => null)`)
	require.Empty(t, b.wrong)
	server.close()
	for _, path := range []string{"/molds/rosette", "/?x=1"} {
		b.open(server.URL + path)
		var said struct{ Title, Last, Again, All string }
		b.evaluate(&said, `({ title: document.title, last: document.getElementById("last").textContent, again: document.getElementById("again").href, all: document.body.textContent })`)
		require.Equal(t, "No contact with the shop", said.Title)
		require.Regexp(t, `^It was last told here at 19:32:05 on 2025-11-27, shop time: \d+ h \d+ min ago\. Nothing of the shop is kept here`, said.Last)
		require.Equal(t, server.URL+path, said.Again)
		require.NotContains(t, said.All, "Rosette")
		at(b)
	}
	var kept []string
	b.evaluate(&kept, `caches.keys().then(async (names) => (await Promise.all(names.map(async (n) => (await (await caches.open(n)).keys()).map((r) => new URL(r.url).pathname)))).flat())`)
	require.Len(t, kept, 3)
	for _, path := range kept {
		require.True(t, strings.HasPrefix(path, "/assets/"), path)
	}

	b.open(server.URL + "/molds/rosette")
	b.events = nil
	serveShop(t, strings.TrimPrefix(server.URL, "http://"), o)
	b.await("Page.loadEventFired")
	var title string
	b.evaluate(&title, `document.querySelector("h1").textContent`)
	require.Equal(t, "Rosette", title)
	b.open("about:blank")
}

func TestTheWorkerIsAskedForAnew(t *testing.T) {
	w := get(t, New(cannedOptions(annex())), workerPath)
	require.Equal(t, "text/javascript; charset=utf-8", w.Header().Get("Content-Type"))
	require.Equal(t, "no-cache", w.Header().Get("Cache-Control"))
	require.Contains(t, w.Body.String(), `const away = "`+loadAssets().path("away.html")+`"`)
	require.NotContains(t, w.Body.String(), `"/assets/page.css"`)
	require.Less(t, w.Body.Len(), 2000)
}
