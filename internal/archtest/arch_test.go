package archtest

import (
	"encoding/json"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// pkg is what go list says of one package of ours.
type pkg struct {
	ImportPath string
	Imports    []string // direct, production code only
	Deps       []string
}

func packages(t *testing.T) []pkg {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports,Deps", "tagalong/...")
	cmd.Dir = "../.."
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []pkg
	d := json.NewDecoder(strings.NewReader(string(out)))
	for d.More() {
		var p pkg
		if err := d.Decode(&p); err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	if len(all) < 20 {
		t.Fatalf("only %d packages found", len(all))
	}
	return all
}

// standard reports whether an import is of the standard library.
func standard(path string) bool {
	first, _, _ := strings.Cut(path, "/")
	return !strings.Contains(first, ".") && first != "tagalong"
}

func under(path string, roots ...string) bool {
	return slices.ContainsFunc(roots, func(r string) bool { return path == r || strings.HasPrefix(path, r+"/") })
}

func TestTheCoreImportsTheStandardLibraryOnly(t *testing.T) {
	for _, p := range packages(t) {
		if p.ImportPath != "tagalong/internal/core" && p.ImportPath != "tagalong/internal/words" {
			continue
		}
		for _, d := range p.Deps {
			if !standard(d) && !strings.HasPrefix(d, "vendor/") {
				t.Errorf("%s depends on %s", p.ImportPath, d)
			}
		}
	}
}

// Each rule: packages under From import nothing of ours but what is under Only.
func TestDependenciesPointInward(t *testing.T) {
	const in = "tagalong/internal/"
	leaves := []string{in + "code", in + "calendar", in + "sign", in + "words", in + "photo"}
	rules := []struct {
		from string
		only []string
	}{
		{in + "core", nil},
		{in + "code", nil}, {in + "certificate", nil}, {in + "calendar", nil}, {in + "sign", nil}, {in + "photo", nil}, {in + "words", []string{in + "words"}},
		{in + "intake", []string{in + "core"}},
		{in + "crowd", []string{in + "core"}},
		{in + "paper", []string{in + "code", in + "paper"}},
		{in + "app", append([]string{in + "core", in + "app", in + "intake"}, leaves...)},

		{in + "privatepg", []string{in + "privatepg"}},
		{in + "backup", []string{in + "privatepg"}},
	}
	checked := map[string]bool{}
	for _, p := range packages(t) {
		for _, r := range rules {
			if !under(p.ImportPath, r.from) {
				continue
			}
			checked[r.from] = true
			for _, d := range p.Imports {
				if !standard(d) && strings.HasPrefix(d, "tagalong/") && !under(d, r.only...) {
					t.Errorf("%s imports %s", p.ImportPath, d)
				}
			}
		}
	}
	for _, r := range rules {
		if !checked[r.from] {
			t.Errorf("no package under %s: the rule checks nothing", r.from)
		}
	}
}

// Screens reach the database through the app's use cases only, and wiring is
// done in cmd and nowhere else.
func TestScreensNeverReachTheDatabase(t *testing.T) {
	for _, p := range packages(t) {
		if !under(p.ImportPath, "tagalong/web") || under(p.ImportPath, "tagalong/web/webtest") {
			continue
		}
		for _, d := range p.Deps {
			if under(d, "tagalong/internal/postgres", "tagalong/internal/privatepg", "github.com/jackc/pgx/v5") {
				t.Errorf("%s depends on %s", p.ImportPath, d)
			}
		}
	}
}
