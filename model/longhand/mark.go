package longhand

import (
	"time"

	"pourward/model"
)

// Mark is a [model.Mark] as the longhand has it. Every field of the one is a field of the other: a test
// fills all of them, so that a new one cannot be forgotten.
type Mark struct {
	ID       int64          `json:"id"`
	Kind     model.MarkKind `json:"kind"`
	Mold     string         `json:"mold"`
	At       time.Time      `json:"at"`
	Entered  time.Time      `json:"entered"`
	Corrects int64          `json:"corrects,omitempty"`

	EnteredBy string `json:"entered_by,omitempty"`

	Title    string        `json:"title,omitempty"`
	Place    string        `json:"place,omitempty"`
	Surface  string        `json:"surface,omitempty"`
	Material string        `json:"material,omitempty"`
	Of       model.Subject `json:"of,omitempty"`
	Found    model.Finding `json:"found,omitempty"`
	Build    Build         `json:"build,omitzero"`
	Design   model.Design  `json:"design,omitzero"`
	Face     string        `json:"face,omitempty"`
	Prep     []string      `json:"prep,omitempty"`
	Batch    model.Batch   `json:"batch,omitzero"`
	FilmUM   float64       `json:"film_um,omitempty"`
	Note     string        `json:"note,omitempty"`
}

// Build is a [model.Build] as the longhand has it; thicknesses are in mm.
type Build struct {
	Pattern   string  `json:"pattern,omitempty"`
	PatternMM float64 `json:"pattern_mm,omitempty"`
	RubberMM  float64 `json:"rubber_mm,omitempty"`
	Shell     string  `json:"shell,omitempty"`
	ShellMM   float64 `json:"shell_mm,omitempty"`
	ProbeIn   string  `json:"probe_in,omitempty"`
}

// MarkOf is the mark as it is written.
func MarkOf(m model.Mark) Mark {
	return Mark{
		ID: m.ID, Kind: m.Kind, Mold: m.Mold, At: m.At, Entered: m.Entered, Corrects: m.Corrects, EnteredBy: m.EnteredBy,
		Title: m.Title, Place: m.Place, Surface: m.Surface, Material: m.Material,
		Of: m.Of, Found: m.Found, Build: Build(m.Build),
		Design: m.Design, Face: m.Face, Prep: m.Prep, Batch: m.Batch, FilmUM: m.FilmUM, Note: m.Note,
	}
}

// Mark is the mark as it is kept.
func (m Mark) Mark() model.Mark {
	return model.Mark{
		ID: m.ID, Kind: m.Kind, Mold: m.Mold, At: instant(m.At), Entered: instant(m.Entered), Corrects: m.Corrects, EnteredBy: m.EnteredBy,
		Title: m.Title, Place: m.Place, Surface: m.Surface, Material: m.Material,
		Of: m.Of, Found: m.Found, Build: model.Build(m.Build),
		Design: m.Design, Face: m.Face, Prep: m.Prep, Batch: m.Batch, FilmUM: m.FilmUM, Note: m.Note,
	}
}
