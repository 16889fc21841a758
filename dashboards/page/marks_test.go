package page

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// keeper is a record of marks that may refuse.
type keeper struct {
	marks []model.Mark
	err   error
}

func (k *keeper) record(_ context.Context, m model.Mark) (model.Mark, error) {
	if k.err != nil {
		return model.Mark{}, k.err
	}
	m.ID = int64(len(k.marks)) + 101
	k.marks = append(k.marks, m)
	return m, nil
}

func withKeeper() (http.Handler, *keeper) {
	k := &keeper{}
	o := cannedOptions(annex())
	o.Record = k.record
	return New(o), k
}

var asJSON = http.Header{"Accept": {"application/json"}}

func TestMarkIsTaken(t *testing.T) {
	h, k := withKeeper()
	w := post(t, h, "/marks", url.Values{"kind": {"coat on"}, "mold": {"frieze-left"}, "material": {"shellac"}, "at": {"19:20"}, "note": {" thin "}}, nil)
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/molds/frieze-left?marked=101", w.Header().Get("Location"))
	require.Equal(t, []model.Mark{{ID: 101, Kind: model.CoatOn, Mold: "frieze-left", At: hm(0, 19, 20), Entered: thursday(), Material: "shellac", Note: "thin"}}, k.marks)

	require.Contains(t, get(t, h, "/molds/frieze-left?marked=3").Body.String(), "Recorded: coat on (shellac), Thu\u00a016:40.")
	require.Contains(t, get(t, h, "/molds/frieze-left?marked=101").Body.String(), "Recorded as mark 101.")
	require.NotContains(t, get(t, h, "/molds/frieze-left?marked=%3Cb%3E").Body.String(), "Recorded")
}

func TestMarkForCommands(t *testing.T) {
	h, k := withKeeper()
	w := post(t, h, "/marks", url.Values{"kind": {"checked"}, "mold": {"rosette"}, "of": {"cup"}, "found": {"firm"}, "at": {"2025-11-27T18:20:00Z"}}, asJSON)
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "application/json", w.Header().Get("Content-Type"))
	require.JSONEq(t, `{"id":101,"told":"rosette: checked: cup firm, Thu 19:20"}`, w.Body.String())

	k.err = errors.New("\"poured\" lies after it was demolded: correct the time")
	w = post(t, h, "/marks", url.Values{"kind": {"poured"}, "mold": {"rosette"}}, asJSON)
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	require.JSONEq(t, `{"error":"\"poured\" lies after it was demolded: correct the time."}`, w.Body.String())
}

func TestBadMarks(t *testing.T) {
	for want, form := range map[string]url.Values{
		"is not a mark; there are":                                           {"kind": {"painted"}, "mold": {"rosette"}},
		"annot read &#34;soon&#34; as a time":                                {"kind": {"poured"}, "mold": {"corner"}, "at": {"soon"}},
		"ay what was touched":                                                {"kind": {"checked"}, "mold": {"rosette"}, "found": {"firm"}},
		"ay how it was found: firm, tacky, liquid or surface spoiled":        {"kind": {"checked"}, "mold": {"rosette"}, "of": {"cup"}},
		"othing is found &#34;soft&#34;: say firm, tacky, liquid or surface": {"kind": {"checked"}, "mold": {"rosette"}, "of": {"mold"}, "found": {"soft"}},
		"cup has no face on the pattern that could be spoiled":               {"kind": {"checked"}, "mold": {"rosette"}, "of": {"cup"}, "found": {"surface spoiled"}},
		"is not the number of a mark":                                        {"kind": {"withdrawn"}, "mold": {"rosette"}, "corrects": {"-3"}},
		"he mold needs a name":                                               {"kind": {"begun"}, "title": {"…"}},
		"cannot be the name of a mold":                                       {"kind": {"begun"}, "mold": {".."}},
	} {
		h, k := withKeeper()
		w := post(t, h, "/marks", form, nil)
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, want)
		require.Contains(t, w.Body.String(), want)
		require.Empty(t, k.marks)
	}
}

