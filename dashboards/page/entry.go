package page

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"pourward/model"
	"pourward/sensors"
)

// entry is a mark as it was typed, before anything is made of it.
type entry struct {
	Kind, Mold, At, Corrects        string
	Title, Place, Surface, Material string
	Of, Found, Note                 string
	built                                  // begun
	worked                                 // begun, mixed, patch on
	Seen                            string // newest mark of the mold when the form was made; empty = not from a form of ours
	garbled                         error  // why what was typed cannot be told from what arrived; nil = it can
}

func entryOf(form url.Values) entry {
	get := func(name string) string { return strings.TrimSpace(form.Get(name)) }
	return entry{
		Kind: get("kind"), Mold: get("mold"), At: get("at"), Corrects: get("corrects"),
		Title: get("title"), Place: get("place"), Surface: get("surface"), Material: get("material"),
		Of: get("of"), Found: get("found"), Note: get("note"), Seen: get("seen"),
		built:  built{get("rubber_mm"), get("pattern"), get("pattern_mm"), get("shell"), get("shell_mm"), get("probe_in")},
		worked: workedFrom(form, get), garbled: garbled(form),
	}
}

// garbled names a field whose text is not UTF-8, the first one by name.
func garbled(form url.Values) error {
	for _, name := range slices.Sorted(maps.Keys(form)) {
		if err := sensors.CheckText(form.Get(name)); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

// mark makes a mark of what was typed. The error is a sentence for the maker. Whether the mark fits the
// others is judged where it is recorded.
func (e entry) mark(now time.Time, zone *time.Location, known *model.MoldOutlook) (model.Mark, error) {
	if e.garbled != nil {
		return model.Mark{}, e.garbled
	}
	kind, err := model.ParseMarkKind(e.Kind)
	if err != nil {
		return model.Mark{}, err
	}
	if err := e.legible(); err != nil {
		return model.Mark{}, err
	}
	m := model.Mark{
		Kind: kind, Mold: e.Mold, Entered: now.UTC(),
		Title: e.Title, Place: e.Place, Surface: e.Surface, Material: e.Material,
		Of: model.Subject(e.Of), Found: model.Finding(e.Found), Note: e.Note,
	}
	if m.Corrects, err = parseID(e.Corrects); err != nil {
		return model.Mark{}, err
	}
	if m.At, err = e.when(now, zone, m.Corrects, known); err != nil {
		return model.Mark{}, err
	}
	if m.Build, err = e.build(kind); err != nil {
		return model.Mark{}, err
	}
	if err := e.work(&m); err != nil {
		return model.Mark{}, err
	}
	if err := nameMold(&m); err != nil {
		return model.Mark{}, err
	}
	return m, checkFinding(m)
}

// legible refuses control characters: marks are told in lines of logs, of metrics and on terminals, which
// obey some of them. A note may have several lines.
func (e entry) legible() error {
	for _, line := range [][2]string{{"mold", e.Mold}, {"title", e.Title}, {"place", e.Place}, {"surface", e.Surface}, {"material", e.Material}} {
		if strings.ContainsFunc(line[1], unicode.IsControl) {
			return fmt.Errorf("%s: %q holds a line end or another control character; write it in one plain line", line[0], line[1])
		}
	}
	unseen := func(r rune) bool { return unicode.IsControl(r) && !strings.ContainsRune("\r\n\t", r) }
	if strings.ContainsFunc(e.Note, unseen) {
		return fmt.Errorf("note: it holds control characters; write it in plain text")
	}
	return nil
}

// ParseMark makes a mark of fields named as those of the page's forms. Whether it fits the others is judged
// where it is recorded.
func ParseMark(fields url.Values, now time.Time, zone *time.Location) (model.Mark, error) {
	return entryOf(fields).mark(now, zone, nil)
}

func parseID(s string) (int64, error) {
	if s == "" {
		return 0, nil
	}
	id, err := strconv.ParseInt(s, 10, 64)
	if err != nil || id <= 0 {
		return 0, fmt.Errorf("%q is not the number of a mark to correct", s)
	}
	return id, nil
}

// stamp is the form of a time put into a correction.
const stamp = "2006-01-02 15:04:05"

// when reads the time. A correction that leaves the time as it was put there keeps the instant of the
// original to the millisecond, even where clocks showed it twice.
func (e entry) when(now time.Time, zone *time.Location, corrects int64, known *model.MoldOutlook) (time.Time, error) {
	if known != nil && corrects != 0 {
		for _, old := range known.Marks {
			if old.ID == corrects && old.At.In(zone).Format(stamp) == e.At {
				return old.At, nil
			}
		}
	}
	return ParseAt(e.At, now, zone)
}

// nameMold gives a mold begun with a title alone a short name made of it.
func nameMold(m *model.Mark) error {
	if m.Kind != model.Begun && m.Kind != model.PatchOn {
		return nil
	}
	if m.Mold == "" {
		m.Mold = shortName(m.Title)
	}
	switch m.Mold {
	case "":
		return fmt.Errorf("the mold needs a name: say what it is a mold of")
	case ".", "..": // browsers take them out of addresses
		return fmt.Errorf("%q cannot be the name of a mold: choose another one", m.Mold)
	}
	return nil
}

// shortName makes a name for commands and addresses: small letters, digits and dashes.
func shortName(title string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(title) {
		switch {
		case 'a' <= r && r <= 'z' || '0' <= r && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	return strings.TrimRight(b.String(), "-")
}

// markWords tells a mark in a few words, without mold and time.
func markWords(m model.Mark) string {
	switch {
	case m.Kind == model.Checked:
		return fmt.Sprintf("checked: %s %s", m.Of, m.Found)
	case m.Kind == model.Withdrawn:
		return fmt.Sprintf("mark %d withdrawn", m.Corrects)
	case m.Material != "":
		return fmt.Sprintf("%s (%s)", m.Kind, m.Material)
	case m.Kind == model.Moved:
		return "moved to " + m.Place
	}
	return string(m.Kind)
}
