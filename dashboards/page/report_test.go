package page

import (
	"bytes"
	"encoding/base64"
	"encoding/csv"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/model/report"
)

func reporting() Options {
	o := cannedOptions(annex())
	o.Report = cannedReport
	return o
}

func TestReport(t *testing.T) {
	h := New(reporting())
	page := get(t, h, "/molds/finial/report")
	require.Equal(t, http.StatusOK, page.Code)
	golden(t, "report", page.Body.String())
	table := get(t, h, "/molds/finial/report.csv")
	require.Equal(t, "text/csv; charset=utf-8; header=present", table.Header().Get("Content-Type")) // RFC 4180, 3
	file := "testdata/golden/report.csv"
	if *update {
		require.NoError(t, os.WriteFile(file, table.Body.Bytes(), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), table.Body.String())
	require.Contains(t, get(t, h, "/molds/finial").Body.String(), `href="/molds/finial/report"`)
	require.NotContains(t, get(t, New(cannedOptions(annex())), "/molds/finial").Body.String(), "report", "no record, no report")
}

func TestReportOfNoMold(t *testing.T) {
	h := New(reporting())
	for _, path := range []string{"/molds/gable/report", "/molds/gable/report.csv"} {
		got := get(t, h, path)
		require.Equal(t, http.StatusNotFound, got.Code)
		require.Contains(t, got.Body.String(), "no mold of this name is on record")
	}
	require.Equal(t, http.StatusNotFound, get(t, New(cannedOptions(annex())), "/molds/finial/report").Code)
}

// The page that is served brings nothing inline and no script; a file brings everything, and asks for
// nothing else.
func TestReportStandsAlone(t *testing.T) {
	served := elements(t, get(t, New(reporting()), "/molds/finial/report").Body.String())
	ids, h1 := map[string]bool{}, 0
	for _, e := range served {
		require.False(t, ids[e.attrs["id"]], "id %q twice", e.attrs["id"])
		if id := e.attrs["id"]; id != "" {
			ids[id] = true
		}
		if e.name == "h1" {
			h1++
		}
	}
	require.Equal(t, 1, h1)
	for _, e := range served {
		checkElement(t, e, ids, nil)
		require.NotContains(t, []string{"style", "script", "form"}, e.name)
		require.NotContains(t, e.attrs, "style")
	}
	rep, err := cannedReport(t.Context(), "finial")
	require.NoError(t, err)
	var file bytes.Buffer
	require.NoError(t, WriteReport(&file, rep, reporting()))
	require.Contains(t, file.String(), "--clay: #b3512b", "the style sheet is in the file")
	for _, e := range elements(t, file.String()) {
		require.NotContains(t, []string{"link", "script", "img", "a"}, e.name)
	}
}

// It prints to two pages at most, on both papers.
func TestReportPrintsOnTwoPages(t *testing.T) {
	server := httptest.NewServer(New(reporting()))
	defer server.Close()
	b := openBrowser(t)
	b.screen(phoneWide, phoneHigh, "light")
	b.open(server.URL + "/molds/finial/report")
	for name, inches := range map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}} { // ISO 216; ANSI/ASME Y14.1 size A
		var printed struct{ Data string }
		b.ask(&printed, "Page.printToPDF", params{"paperWidth": inches[0], "paperHeight": inches[1], "preferCSSPageSize": false, "printBackground": true})
		pdf, err := base64.StdEncoding.DecodeString(printed.Data)
		require.NoError(t, err)
		if *shots != "" {
			require.NoError(t, os.WriteFile(filepath.Join(*shots, "report-"+name+".pdf"), pdf, 0o644))
		}
		count := regexp.MustCompile(`/Type /Pages\s[^>]*?/Count (\d+)|/Count (\d+)`).FindSubmatch(pdf) // ISO 32000-1, 7.7.3.2
		require.NotNil(t, count, name)
		pages, err := strconv.Atoi(string(count[1]) + string(count[2]))
		require.NoError(t, err)
		require.LessOrEqual(t, pages, 2, name)
		require.Positive(t, pages, name)
	}
	require.Empty(t, b.wrong, "what the browser found wrong")
}

// rowsOfCSV reads a report with a reader of RFC 4180 that takes no liberties.
func rowsOfCSV(t require.TestingT, text []byte) []map[string]string {
	r := csv.NewReader(bytes.NewReader(text))
	r.FieldsPerRecord = len(csvColumns())
	all, err := r.ReadAll()
	require.NoError(t, err)
	require.Equal(t, csvColumns(), all[0])
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, c := range cells {
			row[all[0][i]] = c
		}
		rows = append(rows, row)
	}
	return rows
}

func TestReportCSV(t *testing.T) {
	rep, err := cannedReport(t.Context(), "finial")
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, WriteReportCSV(&out, rep, berlin()))
	require.Equal(t, bytes.Count(out.Bytes(), []byte("\n")), bytes.Count(out.Bytes(), []byte("\r\n")), "lines end as RFC 4180, 2.1 has it")
	count := map[string]int{}
	for _, row := range rowsOfCSV(t, out.Bytes()) {
		count[row["row"]]++
		for _, c := range []string{"at", "entered", "earliest", "likely", "latest", "ended"} {
			if row[c] != "" {
				_, err := time.Parse(time.RFC3339Nano, row[c])
				require.NoError(t, err)
			}
		}
	}
	require.Equal(t, map[string]int{"mold": 1, "mark": 8, "told": 4, "came": 3, "material": 2, "felt": len(rep.Felt)}, count)
}

// Whatever a maker writes into a name or a note comes back out of the table.
func TestReportCSVKeepsText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		note, title := rapid.String().Draw(t, "note"), rapid.String().Draw(t, "title")
		rep := &report.Report{Mold: model.MoldOutlook{Name: "frieze", Title: title}, Marks: []report.Entry{{Mark: model.Mark{ID: 1, Note: note}}}}
		var out bytes.Buffer
		require.NoError(t, WriteReportCSV(&out, rep, time.UTC))
		rows := rowsOfCSV(t, out.Bytes())
		plain := func(s string) string { return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "") } // the reader reads every line end as one
		require.Equal(t, plain(title), plain(rows[0]["kind"]))
		require.Equal(t, plain(note), plain(rows[1]["note"]))
	})
}