// A mark that is not taken comes back with all that was typed, in the form it came from.
func TestRefusedMarkKeepsWhatWasTyped(t *testing.T) {
	h, k := withKeeper()
	k.err = errors.New("no")
	w := post(t, h, "/marks", url.Values{"kind": {"release on"}, "mold": {"frieze-left"}, "material": {"wax-spirit"}, "at": {"yesterday 19:40"}, "note": {`two "thin" passes <b>`}}, nil)
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	page := w.Body.String()
	require.Contains(t, page, `value="yesterday 19:40"`)
	require.Contains(t, page, `two &#34;thin&#34; passes &lt;b&gt;</textarea>`)
	require.Contains(t, page, `<option value="wax-spirit" selected>`)
	require.Contains(t, page, "Not recorded. No.")
	require.Contains(t, page, `<details class="do" name="do" open><summary>Release on</summary>`)

	w = post(t, h, "/marks", url.Values{"kind": {"coat on"}, "mold": {"frieze-left"}, "corrects": {"2"}, "material": {"lacquer"}, "at": {"11:11"}}, nil)
	require.Contains(t, w.Body.String(), `id="mark-coat-on-2-at" name="at" value="11:11"`)
	require.Contains(t, w.Body.String(), `<details class="markrow" open>`)

	w = post(t, h, "/marks", url.Values{"kind": {"begun"}, "title": {"Cornice"}, "mold": {"Cornice!"}, "place": {"warm box"}, "surface": {"pattern"}, "material": {"epoxy"}}, nil)
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	for _, kept := range []string{`value="Cornice"`, `value="Cornice!"`, `<option value="warm box" selected>`, `<option value="pattern" selected>`, `<option value="epoxy" selected>`} {
		require.Contains(t, w.Body.String(), kept)
	}

	w = post(t, h, "/marks", url.Values{"kind": {"poured"}, "mold": {"long gone"}, "note": {"kept too"}}, nil)
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	require.Contains(t, w.Body.String(), "kept too</textarea>")
}

// Trouble of the machinery is not the mark's fault, and is told as such.
func TestRecordThatCannotBeWritten(t *testing.T) {
	full := errors.New("write mark: disk full")
	o := cannedOptions(annex())
	o.Record = func(context.Context, model.Mark) (model.Mark, error) { return model.Mark{}, full }
	o.Refused = func(err error) bool { return !errors.Is(err, full) }
	w := post(t, New(o), "/marks", url.Values{"kind": {"poured"}, "mold": {"corner"}}, asJSON)
	require.Equal(t, http.StatusServiceUnavailable, w.Code)
	require.JSONEq(t, `{"error":"Write mark: disk full."}`, w.Body.String())
}

func TestMoldIsBegunByItsTitle(t *testing.T) {
	h, k := withKeeper()
	w := post(t, h, "/marks", url.Values{"kind": {"begun"}, "title": {"Frieze, right end (2nd)"}, "place": {"bench"}}, nil)
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/molds/frieze-right-end-2nd?marked=101", w.Header().Get("Location"))
	require.Equal(t, "frieze-right-end-2nd", k.marks[0].Mold)
	w = get(t, h, w.Header().Get("Location"))
	require.Equal(t, http.StatusOK, w.Code, "the outlook may follow a moment later")
	require.Contains(t, w.Body.String(), "Recorded as mark 101. The outlook of this mold follows in a moment.")
}

// No name is taken up by the page's own addresses: "new" and "begin" are molds like any other.
func TestEveryNameOfAMoldIsReachable(t *testing.T) {
	for _, name := range []string{"new", "begin", "marks", "assets", "a/b", "%2e", "…"} {
		snap := annex()
		snap.Outlook.Molds[1].Name = name
		k := &keeper{}
		o := cannedOptions(snap)
		o.Record = k.record
		h := New(o)
		w := get(t, h, moldPath(name))
		require.Equal(t, http.StatusOK, w.Code, name)
		require.Contains(t, w.Body.String(), "<h1>Rosette</h1>", name)
		require.Equal(t, http.StatusSeeOther, post(t, h, "/marks", url.Values{"kind": {"begun"}, "mold": {name}}, nil).Code, name)
		require.Equal(t, name, k.marks[0].Mold)
	}
	for _, name := range []string{".", ".."} { // RFC 3986 section 5.2.4: dot segments are taken out of an address
		h, k := withKeeper()
		require.Equal(t, http.StatusUnprocessableEntity, post(t, h, "/marks", url.Values{"kind": {"begun"}, "mold": {name}}, nil).Code)
		require.Empty(t, k.marks)
	}
}

// A correction that leaves the time alone keeps the instant, milliseconds and repeated hours included.
func TestCorrectionKeepsTheInstant(t *testing.T) {
	snap := annex()
	second := time.Date(2025, 10, 26, 0, 30, 5, 250e6, time.UTC) // 02:30:05, first of two in Berlin
	snap.Outlook.Molds[0].Marks[1].At = second
	k := &keeper{}
	o := cannedOptions(snap)
	o.Record = k.record
	h := New(o)
	page := get(t, h, "/molds/frieze-left").Body.String()
	require.Contains(t, page, `id="mark-coat-on-2-at" name="at" value="2025-10-26 02:30:05"`)
	form := url.Values{"kind": {"coat on"}, "mold": {"frieze-left"}, "corrects": {"2"}, "material": {"lacquer"}, "at": {"2025-10-26 02:30:05"}}
	require.Equal(t, http.StatusSeeOther, post(t, h, "/marks", form, nil).Code)
	require.Equal(t, second, k.marks[0].At)
	require.Equal(t, int64(2), k.marks[0].Corrects)
}

