package page

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/model"
	"pourward/model/material"
)

const patchesPath = "/patches"

func patchPath(name string) string { return patchesPath + "/" + url.PathEscape(name) }

// trialView is what was tried on a face, in words.
type trialView struct {
	Prep, Material string
	Word, Class    string     // how it came out
	Says           string     // how cold, when, of which lot
	Cold, When     string     // for the table; a dash where not told
	Patches        []linkView // newest first
}

type linkView struct{ Href, Text string }

// faceView is everything tried on one face.
type faceView struct {
	Face   string
	Risks  []model.Risk
	Trials []trialView
}

// patchView is a patch in words.
type patchView struct {
	Name, Href            string
	Face, Prep, Material  string
	Place, Set, Lot       string
	Word, Class           string // its state
	Says, When, Cold      string
	Do, Cautions, Sources []string
	Why                   []string
	Risks                 []model.Risk
}

// patchesView is the page of all patches.
type patchesView struct {
	frame
	Faces   []faceView
	Open    []patchView // to be read
	Read    []patchView // newest first
	Form    markForm
	NoList  string
	Example bool // nothing was tried yet
}

func (s *site) patches(w http.ResponseWriter, r *http.Request) {
	s.showPatches(w, r, http.StatusOK, nil)
}

// showPatches shows all patches, with an attempt to set one that failed if there is one.
func (s *site) showPatches(w http.ResponseWriter, r *http.Request, status int, failed *attempt) {
	snap, v := s.look(r)
	if failed == nil {
		status = statusOf(snap)
	}
	o := outlookOf(snap)
	view := patchesView{frame: s.frame(v, snap, "Test patches", patchesPath), Faces: s.faces(v, o), NoList: model.NoListIsComplete}
	view.Example = len(o.Patches) == 0
	for i := range slices.Backward(o.Patches) {
		p := s.patchWords(v, &o.Patches[i])
		if o.Patches[i].Open() {
			view.Open = append(view.Open, p)
			continue
		}
		view.Read = append(view.Read, p)
	}
	e := entry{Kind: string(model.PatchOn), Mold: freeName(o), Seen: "0", Material: usualRubber(o)}
	if failed != nil {
		e = failed.entry
		view.Complaint, view.FormAt = failed.complaint, formID(e)
	}
	view.Form = s.form(e, nil)
	view.Form.Open = failed != nil || view.Example
	s.render(w, r, status, "patches", view)
}

// usualRubber is what the newest mold or patch is of; empty where nothing says.
func usualRubber(o *model.Outlook) string {
	name, newest := "", time.Time{}
	for i := range o.Molds {
		if m := &o.Molds[i]; m.Rubber != "" && m.Begun.After(newest) {
			name, newest = m.Rubber, m.Begun
		}
	}
	for i := range o.Patches {
		if p := &o.Patches[i]; p.Set.After(newest) {
			name, newest = p.Material, p.Set
		}
	}
	return name
}

// freeName is a short name that neither a patch nor a mold has.
func freeName(o *model.Outlook) string {
	for n := len(o.Patches) + 1; ; n++ {
		name := "p" + strconv.Itoa(n)
		_, patch := o.Patch(name)
		if _, mold := o.Mold(name); !patch && !mold {
			return name
		}
	}
}

// faces puts trials of one face together; they come in order of their faces.
func (s *site) faces(v voice, o *model.Outlook) []faceView {
	var out []faceView
	last := ""
	for _, t := range o.Trials {
		if key := model.PlainFace(t.Face); len(out) == 0 || key != last {
			out, last = append(out, faceView{Face: capital(t.Face)}), key
		}
		f := &out[len(out)-1]
		f.Trials = append(f.Trials, s.trial(v, t))
		if p, ok := o.Patch(t.Patches[0]); ok && len(f.Risks) == 0 {
			f.Risks = p.Risks
		}
	}
	return out
}

