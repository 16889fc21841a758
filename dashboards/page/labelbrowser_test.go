package page

import (
	"encoding/base64"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/require"
)

// read reads the code in a picture with a reader that is not ours.
func read(t *testing.T, picture []byte) string {
	t.Helper()
	bits, err := gozxing.NewBinaryBitmapFromImage(decoded(t, picture))
	require.NoError(t, err)
	said, err := qrcode.NewQRCodeReader().Decode(bits, nil)
	require.NoError(t, err)
	return said.GetText()
}

// The codes of a label, as a real browser draws them, hold the address of the mold's page.
func TestLabelsOpenTheirMold(t *testing.T) {
	snap := annex()
	long := strings.Repeat("cornice-of-the-long-gallery-", 5)
	snap.Outlook.Molds[1].Name, snap.Outlook.Molds[2].Name = long, "Große Säule/2"
	server := serveShop(t, "127.0.0.1:0", cannedOptions(snap))
	b := openBrowser(t)
	for _, name := range []string{"frieze-left", long, "Große Säule/2"} {
		for _, scheme := range []string{"light", "dark"} {
			b.screen(phoneWide, phoneHigh, scheme)
			b.open(server.URL + labelPath(name))
			at(b)
			var codes []clip
			b.evaluate(&codes, `[...document.querySelectorAll(".code")].map((c) => c.getBoundingClientRect().toJSON())`)
			require.Len(t, codes, 2)
			for _, c := range codes {
				c.Scale = 3 // a camera sees more than one pixel to a module
				address := read(t, b.shoot(c))
				require.Equal(t, server.URL+moldPath(name), address)
				answer, err := http.Get(address)
				require.NoError(t, err)
				require.NoError(t, answer.Body.Close())
				require.Equal(t, http.StatusOK, answer.StatusCode, "it opens the mold")
			}
		}
	}
	require.Empty(t, b.wrong)

	// On paper: as wide as a roll of labels, each on its piece there, and all on one sheet.
	b.open(server.URL + labelPath("frieze-left"))
	b.tell("Emulation.setEmulatedMedia", params{"media": "print"})
	var wide float64
	b.evaluate(&wide, `document.querySelector(".label").getBoundingClientRect().width`)
	const mm = 96 / 25.4 // CSS pixels (CSS Values and Units 4, section 6.2)
	require.InDelta(t, 62*mm, wide, 0.5)
	for name, paper := range map[string]struct {
		wide, high float64 // mm
		sheets     int
	}{"a roll": {62, 50, 2}, "A4": {210, 297, 1}} {
		require.Equal(t, paper.sheets, b.printed(paper.wide, paper.high), name)
	}
}

// printed prints the page on paper of a size in mm, and counts the sheets.
func (b *browser) printed(wide, high float64) int {
	b.t.Helper()
	var pdf struct{ Data string }
	b.ask(&pdf, "Page.printToPDF", params{"paperWidth": wide / 25.4, "paperHeight": high / 25.4, "marginTop": 0, "marginBottom": 0, "marginLeft": 0, "marginRight": 0, "printBackground": true})
	data, err := base64.StdEncoding.DecodeString(pdf.Data)
	require.NoError(b.t, err)
	return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(data, -1))
}

func TestLabel(t *testing.T) {
	h := New(cannedOptions(annex()))
	page := get(t, h, "/molds/frieze-left/label").Body.String()
	golden(t, "label", page)
	require.NotContains(t, page, "on this computer only")
	require.Contains(t, get(t, h, "/molds/frieze-left").Body.String(), `href="/molds/frieze-left/label"`)
	require.Equal(t, http.StatusNotFound, get(t, h, "/molds/none/label").Code)
	require.Equal(t, http.StatusServiceUnavailable, get(t, New(cannedOptions(nil)), "/molds/none/label").Code)

	for host, lone := range map[string]bool{"localhost:8673": true, "127.0.0.1": true, "[::1]:8673": true, "192.0.2.7:8673": false, "shop.test": false} {
		r := httptest.NewRequest(http.MethodGet, "http://"+host+"/molds/frieze-left/label", nil)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Equal(t, lone, strings.Contains(w.Body.String(), "on this computer only"), host)
		require.Contains(t, w.Body.String(), ">http://"+host+"/molds/frieze-left<")
	}

	snap := annex()
	snap.Outlook.Molds[0].Name = strings.Repeat("x", 3000)
	w := get(t, New(cannedOptions(snap)), labelPath(snap.Outlook.Molds[0].Name))
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	require.Contains(t, w.Body.String(), "too long for a code")
}
