package page

import (
	"html"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

func TestWhatIsNotSafe(t *testing.T) {
	v := cannedVoice()
	for want, j := range map[string]model.JournalHealth{
		"": {Waiting: 44, LastSync: hm(0, 19, 21)},
		"The record cannot be written: disk full. 44 readings are not safe: lost if power fails now. Up to Thu 19:21 all are safe. Measuring goes on; a mark is confirmed only once it is safe.": {
			Waiting: 44, LastSync: hm(0, 19, 21), Err: "disk full"},
		"The record cannot be written: disk full. One reading is not safe: lost if power fails now. Measuring goes on; a mark is confirmed only once it is safe.": {
			Waiting: 1, Err: "disk full."},
		"The record cannot be written: disk full. What is read from now on may be lost if power fails. Up to Thu 19:32 all are safe. Measuring goes on; a mark is confirmed only once it is safe.": {
			LastSync: thursday(), Err: "disk full"},
	} {
		require.Equal(t, want, plain(v.unkept(j)))
	}
}

// Trouble with record and clock is told on every page, in words and not by color alone.
func TestTroubleIsOnEveryPage(t *testing.T) {
	const unkept, undated = `<p class="banner grave" role="alert">The record cannot be written: make readings safe: no space left on device.`,
		`<p class="banner calm" role="status">The shop's clock is not known to be right. Times may all be off by the same amount; durations are right. Enter marks as “20 min ago”.`
	sick, well := New(cannedOptions(plagued())), New(cannedOptions(annex()))
	for _, path := range []string{"/", "/begin", "/molds/volute", "/molds/none", "/places/bench", "/nowhere"} {
		page := html.UnescapeString(plain(get(t, sick, path).Body.String()))
		require.Contains(t, page, unkept, path)
		require.Contains(t, page, undated, path)
		page = plain(get(t, well, path).Body.String())
		require.NotContains(t, page, "banner grave\" role=\"alert", path)
		require.NotContains(t, page, "banner calm", path)
	}
	require.Contains(t, get(t, sick, "/molds/corner").Body.String(), "Empty for now. Or how long ago, such as 20 min ago: the clock may be wrong.")
	require.Contains(t, get(t, well, "/molds/corner").Body.String(), "Empty for now. Or 19:40, 20 min ago, yesterday 19:40.")
	require.True(t, wireOf(annex()).Health.ClockTrusted)
	require.False(t, wireOf(plagued()).Health.ClockTrusted)

	soon := annex()
	soon.Outlook.At = thursday().Add(-time.Hour)
	require.NotContains(t, get(t, New(cannedOptions(soon)), "/").Body.String(), "banner calm", "an old outlook is another matter")
}
