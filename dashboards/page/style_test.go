package page

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func stylesheet(t *testing.T) string {
	t.Helper()
	data, err := assetFiles.ReadFile("assets/page.css")
	require.NoError(t, err)
	return string(data)
}

var (
	rootBlock = regexp.MustCompile(`:root \{([^}]*)\}`)
	colorVar  = regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`)
)

// palettes are the colors of the light and of the dark style sheet.
func palettes(t *testing.T) map[string]map[string]string {
	t.Helper()
	blocks := rootBlock.FindAllStringSubmatch(stylesheet(t), -1)
	require.Len(t, blocks, 2)
	out := map[string]map[string]string{}
	for i, name := range []string{"light", "dark"} {
		out[name] = map[string]string{}
		for _, m := range colorVar.FindAllStringSubmatch(blocks[i][1], -1) {
			out[name][m[1]] = m[2]
		}
	}
	return out
}

// luminance is the relative luminance of WCAG 2.2.
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	weights, sum := []float64{0.2126, 0.7152, 0.0722}, 0.0
	for i, w := range weights {
		n, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
		require.NoError(t, err)
		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += w * c
	}
	return sum
}

// contrast is the contrast ratio of WCAG 2.2: (L1 + 0.05) / (L2 + 0.05).
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func TestContrastFormula(t *testing.T) {
	require.InDelta(t, 21, contrast(t, "#000000", "#ffffff"), 1e-9) // WCAG 2.2: ratios range from 1 to 21
	require.InDelta(t, 1, contrast(t, "#808080", "#808080"), 1e-9)
	require.InDelta(t, 4.54, contrast(t, "#767676", "#ffffff"), 0.005) // from memory: the lightest gray that passes on white
}

func TestContrast(t *testing.T) {
	for scheme, colors := range palettes(t) {
		for _, row := range rowsOf(t, "contrast.csv") {
			least, err := strconv.ParseFloat(row["least"], 64)
			require.NoError(t, err)
			require.Contains(t, colors, row["foreground"], scheme)
			require.Contains(t, colors, row["background"], scheme)
			got := contrast(t, colors[row["foreground"]], colors[row["background"]])
			require.GreaterOrEqual(t, got, least, "%s: %s on %s (%s)", scheme, row["foreground"], row["background"], row["where"])
		}
	}
}

// Colors stand in the palette alone, so that the check above sees them all.
func TestEveryColorIsInThePalette(t *testing.T) {
	css := rootBlock.ReplaceAllString(stylesheet(t), "")
	require.NotRegexp(t, `#[0-9a-fA-F]{3,8}\b|rgb|hsl`, css)
	for scheme, colors := range palettes(t) {
		for _, m := range regexp.MustCompile(`var\(--([a-z-]+)\)`).FindAllStringSubmatch(css, -1) {
			require.Contains(t, colors, m[1], scheme)
		}
		for name := range colors {
			require.Contains(t, css, "var(--"+name+")", "unused in %s", scheme)
		}
	}
}

// What a gloved finger must hit is at least 48 px high; the text is 18 px or more.
func TestTargetsAndText(t *testing.T) {
	css := stylesheet(t)
	root := regexp.MustCompile(`(?s)\nhtml \{\s*font: ([\d.]+)rem`).FindStringSubmatch(css)
	require.NotNil(t, root)
	rem, err := strconv.ParseFloat(root[1], 64)
	require.NoError(t, err)
	rem *= 16
	require.GreaterOrEqual(t, rem, 18.0)
	for _, selector := range []string{".bar nav a", ".mold h3 a", ".row", "summary", "button, .button", ".pick label", ".placerow", ".found button",
		`input:not([type="radio"], [type="hidden"]), select, textarea, button, .button`} {
		rule := regexp.MustCompile(`(?s)\n` + regexp.QuoteMeta(selector) + ` \{[^}]*min-height: ([\d.]+)rem`).FindStringSubmatch(css)
		require.NotNil(t, rule, selector)
		high, err := strconv.ParseFloat(rule[1], 64)
		require.NoError(t, err)
		require.GreaterOrEqual(t, high*rem, 48.0, selector)
	}
	for _, m := range regexp.MustCompile(`font-size: ([\d.]+)rem`).FindAllStringSubmatch(css, -1) {
		size, err := strconv.ParseFloat(m[1], 64)
		require.NoError(t, err)
		require.GreaterOrEqual(t, size*rem, 16.0, "smallest text")
	}
	require.Contains(t, css, "prefers-reduced-motion")
	require.Contains(t, css, "prefers-color-scheme: dark")
}

// Labels in drawings shrink with them. They are at least 12 px high on a screen 320 px wide, and where
// they are made smaller again because the screen is wider.
func TestLabelsInDrawings(t *testing.T) {
	css := stylesheet(t)
	small, wide, found := strings.Cut(css, "@media (min-width: 24rem) {")
	require.True(t, found)
	require.Contains(t, small, "main, .bar, .foot { max-width: 44rem; margin-inline: auto; padding-inline: 1rem; }")
	require.Contains(t, small, ".mold .drawing { margin: .6rem -1rem .25rem; width: calc(100% + 2rem); }", "drawings reach to the edge of a card")
	require.Contains(t, wide, ".mold .drawing { margin-inline: 0; width: 100%; }")
	require.Contains(t, wide, `.placerow { grid-template: "where gate" auto "big why" auto / 7.2rem 1fr; }`)

	const rem, smallest, breakpoint = 18.0, 320.0, 384.0 // px; the breakpoint is 24 times the 16 px of the browser
	size := func(css, selector string) float64 {
		m := regexp.MustCompile(regexp.QuoteMeta(selector) + ` \{[^}]*font-size: ([\d.]+)px`).FindStringSubmatch(css)
		require.NotNil(t, m, selector)
		px, err := strconv.ParseFloat(m[1], 64)
		require.NoError(t, err)
		return px
	}
	page := func(screen float64) float64 { return (screen - 2*rem) / drawingWidth }
	require.GreaterOrEqual(t, page(smallest)*size(small, ".drawing text"), 12.0)
	require.GreaterOrEqual(t, page(smallest)*size(small, ".drawing .limit"), 12.0)
	require.GreaterOrEqual(t, (smallest-2*rem)/gateWidth*size(small, ".gate text"), 12.0)
	require.GreaterOrEqual(t, (smallest-4*rem)/stripWidth*size(small, ".strip text"), 12.0)
	card := (breakpoint - 4*rem) / drawingWidth
	require.GreaterOrEqual(t, card*size(wide, ".drawing text"), 12.0)
	require.GreaterOrEqual(t, page(breakpoint)*size(wide, ".drawing .limit"), 12.0)
	gate := (breakpoint - 2*rem - (7.2+0.75)*rem) / gateWidth
	require.GreaterOrEqual(t, gate*size(small, ".gate text"), 12.0)
}

func TestScriptIsSmall(t *testing.T) {
	data, err := assetFiles.ReadFile("assets/refresh.js")
	require.NoError(t, err)
	require.Less(t, len(data), 3000)
	require.False(t, strings.Contains(string(data), "eval"))
}
