package page

import (
	"context"
	"encoding/json"
	"errors"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"

	"pourward/model"
)

// attempt is a mark that was not taken, with the sentence that says why.
type attempt struct {
	entry
	complaint string
}

// postMark takes one mark from a form or a command.
func (s *site) postMark(w http.ResponseWriter, r *http.Request) {
	if !s.parseForm(w, r) {
		return
	}
	if s.opts.Record == nil {
		s.refuse(w, r, http.StatusServiceUnavailable, "This page only shows; marks are entered elsewhere.")
		return
	}
	typed := entryOf(r.PostForm)
	snap, v := s.look(r)
	known, _ := outlookOf(snap).Mold(typed.Mold)
	if p, ok := outlookOf(snap).Patch(typed.Mold); ok {
		known = &model.MoldOutlook{Name: p.Name, Marks: p.Marks}
	}
	mark, err := typed.mark(v.now, v.zone, known)
	if err != nil {
		s.fail(w, r, http.StatusUnprocessableEntity, typed, err)
		return
	}
	mark.EnteredBy = v.visitor.Name // never what a form says
	done, err := s.recent.record(r.Context(), r.PostForm, typed.Seen != "", mark, s.opts.Record)
	switch {
	case err == nil:
		s.taken(w, r, v, done)
	case s.opts.Refused(err):
		s.fail(w, r, http.StatusUnprocessableEntity, typed, err)
	default:
		s.opts.Log.Error("mark not recorded", "mark", mark.String(), "error", err)
		s.fail(w, r, http.StatusServiceUnavailable, typed, err)
	}
}

// parseForm reads the body; false means that the request was answered already.
func (s *site) parseForm(w http.ResponseWriter, r *http.Request) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/x-www-form-urlencoded" {
		s.refuse(w, r, http.StatusUnsupportedMediaType, "Marks are sent as a form (application/x-www-form-urlencoded).")
		return false
	}
	var tooLarge *http.MaxBytesError
	switch err := r.ParseForm(); {
	case errors.As(err, &tooLarge):
		s.refuse(w, r, http.StatusRequestEntityTooLarge, "That was too long: a mark has room for 64 KiB, notes included.")
		return false
	case err != nil:
		s.refuse(w, r, http.StatusBadRequest, "The form could not be read; go back and enter it again.")
		return false
	}
	return true
}

// taken answers a mark that was recorded.
func (s *site) taken(w http.ResponseWriter, r *http.Request, v voice, m model.Mark) {
	if wantsJSON(r) {
		told := m.String() + ", " + strings.ReplaceAll(v.at(m.At), nbsp, " ")
		writeJSON(w, http.StatusOK, map[string]any{"id": m.ID, "told": told})
		return
	}
	q := url.Values{"marked": {strconv.FormatInt(m.ID, 10)}}
	to := moldPath(m.Mold)
	if snap, _ := s.look(r); isPatch(outlookOf(snap), string(m.Kind), m.Mold) {
		to = patchPath(m.Mold)
	}
	http.Redirect(w, r, to+"?"+q.Encode(), http.StatusSeeOther)
}

// fail answers a mark that was not taken: the same page again, with what was typed.
func (s *site) fail(w http.ResponseWriter, r *http.Request, status int, typed entry, err error) {
	complaint := sentence(err.Error())
	if wantsJSON(r) {
		writeJSON(w, status, map[string]string{"error": complaint})
		return
	}
	failed := &attempt{typed, complaint}
	if typed.Kind == string(model.Begun) && typed.Corrects == "" {
		s.showBegin(w, r, status, failed)
		return
	}
	snap, _ := s.look(r)
	switch {
	case !isPatch(outlookOf(snap), typed.Kind, typed.Mold):
		s.showMold(w, r, typed.Mold, status, failed)
	case typed.Kind == string(model.PatchOn) && typed.Corrects == "":
		s.showPatches(w, r, status, failed)
	default:
		s.showPatch(w, r, typed.Mold, status, failed)
	}
}

// refuse answers a request of which nothing can be kept.
func (s *site) refuse(w http.ResponseWriter, r *http.Request, status int, text string) {
	if wantsJSON(r) || s.opts.Door.Visitor(r) == (Visitor{}) {
		s.turnAway(w, r, status, text)
		return
	}
	s.message(w, r, status, "Not recorded", text)
}

func wantsJSON(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

func writeJSON(w http.ResponseWriter, status int, value any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(value) // the client is gone; there is nobody to tell
}

// recent remembers the marks last taken from forms. A gloved finger taps twice: the same form sent
// again is the same mark, not a second coat. A form made after the mark was taken differs in "seen".
type recent struct {
	mu    sync.Mutex
	forms []string // oldest first
	marks map[string]model.Mark
}

const recentForms = 64

func newRecent() *recent { return &recent{marks: map[string]model.Mark{}} }

// record keeps a mark through keep, unless guarded and the very same form was taken before.
func (c *recent) record(ctx context.Context, form url.Values, guarded bool, m model.Mark, keep func(context.Context, model.Mark) (model.Mark, error)) (model.Mark, error) {
	if !guarded {
		return keep(ctx, m)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	key := form.Encode()
	if done, ok := c.marks[key]; ok {
		return done, nil
	}
	done, err := keep(ctx, m)
	if err != nil {
		return done, err
	}
	if len(c.forms) == recentForms {
		delete(c.marks, c.forms[0])
		c.forms = c.forms[1:]
	}
	c.forms = append(c.forms, key)
	c.marks[key] = done
	return done, nil
}
