package page

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"pourward/model"
	"pourward/model/material"
)

// markForm is a form for one mark, with what was typed before if it was not taken.
type markForm struct {
	entry
	ID         string // prefix of the fields' ids
	Legend     string // what the maker did
	Submit     string
	Open       bool
	Begins     bool // a mold is named
	Checks     bool // a finding is asked
	Moves      bool // a place to move to is asked
	Methods    []option
	Materials  []option
	MaterialIs string // label
	AsksFilm   bool   // a coat on offer has a time that holds for a stated film
	Places     []option
	Surfaces   []option
	Patterns   []option // what the pattern may be made of
	Shells     []option // what may lie on the rubber
	Spots      []option // where the mold's own probe may sit
	Subjects   []option
	Findings   []option // one button each
	Faces      []string // typed before; nil where no face is asked
	FaceAsked  bool
	Preps      []prepLayer // what lies on the face, one list a layer
	ByAgo      bool        // times are better entered as "20 min ago"
	Cautions   []caution
	Complaint  string

	Weighs      bool     // it is asked what was weighed
	WeighedTold bool     // some of that is filled in
	Stood       []option // where the parts may have stood
}

type option struct {
	Value, Text string
	Chosen      bool
}

// caution is what to mind with some materials; For is empty where it is for all on offer.
type caution struct {
	For   string
	Texts []string
}

// nextKinds are the marks that may come next, the likeliest first.
func nextKinds(m *model.MoldOutlook) []model.MarkKind {
	if !m.Open() {
		return []model.MarkKind{model.Checked}
	}
	if len(m.Steps) == 0 {
		return []model.MarkKind{model.CoatOn, model.ReleaseOn, model.Checked, model.Mixed}
	}
	last := m.Steps[len(m.Steps)-1]
	switch {
	case last.Kind == model.WorkingLife && last.Standing != model.Closed:
		return append(onPattern(m), model.Checked, model.Mixed)
	case layerAwaited(m):
		return []model.MarkKind{model.Mixed, model.Checked, model.Demolded}
	case m.Poured:
		return []model.MarkKind{model.Checked, model.Demolded, model.Mixed}
	case last.Kind == model.ReleaseDry:
		return []model.MarkKind{model.Mixed, model.Checked, model.ReleaseOn, model.CoatOn}
	}
	return []model.MarkKind{model.CoatOn, model.ReleaseOn, model.Checked, model.Mixed}
}

// onPattern are the marks by which a mixed batch comes onto the pattern: both ways where none was told.
func onPattern(m *model.MoldOutlook) []model.MarkKind {
	_, brushed := openLayer(m)
	switch {
	case brushed || m.Design.Method.Layered():
		return []model.MarkKind{model.LayerOn}
	case m.Poured || m.Design.Method == model.Block:
		return []model.MarkKind{model.Poured}
	}
	return []model.MarkKind{model.Poured, model.LayerOn}
}

// layerAwaited reports whether another layer may go on.
func layerAwaited(m *model.MoldOutlook) bool {
	s, ok := openLayer(m)
	return ok && (s.Standing != model.Over || m.Design.Layers > 0)
}

// forms are the forms of the marks that may come next, that of mixing with what was to be weighed. A failed attempt at one of them is put back.
func (s *site) forms(v voice, m *model.MoldOutlook, w *weighView, failed *attempt) []markForm {
	var out []markForm
	kinds := nextKinds(m)
	if m.Open() && len(s.places("", "")) > 1 {
		kinds = append(kinds, model.Moved)
	}
	for _, k := range kinds {
		e := entry{Kind: string(k), Mold: m.Name, Seen: seen(m), Material: s.lastUsed(m, k)}
		if k == model.Mixed && w != nil {
			e.Parts, e.Additives = model.PortionsText(w.parts), model.PortionsText(w.additives)
		}
		if k == model.Moved {
			e.Surface = m.Surface
		}
		f := s.form(e, m)
		out = append(out, f)
	}
	if failed == nil || failed.Corrects != "" {
		return out
	}
	typed := failed.entry
	typed.Seen = seen(m)
	again := s.form(typed, m)
	again.Open, again.Complaint = true, failed.complaint
	if i := slices.IndexFunc(out, func(f markForm) bool { return f.Kind == failed.Kind }); i >= 0 {
		out[i] = again
		return out
	}
	return append([]markForm{again}, out...)
}