func (s *site) trial(v voice, t model.Trial) trialView {
	out := trialView{Prep: capital(s.prepWords(t.Prep)), Material: s.materialTitle(t.Material), Cold: "—", When: "—"}
	for _, name := range t.Patches {
		out.Patches = append(out.Patches, linkView{patchPath(name), name})
	}
	switch t.Result {
	case model.TrialPassed:
		out.Word, out.Class = "passed", "fit"
	case model.TrialFailed:
		out.Word, out.Class = "failed: do not pour", "notfit"
	case model.TrialDisagree:
		out.Word, out.Class = "patches disagree", "cannot"
	default:
		out.Word, out.Class = "not known yet", "wait"
	}
	if t.Result == model.TrialOpen {
		return out
	}
	out.When = v.at(t.At)
	said := []string{out.When}
	if t.Result == model.TrialPassed || t.Result == model.TrialDisagree {
		out.Cold = v.coldWords(t.Cold)
		said = []string{out.Cold, "found firm " + out.When}
	}
	if t.Lot != "" {
		said = append(said, "lot "+t.Lot)
	}
	if t.Old {
		out.Word, out.Class = "passed too long ago", "cannot"
	}
	out.Says = sentence(strings.Join(said, ", "))
	return out
}

// coldWords tells how cold something was proven.
func (v voice) coldWords(c model.Cold) string {
	if !c.Known {
		return "how cold is not known"
	}
	return "proven at " + v.temp(c.MeanC) + " on the mean, " + v.temp(c.LowestC) + " at the lowest"
}

// vouch tells which patch vouches for a mold, and where to look it up.
func (v voice) vouch(x *model.Vouch) (text, href string) {
	switch {
	case x == nil:
		return "", ""
	case x.Patch == "":
		return sentence("the patch beside this mold vouches, found firm", v.at(x.At)), ""
	}
	return sentence("patch "+x.Patch+" vouches:", v.coldWords(x.Cold)+",", "found firm", v.at(x.At)), patchPath(x.Patch)
}

// prepWords tells a prep in order; coats of one material are counted.
func (s *site) prepWords(prep []string) string {
	var out []string
	for i := 0; i < len(prep); {
		n := i
		for n < len(prep) && prep[n] == prep[i] {
			n++
		}
		words := s.materialTitle(prep[i])
		if n-i > 1 {
			words = fmt.Sprintf("%d%s×%s%s", n-i, nbsp, nbsp, words)
		}
		out, i = append(out, words), n
	}
	if len(out) == 0 {
		return "bare"
	}
	return strings.Join(out, ", then ")
}

func (s *site) patchWords(v voice, p *model.PatchOutlook) patchView {
	out := patchView{
		Name: p.Name, Href: patchPath(p.Name), Face: p.Face, Prep: capital(s.prepWords(p.Prep)), Material: s.materialTitle(p.Material),
		Place: p.Place, Set: v.at(p.Set), Lot: p.Lot, Word: string(p.State), Class: patchClass(p.State),
		Says: sentence(p.Says), When: v.patchWhen(p), Do: p.Do, Cautions: p.Cautions, Sources: p.Sources, Why: p.Cure.Why, Risks: p.Risks,
	}
	if p.State == model.PatchDue {
		out.Word = "touch it now"
	}
	if p.State == model.PatchPassed {
		out.Cold = sentence(v.coldWords(p.Cold))
	}
	return out
}

func patchClass(state model.PatchState) string {
	switch state {
	case model.PatchPassed:
		return "fit"
	case model.PatchFailed, model.PatchBadBatch:
		return "notfit"
	case model.PatchUnsure:
		return "cannot"
	}
	return "wait"
}

// patchWhen says when to touch a patch, or when it was read.
func (v voice) patchWhen(p *model.PatchOutlook) string {
	switch {
	case !p.ReadAt.IsZero() && p.State == model.PatchPassed:
		return sentence("found firm", v.at(p.ReadAt)+",", v.until(p.ReadAt))
	case !p.ReadAt.IsZero():
		return sentence("last touched", v.at(p.ReadAt))
	case !p.Open():
		return ""
	case !p.Cure.Band.Told():
		return v.cannotSay(p.Cure)
	case p.State == model.PatchDue:
		return sentence("due since", v.at(ceil(p.TouchFrom(), time.Minute)))
	}
	b := rounded(p.Cure.Band)
	text := "touch it from " + v.at(b.Latest) + " on"
	if b.Earliest.After(v.now) {
		text += "; not firm before " + v.near(b.Earliest, b.Latest)
	}
	return sentence(text)
}

