package page

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"pourward/model"
)

// subjectOptions lists what can be touched at this stage, the most telling first.
func subjectOptions(e entry, m *model.MoldOutlook) []option {
	order := []model.Subject{model.Coat, model.Patch, model.Cup, model.Mold}
	if m != nil && m.Poured {
		order = []model.Subject{model.Cup, model.Mold, model.Patch, model.Coat}
	}
	var out []option
	for _, o := range order {
		out = append(out, option{string(o), subjectWords(o), e.Of == string(o)})
	}
	return out
}

func subjectWords(s model.Subject) string {
	switch s {
	case model.Cup:
		return "the cup (the control)"
	case model.Patch:
		return "the test patch"
	case model.Mold:
		return "the mold, at an edge"
	}
	return "the last coat or release"
}

// findingOptions are the answers to how it was found, each a button of its own.
func findingOptions(e entry) []option {
	is := "is"
	if e.Corrects != "" {
		is = "was"
	}
	var out []option
	for _, f := range model.Findings() {
		text := fmt.Sprintf("It %s %s", is, f)
		if f == model.Spoiled {
			text = "Face spoiled"
		}
		out = append(out, option{string(f), text, e.Found == string(f)})
	}
	return out
}

// checkFinding says in a sentence what a check lacks.
func checkFinding(m model.Mark) error {
	switch {
	case m.Kind != model.Checked:
		return nil
	case !slices.Contains(subjects(), m.Of):
		return errors.New("say what was touched: the cup, the patch, the mold or the coat")
	case m.Found == "":
		return errors.New("say how it was found: " + findingList())
	case !slices.Contains(model.Findings(), m.Found):
		return fmt.Errorf("nothing is found %q: say %s", m.Found, findingList())
	case m.Of == model.Cup && m.Found == model.Spoiled:
		return errors.New("a cup has no face on the pattern that could be spoiled: say firm, tacky or liquid")
	}
	return nil
}

func subjects() []model.Subject {
	return []model.Subject{model.Cup, model.Patch, model.Mold, model.Coat}
}

// findingList names the findings as they are sent.
func findingList() string {
	var names []string
	for _, f := range model.Findings() {
		names = append(names, string(f))
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " or " + names[last]
}