// seen is the newest mark of a mold, so that a form tells which list of marks it was made from.
func seen(m *model.MoldOutlook) string {
	newest := int64(0)
	for _, mark := range m.Marks {
		newest = max(newest, mark.ID)
	}
	return strconv.FormatInt(newest, 10)
}

// lastUsed is the material likely to be used again.
func (s *site) lastUsed(m *model.MoldOutlook, k model.MarkKind) string {
	name := ""
	if k == model.Mixed {
		name = m.Rubber
	}
	for _, mark := range m.Marks {
		if mark.Kind == k && mark.Material != "" {
			name = mark.Material
		}
	}
	return name
}

// form makes the form for an entry of the kind it names; m is nil where the mold is not known.
func (s *site) form(e entry, m *model.MoldOutlook) markForm {
	f := markForm{entry: e, ID: formID(e), ByAgo: s.clockUnsure()}
	kind, _ := model.ParseMarkKind(e.Kind) // an unknown kind gets the plain form back
	switch kind {
	case model.Begun:
		f.Begins, f.Submit, f.MaterialIs = true, "Begin this mold", "Rubber, resin or plaster planned"
		f.Materials = s.materials(e.Material, "not decided yet", material.Rubber, material.Resin, material.Plaster)
		f.Places, f.Surfaces = s.places(e.Place, ""), s.places(e.Surface, "no probe on the pattern")
		f.Patterns, f.Shells = buildMaterials(e.Pattern, "not told"), buildMaterials(e.Shell, "nothing")
		f.Spots, f.Methods = probeSpots(e.ProbeIn), methodOptions(e.Method)
		f.FaceAsked, f.Faces = true, s.facesUsed()
	case model.PatchOn:
		f.Legend, f.Submit, f.MaterialIs = "Set a patch", "The patch is on", "Rubber, resin or plaster of the patch"
		f.Materials = s.materials(e.Material, "", material.Rubber, material.Resin, material.Plaster)
		f.Places, f.Preps = s.places(e.Place, ""), s.preps(e.Prep)
		f.FaceAsked, f.Faces = true, s.facesUsed()
	case model.CoatOn:
		f.Legend, f.Submit, f.MaterialIs = "Seal coat on", "The coat is on", "Sealer"
		f.Materials = s.materials(e.Material, "", material.Sealer)
	case model.ReleaseOn:
		f.Legend, f.Submit, f.MaterialIs = "Release on", "The release is on", "Release agent"
		f.Materials = s.materials(e.Material, "", material.Release)
	case model.Mixed:
		f.Legend, f.Submit, f.MaterialIs = "Mixed", "The two parts met", "Mixed"
		f.Materials = s.materials(e.Material, "", material.Rubber, material.Resin, material.Plaster)
		f.Weighs, f.Stood = true, s.places(e.From, "not told")
		f.WeighedTold = e.Parts != "" || e.Additives != "" || e.Lot != "" || e.From != ""
	case model.Checked:
		f.Legend, f.Checks, f.Subjects, f.Findings = "Touched it", true, subjectOptions(e, m), findingOptions(e)
	case model.Poured:
		f.Legend, f.Submit = "Poured", "It is on the pattern"
	case model.LayerOn:
		f.Legend, f.Submit = "Layer on", "The layer is on"
	case model.Moved:
		f.Legend, f.Submit, f.Moves = "Moved", "It stands there now", true
		f.Places, f.Surfaces = s.places(e.Place, ""), s.places(e.Surface, "none: it was left behind, or there is none")
		if e.Corrects == "" && m != nil {
			f.Places = slices.DeleteFunc(f.Places, func(o option) bool { return o.Value == m.Place })
		}
	case model.Demolded:
		f.Legend, f.Submit = "Demolded", "The mold is off"
	case model.Withdrawn:
		f.Legend, f.Submit = "Withdraw", "It never happened"
	default:
		f.Legend, f.Submit = "Mark", "Record"
	}
	f.AsksFilm = (kind == model.CoatOn || kind == model.ReleaseOn) && s.statesFilm(f.Materials)
	if e.Corrects == "" {
		f.Cautions = s.cautions(kind, f.Materials, e.Material)
	}
	return f
}

