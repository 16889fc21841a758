package page

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"slices"
	"strings"
)

//go:embed assets
var assetFiles embed.FS

// assets are the page's own files, served under names that change with their content, so that they may
// be kept for good.
type assets struct {
	byName map[string]string // file name -> address
	byFile map[string]asset  // hashed name -> content
}

type asset struct {
	data []byte
	kind string
}

// workerPath is where the service worker is; it may stand in for pages of its own folder only.
const workerPath = "/worker.js"

// loadAssets reads the files; those that name others come after them, and name them as they are served.
func loadAssets() assets {
	a := assets{byName: map[string]string{}, byFile: map[string]asset{}}
	entries, _ := assetFiles.ReadDir("assets") // embedded: cannot be missing
	slices.SortStableFunc(entries, func(x, y fs.DirEntry) int { return cmp.Compare(namesOthers(x.Name()), namesOthers(y.Name())) })
	for _, e := range entries {
		data, _ := assetFiles.ReadFile("assets/" + e.Name())
		if namesOthers(e.Name()) > 0 {
			data = a.resolved(data)
		}
		sum := sha256.Sum256(data)
		ext := path.Ext(e.Name())
		hashed := strings.TrimSuffix(e.Name(), ext) + "-" + hex.EncodeToString(sum[:6]) + ext
		a.byName[e.Name()] = "/assets/" + hashed
		a.byFile[hashed] = asset{data, kindOf(ext)}
	}
	return a
}

// namesOthers is in which turn a file is read.
func namesOthers(file string) int {
	switch {
	case "/"+file == workerPath:
		return 2
	case path.Ext(file) == ".html" || path.Ext(file) == ".webmanifest":
		return 1
	}
	return 0
}

// resolved puts the addresses of assets where their plain names stand.
func (a assets) resolved(data []byte) []byte {
	for name, at := range a.byName {
		data = bytes.ReplaceAll(data, []byte(`"/assets/`+name+`"`), []byte(`"`+at+`"`))
	}
	return data
}

// kindOf is the media type of the few kinds there are; the system's own table is not asked.
func kindOf(ext string) string {
	switch ext {
	case ".css":
		return "text/css; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	case ".png":
		return "image/png"
	case ".html":
		return "text/html; charset=utf-8"
	case ".webmanifest":
		return "application/manifest+json"
	}
	return "application/octet-stream"
}

// path is the address of the asset called name.
func (a assets) path(name string) string { return a.byName[name] }

func (a assets) serve(w http.ResponseWriter, r *http.Request) {
	file, ok := a.byFile[r.PathValue("file")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", file.kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, _ = w.Write(file.data) // the visitor is gone; there is nobody to tell
}

// serveWorker serves the service worker, which has an address for good, and so is asked for anew.
func (a assets) serveWorker(w http.ResponseWriter, _ *http.Request) {
	file := a.byFile[path.Base(a.path("worker.js"))]
	w.Header().Set("Content-Type", file.kind)
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(file.data) // the visitor is gone; there is nobody to tell
}
