// Package assets holds the files every page needs, built into the program, and
// gives each an address that changes with its content, so that a browser may
// keep it for good.
//
// A file placed beside this one (*.css, *.js, *.svg) or in fonts/ is served at
// once. Inside stylesheets, url(…) of a file here, and inside scripts, imports
// of one ("./page.js"), are changed to the address with the hash.
package assets

import (
	"bytes"
	"embed"
	"net/http"
	"slices"
	"time"
)

//go:embed *.css *.js *.svg fonts/*.woff2
var embedded embed.FS

// Root is where Handler's addresses begin.
const Root = "/assets/"

var files = mustLoad(embedded)

// Path is the address of a file, such as "/assets/page.0a1b2c3d4e5f.js" for
// "page.js". A name that isn't here gives "/assets/" and the name, which
// answers 404.
func Path(name string) string {
	if f, ok := files[name]; ok {
		return f.path
	}
	return Root + name
}

// Read is a file as served. It reports false if there is none of that name.
func Read(name string) ([]byte, bool) {
	f, ok := files[name]
	if !ok {
		return nil, false
	}
	return slices.Clone(f.content), true
}

// Names lists all files, in order, such as a service worker keeps.
func Names() []string {
	names := make([]string, 0, len(files))
	for name := range files {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// Handler answers GET and HEAD below Root. An address with the hash may be kept
// for a year and never asked for again; one without is always asked for again
// and answered by 304 if nothing changed. A wrong hash, such as an older
// page's, answers 404 rather than a file of another version.
func Handler() http.Handler {
	type found struct {
		*file
		cache string
	}
	byPath := map[string]found{}
	for name, f := range files {
		byPath[Root+name] = found{f, "no-cache"}
		byPath[f.path] = found{f, "public, max-age=31536000, immutable"}
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "Only GET and HEAD are answered here.", http.StatusMethodNotAllowed)
			return
		}
		f, ok := byPath[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		h := w.Header()
		h.Set("Content-Type", f.mime)
		h.Set("Cache-Control", f.cache)
		h.Set("ETag", `"`+f.hash+`"`)
		h.Set("X-Content-Type-Options", "nosniff")
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(f.content))
	})
}
