package page

import (
	"errors"
	"net/http"
	"net/url"
)

// LoginPath is where visitors log in.
const LoginPath = "/login"

// Refuse answers a request with a status and one sentence, and with nothing of the shop.
type Refuse func(w http.ResponseWriter, r *http.Request, status int, text string)

// Visitor is someone the door let in.
type Visitor struct {
	Name  string // empty where nobody is asked
	Marks bool   // may enter marks and hand out links, not look only
}

// Door decides who may come in. Its errors are sentences for the visitor.
type Door interface {
	// Guard lets requests through to next, or refuses them.
	Guard(next http.Handler, refuse Refuse) http.Handler
	// Visitor is whom a request that was let through comes from.
	Visitor(r *http.Request) Visitor
	// LogIn lets a visitor in for some time, by a cookie. The error is [ErrTooOften], or says what is
	// wrong.
	LogIn(w http.ResponseWriter, r *http.Request, user, password string) error
	// LogOut ends that, everywhere for all the devices of the visitor.
	LogOut(w http.ResponseWriter, r *http.Request, everywhere bool)
}

// ErrTooOften refuses someone who tries too often.
var ErrTooOften = errors.New("that was tried too often; wait a minute, then try again")

// openDoor lets everyone in to do everything.
type openDoor struct{}

func (openDoor) Guard(next http.Handler, _ Refuse) http.Handler                 { return next }
func (openDoor) Visitor(*http.Request) Visitor                                  { return Visitor{Marks: true} }
func (openDoor) LogIn(http.ResponseWriter, *http.Request, string, string) error { return nil }
func (openDoor) LogOut(_ http.ResponseWriter, _ *http.Request, _ bool)          {}

// loginView is the page on which visitors log in.
type loginView struct {
	frame
	Back string // where the visitor wanted to go
	User string // as typed before
}

func (s *site) login(w http.ResponseWriter, r *http.Request) {
	s.showLogin(w, r, http.StatusOK, loginView{Back: localPath(r.URL.Query().Get("back"))})
}

func (s *site) showLogin(w http.ResponseWriter, r *http.Request, status int, view loginView) {
	complaint := view.Complaint
	view.frame = s.bareFrame("Log in")
	view.Complaint = complaint
	s.renderIn("bare", w, r, status, "login", view)
}

// postLogin lets a visitor in. What was typed as password is never shown again.
func (s *site) postLogin(w http.ResponseWriter, r *http.Request) {
	if !s.parseForm(w, r) {
		return
	}
	view := loginView{Back: localPath(r.PostForm.Get("back")), User: r.PostForm.Get("user")}
	switch err := s.opts.Door.LogIn(w, r, view.User, r.PostForm.Get("password")); {
	case err == nil:
		http.Redirect(w, r, view.Back, http.StatusSeeOther)
	case errors.Is(err, ErrTooOften):
		view.Complaint = sentence(err.Error())
		w.Header().Set("Retry-After", "60")
		s.showLogin(w, r, http.StatusTooManyRequests, view)
	default:
		view.Complaint = sentence(err.Error())
		s.showLogin(w, r, http.StatusForbidden, view)
	}
}

func (s *site) postLogout(w http.ResponseWriter, r *http.Request) {
	if !s.parseForm(w, r) {
		return
	}
	s.opts.Door.LogOut(w, r, r.PostForm.Get("everywhere") != "")
	http.Redirect(w, r, LoginPath, http.StatusSeeOther)
}

// turnAway refuses a request at the door.
func (s *site) turnAway(w http.ResponseWriter, r *http.Request, status int, text string) {
	if wantsJSON(r) {
		writeJSON(w, status, map[string]string{"error": text})
		return
	}
	login := ""
	if status == http.StatusForbidden {
		login = LoginPath + "?" + url.Values{"back": {"/"}}.Encode()
	}
	s.renderIn("bare", w, r, status, "refused", refusedView{s.bareFrame("Refused"), text, login})
}

// refusedView says why someone may not come in.
type refusedView struct {
	frame
	Text  string
	Login string // address; empty where it would not help
}

// bareFrame is around pages that tell nothing of the shop but what they are for.
func (s *site) bareFrame(title string) frame {
	return frame{
		Title: title, Shop: title,
		CSS: s.assets.path("page.css"), JS: s.assets.path("refresh.js"), Icon: s.assets.path("icon.svg"),
		App: s.assets.path("app.webmanifest"), Touch: s.assets.path("icon-192.png"),
	}
}