// A gloved finger taps twice; a command, and a form made after the first mark, mean it.
func TestTheSameFormTwiceIsOneMark(t *testing.T) {
	h, k := withKeeper()
	form := url.Values{"kind": {"coat on"}, "mold": {"frieze-left"}, "material": {"shellac"}, "seen": {"3"}}
	first := post(t, h, "/marks", form, nil)
	again := post(t, h, "/marks", form, nil)
	require.Equal(t, first.Header().Get("Location"), again.Header().Get("Location"))
	require.Len(t, k.marks, 1)

	form.Set("seen", "101")
	post(t, h, "/marks", form, nil)
	require.Len(t, k.marks, 2)

	form.Del("seen")
	post(t, h, "/marks", form, asJSON)
	post(t, h, "/marks", form, asJSON)
	require.Len(t, k.marks, 4)
}

func TestRecentFormsAreBounded(t *testing.T) {
	c, k := newRecent(), &keeper{}
	for i := range 3 * recentForms {
		_, err := c.record(context.Background(), url.Values{"note": {strings.Repeat("x", i)}}, true, model.Mark{}, k.record)
		require.NoError(t, err)
	}
	require.Len(t, c.marks, recentForms)
	require.Len(t, c.forms, recentForms)
}

// A form of a page of ours can be sent just as it stands, but for what only the maker knows.
func TestFormsAsMadeAreTaken(t *testing.T) {
	h, k := withKeeper()
	for _, path := range []string{"/molds/frieze-left", "/molds/corner", "/molds/rosette"} {
		for _, f := range formsOf(t, get(t, h, path).Body.String()) {
			if f.Get("kind") == "" {
				continue // the choice of unit
			}
			if f.Get("kind") == "checked" {
				f.Set("of", "cup")
				f.Set("found", "firm")
			}
			w := post(t, h, "/marks", f, asJSON)
			require.Equal(t, http.StatusOK, w.Code, "%s %v: %s", path, f, w.Body.String())
		}
	}
	require.Greater(t, len(k.marks), 20)
	var told struct {
		ID int64 `json:"id"`
	}
	w := post(t, h, "/marks", url.Values{"kind": {"withdrawn"}, "mold": {"rosette"}, "corrects": {"10"}}, asJSON)
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &told))
	require.Equal(t, int64(10), k.marks[len(k.marks)-1].Corrects)
}

// formsOf reads the forms of a page as a browser would send them untouched.
func formsOf(t *testing.T, page string) []url.Values {
	t.Helper()
	var out []url.Values
	var chosen string // name of the select that is open
	for _, e := range elements(t, page) {
		name, value := e.attrs["name"], e.attrs["value"]
		switch e.name {
		case "form":
			out = append(out, url.Values{})
		case "input":
			if e.attrs["type"] != "radio" {
				out[len(out)-1].Set(name, value)
			}
		case "select":
			chosen = name
		case "option":
			form := out[len(out)-1]
			if _, set := form[chosen]; !set || e.attrs["selected"] != "" {
				form.Set(chosen, value)
			}
		}
	}
	return out
}

func TestTextIsUTF8(t *testing.T) {
	h, k := withKeeper()
	for field := range strings.FieldsSeq("kind mold title place surface material of found note pattern shell probe_in face parts additives lot from at") {
		form := url.Values{"kind": {"begun"}, "mold": {"corbel"}, "place": {"bench"}}
		form.Set(field, "caf\xe9")
		w := post(t, h, "/marks", form, asJSON)
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, field)
		require.Contains(t, w.Body.String(), strings.ToUpper(field[:1])+field[1:]+`: \"caf\\xe9\" is not UTF-8`)
	}
	require.Empty(t, k.marks)
}

func TestControlCharactersAreRefused(t *testing.T) {
	h, k := withKeeper()
	for field, text := range map[string]string{
		"mold": "a\r\nb", "title": "a\x1b[2Jb", "place": "be\x00nch", "surface": "a\tb", "material": "shel\u0085lac", "note": "a\x1b]0;b\x07",
	} {
		form := url.Values{"kind": {"begun"}, "mold": {"corbel"}, "place": {"bench"}}
		form.Set(field, text)
		w := post(t, h, "/marks", form, asJSON)
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, field)
		require.Contains(t, w.Body.String(), "control character", field)
	}
	require.Empty(t, k.marks)
	form := url.Values{"kind": {"begun"}, "mold": {"corbel"}, "place": {"bench"}, "note": {"first\r\nsecond\tline"}}
	require.Equal(t, http.StatusOK, post(t, h, "/marks", form, asJSON).Code)
}
