package page

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"pourward/model"
)

// built is what a mold is made of as it was typed: materials by name, thicknesses in mm.
type built struct {
	RubberMM, Pattern, PatternMM, Shell, ShellMM, ProbeIn string
}

// builtOf is a build as it would be typed.
func builtOf(b model.Build) built {
	return built{mmWords(b.RubberMM), b.Pattern, mmWords(b.PatternMM), b.Shell, mmWords(b.ShellMM), b.ProbeIn}
}

func mmWords(mm float64) string {
	if mm == 0 {
		return ""
	}
	return strconv.FormatFloat(mm, 'f', -1, 64)
}

// Told reports whether anything was typed.
func (b built) Told() bool { return b != built{} }

// build reads what was typed for a mark of a kind. The error is a sentence for the maker. Whether layers
// fit together is judged where the mark is recorded.
func (b built) build(kind model.MarkKind) (model.Build, error) {
	if kind != model.Begun && b.Told() {
		return model.Build{}, errors.New("how thick a mold is belongs to the mark by which it was begun: correct that one")
	}
	out := model.Build{Pattern: b.Pattern, Shell: b.Shell, ProbeIn: b.ProbeIn}
	for _, l := range []struct {
		what, typed string
		mm          *float64
	}{{"rubber", b.RubberMM, &out.RubberMM}, {"pattern", b.PatternMM, &out.PatternMM}, {"shell", b.ShellMM, &out.ShellMM}} {
		mm, err := parseMM(l.typed)
		if err != nil {
			return model.Build{}, fmt.Errorf("cannot read %q as the thickness of the %s: %w", l.typed, l.what, err)
		}
		*l.mm = mm
	}
	return out, nil
}

var errNotMM = errors.New("write it in mm, such as 12 or 12.5 (one inch is 25.4 mm)")

// parseMM reads a thickness.
func parseMM(typed string) (float64, error) {
	mm, err := parseAmount(typed, "mm")
	if err != nil {
		return 0, errNotMM
	}
	return mm, nil
}

// parseAmount reads an amount: plain digits with one decimal point or comma at most, with or without its
// unit behind. Nothing is 0. A comma that may part thousands is not guessed at.
func parseAmount(typed, unit string) (float64, error) {
	if typed == "" {
		return 0, nil
	}
	text := strings.TrimSpace(strings.TrimSuffix(strings.ToLower(typed), strings.ToLower(unit)))
	whole, part, comma := strings.Cut(text, ",")
	if strings.Trim(text, "0123456789.,") != "" || comma && len(part) == 3 && strings.TrimLeft(whole, "0") != "" {
		return 0, notAmount(unit)
	}
	x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		return 0, notAmount(unit)
	}
	return x, nil
}

func notAmount(unit string) error {
	return fmt.Errorf("write it in %s, such as 12 or 12.5", unit)
}

// buildWords tells a build in a few words; nothing for one that was not told.
func buildWords(b model.Build) string {
	var layers []string
	for _, l := range []struct {
		before, of string
		mm         float64
	}{{"", "rubber", b.RubberMM}, {"on ", b.Pattern, b.PatternMM}, {"under ", b.Shell, b.ShellMM}} {
		if l.mm > 0 {
			layers = append(layers, l.before+mmWords(l.mm)+nbsp+"mm of "+l.of)
		}
	}
	if b.ProbeIn == model.InRubber {
		layers = append(layers, "its probe in the rubber")
	}
	return strings.Join(layers, ", ")
}

// probeSpots offers where a mold's own probe may sit.
func probeSpots(chosen string) []option {
	return []option{
		{"", "on the pattern's face", chosen != model.InRubber},
		{model.InRubber, "in the middle of the rubber", chosen == model.InRubber},
	}
}

// buildMaterials offers what patterns and shells may be made of.
func buildMaterials(chosen, none string) []option {
	out := []option{{"", none, chosen == ""}}
	known := chosen == ""
	for _, name := range model.BuildMaterials() {
		known = known || name == chosen
		out = append(out, option{name, capital(name), name == chosen})
	}
	if !known {
		out = append(out, option{chosen, chosen, true})
	}
	return out
}