// patchPage is the page of one patch.
type patchPage struct {
	frame
	Patch  patchView
	Check  markForm
	Marks  []markRow
	NoList string
}

func (s *site) patch(w http.ResponseWriter, r *http.Request) {
	s.showPatch(w, r, r.PathValue("name"), http.StatusOK, nil)
}

// showPatch shows a patch, with an attempt at a mark that failed if there is one.
func (s *site) showPatch(w http.ResponseWriter, r *http.Request, name string, status int, failed *attempt) {
	snap, v := s.look(r)
	notice := v.recorded(r.URL.Query(), snap)
	p, ok := outlookOf(snap).Patch(name)
	if !ok {
		s.missing(w, r, status, failed, missing{statusOf(snap), "patch", name, notice,
			fmt.Sprintf("No patch called %q is on record, or it was never read and is long over.", name)})
		return
	}
	as := &model.MoldOutlook{Name: p.Name, Poured: true, Marks: p.Marks}
	view := patchPage{frame: s.frame(v, snap, "Patch "+p.Name, patchPath(p.Name)), Patch: s.patchWords(v, p), NoList: model.NoListIsComplete}
	view.Notice, view.Marks = notice, s.markRows(v, as, failed)
	e := entry{Kind: string(model.Checked), Mold: p.Name, Seen: seen(as)}
	if failed != nil && failed.Corrects == "" {
		e = failed.entry
		e.Seen = seen(as)
	}
	view.Check = s.form(e, as)
	onPatch(&view.Check)
	for i := range view.Marks {
		onPatch(&view.Marks[i].Correct)
	}
	if failed != nil {
		view.Complaint, view.FormAt = failed.complaint, formID(failed.entry)
	}
	s.render(w, r, status, "patch", view)
}

// onPatch leaves of what can be touched what a patch has.
func onPatch(f *markForm) {
	var left []option
	for _, of := range []model.Subject{model.Patch, model.Cup} {
		for _, o := range f.Subjects {
			if o.Value == string(of) {
				left = append(left, o)
			}
		}
	}
	f.Subjects = left
}

// isPatch reports whether a mark is of a patch.
func isPatch(o *model.Outlook, kind, name string) bool {
	_, known := o.Patch(name)
	return known || kind == string(model.PatchOn)
}

// facesUsed are the faces that were typed before, newest first, each once.
func (s *site) facesUsed() []string {
	if s.opts.Snapshot == nil {
		return nil
	}
	o := outlookOf(s.opts.Snapshot())
	var out, keys []string
	add := func(face string) {
		if key := model.PlainFace(face); key != "" && !slices.Contains(keys, key) {
			out, keys = append(out, face), append(keys, key)
		}
	}
	for i := range slices.Backward(o.Patches) {
		add(o.Patches[i].Face)
	}
	for i := range slices.Backward(o.Molds) {
		add(o.Molds[i].Face)
	}
	return out
}

// prepLayers is how many layers of a prep the form offers where no more were typed.
const prepLayers = 4

// prepLayer is one layer of a prep, counted from the face.
type prepLayer struct {
	N       int
	Options []option
}

// preps offers the layers of a prep, the first one first.
func (s *site) preps(typed string) []prepLayer {
	var names []string
	for _, name := range strings.Split(typed, ",") {
		if name = strings.TrimSpace(name); name != "" {
			names = append(names, name)
		}
	}
	out := make([]prepLayer, 0, prepLayers)
	for i := range max(prepLayers, len(names)) {
		chosen, none := "", "nothing more"
		if i < len(names) {
			chosen = names[i]
		}
		if i == 0 {
			none = "nothing: bare"
		}
		out = append(out, prepLayer{i + 1, s.materials(chosen, none, material.Sealer, material.Release)})
	}
	return out
}
