package assets

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
)

func get(t *testing.T, method, path string, header ...string) *http.Response {
	t.Helper()
	r := httptest.NewRequest(method, path, nil)
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	Handler().ServeHTTP(w, r)
	return w.Result()
}

func TestEveryFileIsServed(t *testing.T) {
	if len(Names()) < 5 {
		t.Fatalf("only %v", Names())
	}
	types := map[string]string{".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".woff2": "font/woff2"}
	hashed := regexp.MustCompile(`^/assets/.+\.[0-9a-f]{12}\.[a-z0-9]+$`)
	for _, name := range Names() {
		path := Path(name)
		if !hashed.MatchString(path) {
			t.Errorf("%s is at %s", name, path)
		}
		kept := get(t, http.MethodGet, path)
		if cache := kept.Header.Get("Cache-Control"); kept.StatusCode != 200 || !strings.Contains(cache, "immutable") {
			t.Errorf("%s: %d, %q", path, kept.StatusCode, cache)
		}
		plain := get(t, http.MethodGet, Root+name)
		if cache := plain.Header.Get("Cache-Control"); plain.StatusCode != 200 || cache != "no-cache" {
			t.Errorf("%s: %d, %q", Root+name, plain.StatusCode, cache)
		}
		for _, response := range []*http.Response{kept, plain} {
			if got, want := response.Header.Get("Content-Type"), types[filepath.Ext(name)]; want == "" || !strings.HasPrefix(got, want) {
				t.Errorf("%s has type %q, want %q", name, got, want)
			}
			if response.Header.Get("X-Content-Type-Options") != "nosniff" {
				t.Errorf("%s: type may be guessed", name)
			}
		}
		again := get(t, http.MethodGet, Root+name, "If-None-Match", plain.Header.Get("ETag"))
		if again.StatusCode != http.StatusNotModified {
			t.Errorf("%s asked again: %d", name, again.StatusCode)
		}
	}
}

func TestHandlerRefuses(t *testing.T) {
	for _, path := range []string{Root, Root + "nothing.css", Root + "fonts/", Root + "assets.go", Root + "../assets.go", Path("nothing.js"),
		Root + "fonts/B612-Regular.000000000000.woff2"} {
		if got := get(t, http.MethodGet, path).StatusCode; got != http.StatusNotFound {
			t.Errorf("%s: %d", path, got)
		}
	}
	if got := get(t, http.MethodPost, Path("fonts/B612-Regular.woff2")); got.StatusCode != http.StatusMethodNotAllowed || got.Header.Get("Allow") != "GET, HEAD" {
		t.Errorf("POST: %d", got.StatusCode)
	}
	if got := get(t, http.MethodHead, Path("fonts/B612-Regular.woff2")); got.StatusCode != 200 || got.ContentLength != 0 && got.Header.Get("Content-Length") == "" {
		t.Errorf("HEAD: %d", got.StatusCode)
	}
}

// What served stylesheets and scripts refer to is served, under its hash.
func TestReferencesAreServed(t *testing.T) {
	seen := 0
	for _, name := range Names() {
		pattern, ok := references[filepath.Ext(name)]
		if !ok {
			continue
		}
		content, _ := Read(name)
		for _, match := range pattern.FindAllSubmatch(content, -1) {
			if path := string(match[2]); strings.HasPrefix(path, Root) {
				seen++
				if got := get(t, http.MethodGet, path); got.StatusCode != 200 || !strings.Contains(got.Header.Get("Cache-Control"), "immutable") {
					t.Errorf("%s refers to %s: %d", name, path, got.StatusCode)
				}
			}
		}
	}
	if seen < 4 {
		t.Errorf("only %d references found: the four fonts alone are more", seen)
	}
}

func TestLoadRewrites(t *testing.T) {
	files, err := load(fstest.MapFS{
		"a.css":         {Data: []byte(`x{src:url(fonts/f.woff2)} y{src:url("/assets/i.svg")} z{src:url(data:image/png;base64,AA)} w{fill:url(#g)}`)},
		"a.js":          {Data: []byte("import { b } from \"./b.js\";\nimport './b.js';\nconst c = await import(\"./b.js\");\nimport x from \"https://example.org/x.js\";")},
		"b.js":          {Data: []byte("export const b = 1;")},
		"i.svg":         {Data: []byte("<svg/>")},
		"fonts/f.woff2": {Data: []byte("font")},
	})
	if err != nil {
		t.Fatal(err)
	}
	want := "x{src:url(" + files["fonts/f.woff2"].path + `)} y{src:url("` + files["i.svg"].path + `")} z{src:url(data:image/png;base64,AA)} w{fill:url(#g)}`
	if got := string(files["a.css"].content); got != want {
		t.Errorf("stylesheet: %s, want %s", got, want)
	}
	b := files["b.js"].path
	want = "import { b } from \"" + b + "\";\nimport '" + b + "';\nconst c = await import(\"" + b + "\");\nimport x from \"https://example.org/x.js\";"
	if got := string(files["a.js"].content); got != want {
		t.Errorf("script: %s, want %s", got, want)
	}
}

// A change in a file changes its address and that of every file it is used in.
func TestAddressFollowsContent(t *testing.T) {
	paths := func(font string) [2]string {
		files, err := load(fstest.MapFS{"a.css": {Data: []byte("url(f.woff2)")}, "f.woff2": {Data: []byte(font)}})
		if err != nil {
			t.Fatal(err)
		}
		return [2]string{files["a.css"].path, files["f.woff2"].path}
	}
	one, same, other := paths("one"), paths("one"), paths("other")
	if one != same || one[0] == other[0] || one[1] == other[1] {
		t.Errorf("%v, %v, %v", one, same, other)
	}
}

func TestLoadRefuses(t *testing.T) {
	for name, fsys := range map[string]fstest.MapFS{
		"missing": {"a.css": {Data: []byte("url(gone.woff2)")}},
		"circle":  {"a.js": {Data: []byte(`import "./b.js"`)}, "b.js": {Data: []byte(`import "./a.js"`)}},
		"type":    {"a.exe": {Data: []byte("x")}},
	} {
		if _, err := load(fsys); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

// Each vendored file stands in VENDORED.md with the licence beside it.
func TestVendoredFilesAreListed(t *testing.T) {
	list, err := os.ReadFile("VENDORED.md")
	if err != nil {
		t.Fatal(err)
	}
	fonts, err := filepath.Glob("fonts/*.woff2")
	if err != nil || len(fonts) == 0 {
		t.Fatalf("fonts: %v, %v", fonts, err)
	}
	for _, font := range fonts {
		if !strings.Contains(string(list), font) {
			t.Errorf("%s isn't listed", font)
		}
		data, err := os.ReadFile(font)
		if err != nil || !strings.HasPrefix(string(data), "wOF2") {
			t.Errorf("%s is no WOFF 2 file (%v)", font, err)
		}
	}
	licence, err := os.ReadFile("fonts/OFL.txt")
	if err != nil || !strings.Contains(string(licence), "SIL OPEN FONT LICENSE Version 1.1") {
		t.Errorf("licence: %v", err)
	}
}
