package page

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"mime"
	"net/http"
	"path"
	"strings"

	"github.com/go-chi/chi/v5"
)

//go:embed assets/*
var assetFiles embed.FS

// assets are the files beside the pages, by the name that holds their hash: a
// changed file has another address, so that browsers may keep each for ever.
type assets struct {
	files map[string][]byte // by hashed name
	names map[string]string // plain to hashed
}

func readAssets() assets {
	a := assets{files: map[string][]byte{}, names: map[string]string{}}
	entries, _ := assetFiles.ReadDir("assets") // embedded: cannot fail
	for _, e := range entries {
		body, _ := assetFiles.ReadFile("assets/" + e.Name())
		sum := sha256.Sum256(body)
		ext := path.Ext(e.Name())
		hashed := strings.TrimSuffix(e.Name(), ext) + "-" + hex.EncodeToString(sum[:6]) + ext
		a.files[hashed], a.names[e.Name()] = body, hashed
	}
	return a
}

func (a assets) path(name string) string { return "/assets/" + a.names[name] }

func (s *Site) asset(w http.ResponseWriter, r *http.Request) {
	name := chi.URLParam(r, "name")
	body, ok := s.assets.files[name]
	if !ok {
		s.strange(w, r).fail(errNoPage)
		return
	}
	w.Header().Set("Content-Type", mime.TypeByExtension(path.Ext(name)))
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, _ = w.Write(body) // the reader has gone: nobody is left to tell
}
