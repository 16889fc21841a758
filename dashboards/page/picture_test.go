package page

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/color"
	"image/png"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// clip is a part of a page, in CSS pixels.
type clip struct {
	X      float64 `json:"x"`
	Y      float64 `json:"y"`
	Width  float64 `json:"width"`
	Height float64 `json:"height"`
	Scale  float64 `json:"scale"`
}

// shoot takes a picture of a part of the page, as PNG.
func (b *browser) shoot(of clip) []byte {
	b.t.Helper()
	of.Scale = max(of.Scale, 1)
	var shot struct{ Data string }
	b.ask(&shot, "Page.captureScreenshot", params{"clip": of, "captureBeyondViewport": true})
	data, err := base64.StdEncoding.DecodeString(shot.Data)
	require.NoError(b.t, err)
	return data
}

func decoded(t *testing.T, data []byte) image.Image {
	t.Helper()
	picture, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	return picture
}

// differing is the share of the pixels that are not alike in two pictures of one size.
func differing(a, b image.Image) float64 {
	const alike = 0x2000 // an eighth of the range of a channel: edges are smoothed a little differently
	far := func(x, y uint32) bool { return max(x, y)-min(x, y) > alike }
	n, bounds := 0, a.Bounds()
	for y := bounds.Min.Y; y < bounds.Max.Y; y++ {
		for x := bounds.Min.X; x < bounds.Max.X; x++ {
			r, g, u, _ := a.At(x, y).RGBA()
			s, h, v, _ := b.At(x, y).RGBA()
			if far(r, s) || far(g, h) || far(u, v) {
				n++
			}
		}
	}
	return float64(n) / float64(bounds.Dx()*bounds.Dy())
}

// goldenPicture compares a picture with the one that was looked at and found right. Some of the pixels may
// differ: text is not drawn the same everywhere.
func goldenPicture(t *testing.T, file string, data []byte, most float64) {
	t.Helper()
	if *update {
		before, err := os.ReadFile(file)
		if err == nil && decoded(t, before).Bounds() == decoded(t, data).Bounds() && differing(decoded(t, before), decoded(t, data)) == 0 {
			return
		}
		require.NoError(t, os.WriteFile(file, data, 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	was, is := decoded(t, want), decoded(t, data)
	require.Equal(t, was.Bounds(), is.Bounds(), file)
	require.LessOrEqual(t, differing(was, is), most, "%s: look at it, then -update", file)
}

func TestDifferingCountsPixels(t *testing.T) {
	a, b := image.NewRGBA(image.Rect(0, 0, 10, 10)), image.NewRGBA(image.Rect(0, 0, 10, 10))
	require.Zero(t, differing(a, b))
	b.Set(3, 3, color.RGBA{R: 0x10, A: 0xff})
	require.Zero(t, differing(a, b), "hardly seen")
	b.Set(4, 4, color.RGBA{G: 0xff, A: 0xff})
	require.InDelta(t, 0.01, differing(a, b), 1e-12)
}