// statesFilm reports whether a material on offer has a dry time that holds for a film of a stated thickness.
func (s *site) statesFilm(offered []option) bool {
	return slices.ContainsFunc(offered, func(o option) bool {
		m, err := s.opts.Shelf.Find(o.Value)
		return err == nil && m.Coat.FilmMicrometers > 0
	})
}

func formID(e entry) string {
	id := "mark-" + shortName(e.Kind)
	if e.Corrects != "" {
		id += "-" + shortName(e.Corrects)
	}
	return id
}

// methodOptions are the ways to make a mold.
func methodOptions(chosen string) []option {
	out := []option{{"", "not told", chosen == ""}}
	for _, m := range model.Methods() {
		out = append(out, option{string(m), capital(string(m)), string(m) == chosen})
	}
	return out
}

func (s *site) materials(chosen, none string, kinds ...material.Kind) []option {
	var out []option
	if none != "" {
		out = append(out, option{"", none, chosen == ""})
	}
	known := chosen == ""
	for _, m := range s.opts.Shelf.OfKind(kinds...) {
		out = append(out, option{m.Name, m.Title, m.Name == chosen})
		known = known || m.Name == chosen
	}
	if !known {
		out = append(out, option{chosen, chosen, true})
	}
	return out
}

func (s *site) places(chosen, none string) []option {
	var out []option
	if none != "" {
		out = append(out, option{"", none, chosen == ""})
	}
	names := slices.Clone(s.opts.Places)
	if s.opts.Snapshot != nil {
		for _, p := range outlookOf(s.opts.Snapshot()).Places {
			if !slices.Contains(names, p.Name) {
				names = append(names, p.Name)
			}
		}
	}
	for _, n := range names {
		out = append(out, option{n, capital(n), n == chosen})
	}
	return out
}

// cautions are those of the materials on offer, each once under the materials it is for; those of the
// one chosen come first.
func (s *site) cautions(kind model.MarkKind, offered []option, chosen string) []caution {
	if !slices.Contains([]model.MarkKind{model.CoatOn, model.ReleaseOn, model.Mixed, model.PatchOn}, kind) {
		return nil
	}
	var texts []string              // in order
	titles := map[string][]string{} // by text
	for _, name := range append([]string{chosen}, values(offered)...) {
		m, err := s.opts.Shelf.Find(name)
		if err != nil {
			continue
		}
		for _, text := range m.Cautions {
			if titles[text] == nil {
				texts = append(texts, text)
			}
			if !slices.Contains(titles[text], m.Title) {
				titles[text] = append(titles[text], m.Title)
			}
		}
	}
	return groups(texts, titles, len(offered))
}

// groups puts cautions for the same materials together.
func groups(texts []string, titles map[string][]string, all int) []caution {
	var out []caution
	for _, text := range texts {
		of := strings.Join(titles[text], "; ")
		if len(titles[text]) >= all {
			of = ""
		}
		if n := len(out); n > 0 && out[n-1].For == of {
			out[n-1].Texts = append(out[n-1].Texts, text)
			continue
		}
		out = append(out, caution{of, []string{text}})
	}
	return out
}

func values(options []option) []string {
	out := make([]string, 0, len(options))
	for _, o := range options {
		out = append(out, o.Value)
	}
	return out
}

// beginView is the page on which a mold is begun.
type beginView struct {
	frame
	Form markForm
}

func (s *site) begin(w http.ResponseWriter, r *http.Request) {
	s.showBegin(w, r, http.StatusOK, nil)
}

func (s *site) showBegin(w http.ResponseWriter, r *http.Request, status int, failed *attempt) {
	snap, v := s.look(r)
	e := entry{Kind: string(model.Begun), Seen: "0"}
	if failed != nil {
		e = failed.entry
	}
	view := beginView{s.frame(v, snap, "Begin a mold", beginPath), s.form(e, nil)}
	if failed != nil {
		view.Complaint = failed.complaint
	}
	s.render(w, r, status, "begin", view)
}

// showLone shows a failed attempt alone, for a mold that is not shown any more.
func (s *site) showLone(w http.ResponseWriter, r *http.Request, status int, failed *attempt) {
	snap, v := s.look(r)
	view := beginView{s.frame(v, snap, "Not recorded", "/"), s.form(failed.entry, nil)}
	view.Complaint = failed.complaint
	s.render(w, r, status, "begin", view)
}
