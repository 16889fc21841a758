package access

import (
	"cmp"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"pourward/dashboards/page"
)

// Lasting is how long links may last.
const (
	ShortestLink = time.Minute
	LongestLink  = 90 * 24 * time.Hour
	mostLinks    = 500
)

// keptLink is a link as it is on disk: by the hash of its token.
type keptLink struct {
	ID    string    `json:"id"`
	Hash  string    `json:"sha256"`
	Mold  string    `json:"mold"`
	By    string    `json:"by,omitempty"`
	Made  time.Time `json:"made"`
	Until time.Time `json:"until"`
}

// Links are the links to one mold each that were handed out. It implements [page.Links].
type Links struct {
	file string
	now  func() time.Time

	mu   sync.Mutex
	kept []keptLink
}

var _ page.Links = (*Links)(nil)

// OpenLinks reads the links that were handed out. now is the shop's clock. The file need not exist.
func OpenLinks(file string, now func() time.Time) (*Links, error) {
	l := &Links{file: file, now: now}
	text, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return l, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read the links: %w", err)
	}
	if err := json.Unmarshal(text, &l.kept); err != nil {
		return nil, fmt.Errorf("read the links: %s is damaged: %w; move it away, and hand out new links", file, err)
	}
	return l, nil
}

// Make implements [page.Links].
func (l *Links) Make(mold string, lasts time.Duration, by string) (page.Link, error) {
	if lasts < ShortestLink || lasts > LongestLink {
		return page.Link{}, errors.New("a link lasts from a minute to 90 days")
	}
	token, hash := newSecret()
	id := make([]byte, 4)
	_, _ = rand.Read(id) // never fails (package crypto/rand)
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	open := l.open(now)
	if len(open) >= mostLinks {
		return page.Link{}, fmt.Errorf("%d links are open, which is the most there can be; revoke some", mostLinks)
	}
	k := keptLink{ID: hex.EncodeToString(id), Hash: hex.EncodeToString(hash[:]), Mold: mold, By: by, Made: now.UTC(), Until: now.Add(lasts).UTC()}
	if err := l.keep(append(open, k)); err != nil {
		return page.Link{}, err
	}
	made := k.shown()
	made.Token = token
	return made, nil
}

// open are the links that have not expired.
func (l *Links) open(now time.Time) []keptLink {
	return slices.DeleteFunc(slices.Clone(l.kept), func(k keptLink) bool { return !now.Before(k.Until) })
}

// Of implements [page.Links].
func (l *Links) Of(mold string) []page.Link {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []page.Link
	for _, k := range l.open(l.now()) {
		if mold == "" || k.Mold == mold {
			out = append(out, k.shown())
		}
	}
	slices.SortStableFunc(out, func(a, b page.Link) int { return cmp.Or(cmp.Compare(a.Mold, b.Mold), a.Until.Compare(b.Until)) })
	return out
}

// Revoke implements [page.Links].
func (l *Links) Revoke(id string) (page.Link, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	open := l.open(l.now())
	i := slices.IndexFunc(open, func(k keptLink) bool { return k.ID == id })
	if i < 0 {
		return page.Link{}, fmt.Errorf("there is no link %.40q: it was revoked, has expired, or never was", id)
	}
	revoked := open[i].shown()
	return revoked, l.keep(slices.Delete(open, i, i+1))
}

// Opens implements [page.Links].
func (l *Links) Opens(token string) (mold string, ok bool) {
	hash := sha256.Sum256([]byte(token))
	text := hex.EncodeToString(hash[:])
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, k := range l.open(l.now()) {
		if k.Hash == text { // that it is compared in parts tells nothing: the hash of what is sent cannot be chosen
			return k.Mold, true
		}
	}
	return "", false
}

func (k keptLink) shown() page.Link {
	return page.Link{ID: k.ID, Mold: k.Mold, By: k.By, Made: k.Made, Until: k.Until}
}

// keep puts the links on disk, whole or not at all, before anyone is told. Nobody else may read them.
func (l *Links) keep(links []keptLink) error {
	text, err := json.MarshalIndent(links, "", " ")
	if err != nil {
		return fmt.Errorf("keep the links: %w", err)
	}
	if err := writeWhole(l.file, append(text, '\n')); err != nil {
		return fmt.Errorf("keep the links: %w", err)
	}
	l.kept = links
	return nil
}

func writeWhole(file string, text []byte) (err error) {
	dir := filepath.Dir(file)
	f, err := os.CreateTemp(dir, filepath.Base(file)+".new-*") // mode 0600
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name()) // it is nothing, or in nobody's way
		}
	}()
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), file); err != nil {
		return err
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
