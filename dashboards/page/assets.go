package page

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"net/http"
	"path"
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

func loadAssets() assets {
	a := assets{byName: map[string]string{}, byFile: map[string]asset{}}
	entries, _ := assetFiles.ReadDir("assets") // embedded: cannot be missing
	for _, e := range entries {
		data, _ := assetFiles.ReadFile("assets/" + e.Name())
		sum := sha256.Sum256(data)
		ext := path.Ext(e.Name())
		hashed := strings.TrimSuffix(e.Name(), ext) + "-" + hex.EncodeToString(sum[:6]) + ext
		a.byName[e.Name()] = "/assets/" + hashed
		a.byFile[hashed] = asset{data, kindOf(ext)}
	}
	return a
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
