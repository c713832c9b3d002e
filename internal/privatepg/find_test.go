package privatepg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestParseVersion(t *testing.T) {
	// The form of the line is that of src/common and src/backend/main of PostgreSQL; the packagers' additions in
	// brackets are as printed by Debian's and Homebrew's packages (from memory). Two numbers since version 10, three
	// before: PostgreSQL versioning policy, https://www.postgresql.org/support/versioning/
	for _, tt := range []struct {
		line string
		want Version
		bad  bool
	}{
		{line: "postgres (PostgreSQL) 15.14 (Debian 15.14-0+deb12u1)\n", want: Version{15, 14}},
		{line: "postgres (PostgreSQL) 17.6 (Homebrew)\n", want: Version{17, 6}},
		{line: "postgres (PostgreSQL) 16.10\n", want: Version{16, 10}},
		{line: "postgres (PostgreSQL) 18devel", want: Version{18, 0}},
		{line: "postgres (PostgreSQL) 18beta2", want: Version{18, 0}},
		{line: "postgres (PostgreSQL) 18rc1 (Debian 18~rc1-1.pgdg12+1)", want: Version{18, 0}},
		{line: "postgres (PostgreSQL) 9.6.24", want: Version{9, 6}},
		{line: "postgres (PostgreSQL) 15.14x", bad: true},
		{line: "psql (PostgreSQL) 15.14", bad: true},
		{line: "postgres (PostgreSQL)", bad: true},
		{line: "", bad: true},
		{line: "postgres: command not found", bad: true},
	} {
		got, err := ParseVersion(tt.line)
		if (err != nil) != tt.bad || got != tt.want {
			t.Errorf("ParseVersion(%q) = %v, %v; want %v, bad %v", tt.line, got, err, tt.want, tt.bad)
		}
	}
}

// fakeInstall makes a folder with programs that only print a version.
func fakeInstall(t *testing.T, root, name, version string) string {
	t.Helper()
	dir := filepath.Join(root, name, "bin")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	script := fmt.Sprintf("#!/bin/sh\necho 'postgres (PostgreSQL) %s'\n", version)
	for _, program := range []string{"postgres", "initdb"} {
		if err := os.WriteFile(filepath.Join(dir, program), []byte(script), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestFinderTakesTheNewestThatFits(t *testing.T) {
	root := t.TempDir()
	if real, err := filepath.EvalSymlinks(root); err == nil {
		root = real
	}
	old := fakeInstall(t, root, "14", "14.19")
	fakeInstall(t, root, "9.6", "9.6.24")
	v15 := fakeInstall(t, root, "15", "15.14")
	v16 := fakeInstall(t, root, "16", "16.9")
	newer16 := fakeInstall(t, root, "elsewhere", "16.10")
	broken := fakeInstall(t, root, "broken", "17.1")
	if err := os.Remove(filepath.Join(broken, "initdb")); err != nil {
		t.Fatal(err)
	}
	// As /usr/local/bin often has it: a link to one of the programs only.
	links := filepath.Join(root, "links")
	if err := os.Mkdir(links, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(newer16, "postgres"), filepath.Join(links, "postgres")); err != nil {
		t.Fatal(err)
	}
	f := Finder{Path: links + ":" + v15 + ":" + filepath.Join(root, "nowhere"), Globs: []string{filepath.Join(root, "[0-9]*", "bin"), broken}}

	var dirs []string
	for _, p := range f.All(t.Context()) {
		dirs = append(dirs, p.Dir)
	}
	want := []string{newer16, v16, v15, old, filepath.Join(root, "9.6", "bin")}
	if strings.Join(dirs, " ") != strings.Join(want, " ") {
		t.Errorf("found\n%v, want\n%v", dirs, want)
	}
	for major, want := range map[int]string{0: newer16, 15: v15, 16: newer16} {
		if p, err := f.Newest(t.Context(), major); err != nil || p.Dir != want {
			t.Errorf("for version %d: %v, %v; want %s", major, p, err, want)
		}
	}
	for _, major := range []int{14, 17} { // too old; not there
		var missing *MissingError
		if p, err := f.Newest(t.Context(), major); !errors.As(err, &missing) {
			t.Errorf("for version %d: %v, %v; want *MissingError", major, p, err)
		}
	}
}

func TestMissingPostgreSQLNamesOneCommand(t *testing.T) {
	root := t.TempDir()
	old := fakeInstall(t, root, "13", "13.22")
	for _, tt := range []struct {
		name   string
		finder Finder
		major  int
		says   []string
	}{
		{"nothing", Finder{Path: root}, 0, []string{"PostgreSQL 15 or newer isn't installed", "Nothing was changed"}},
		{"too old", Finder{Path: old}, 0, []string{"13.22", "isn't installed"}},
		{"another version's data", Finder{Path: old}, 16, []string{"made by PostgreSQL 16"}},
	} {
		_, err := tt.finder.Newest(t.Context(), tt.major)
		var missing *MissingError
		if !errors.As(err, &missing) {
			t.Fatalf("%s: %v", tt.name, err)
		}
		commands := 0
		for _, line := range strings.Split(err.Error(), "\n") {
			if strings.HasPrefix(line, "    ") {
				commands++
				if strings.TrimSpace(line) != missing.Command || missing.Command == "" {
					t.Errorf("%s: the indented line is %q, the command %q", tt.name, line, missing.Command)
				}
			}
		}
		if commands != 1 {
			t.Errorf("%s: %d commands in %q, want one", tt.name, commands, err)
		}
		for _, says := range tt.says {
			if !strings.Contains(err.Error(), says) {
				t.Errorf("%s: %q doesn't say %q", tt.name, err, says)
			}
		}
	}
}

func TestStartWithoutPostgreSQLChangesNothing(t *testing.T) {
	t.Setenv("PATH", t.TempDir()) // no apt-get either, or root would install for real
	dir := filepath.Join(t.TempDir(), "shop")
	_, err := Start(t.Context(), Options{Dir: dir, Finder: &Finder{}})
	var missing *MissingError
	if !errors.As(err, &missing) {
		t.Fatalf("got %v, want *MissingError", err)
	}
	if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the folder was made: %v", err)
	}
}

func TestInstallCommand(t *testing.T) {
	for _, tt := range []struct {
		goos  string
		root  bool
		major int
		has   string
		want  string
	}{
		{"linux", false, 0, "apt-get sudo", "sudo apt-get update && sudo apt-get install -y postgresql"},
		{"linux", false, 0, "apt-get", "su - -c 'apt-get update && apt-get install -y postgresql'"},
		{"linux", true, 0, "apt-get", "apt-get update && apt-get install -y postgresql"},
		{"linux", false, 16, "apt-get sudo", "sudo apt-get update && sudo apt-get install -y postgresql-16"},
		{"linux", false, 0, "dnf sudo", "sudo dnf install -y postgresql-server"},
		{"linux", false, 17, "apk", "su - -c 'apk add postgresql17'"},
		{"linux", true, 17, "apk", "apk add postgresql17"},
		{"linux", false, 0, "pacman sudo", "sudo pacman -S --noconfirm postgresql"},
		{"linux", true, 0, "", "apt-get update && apt-get install -y postgresql"},
		{"darwin", false, 0, "brew", "brew install postgresql@17"},
		{"darwin", false, 15, "brew", "brew install postgresql@15"},
	} {
		got := installCommand(tt.goos, tt.root, tt.major, func(program string) bool {
			return slices.Contains(strings.Fields(tt.has), program)
		})
		if got != tt.want {
			t.Errorf("on %s with %q, root %v, version %d: %q, want %q", tt.goos, tt.has, tt.root, tt.major, got, tt.want)
		}
	}
}

// TestInstallsAsRootWithAptGet gives a path with an apt-get of our own, which "installs" by making the programs.
func TestInstallsAsRootWithAptGet(t *testing.T) {
	root := t.TempDir()
	calls := filepath.Join(root, "calls")
	prepared := fakeInstall(t, root, "prepared", "15.99")
	bin := filepath.Join(root, "bin")
	if err := os.Mkdir(bin, 0o755); err != nil {
		t.Fatal(err)
	}
	installed := filepath.Join(root, "installed")
	script := fmt.Sprintf("#!/bin/sh\necho \"$@\" >>%s\necho Working on it\ncase $1 in install) /bin/cp -r %s %s;; esac\n", calls, prepared, installed)
	if err := os.WriteFile(filepath.Join(bin, "apt-get"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", bin)
	var out strings.Builder
	p, err := findOrInstall(context.Background(), Finder{Globs: []string{installed}}, 0, io.Writer(&out))
	if os.Geteuid() != 0 {
		// A plain user isn't asked for a password behind their back: they get the command.
		var missing *MissingError
		if !errors.As(err, &missing) || !strings.Contains(missing.Command, "apt-get install -y postgresql") {
			t.Errorf("as a plain user: %v", err)
		}
		if _, err := os.Stat(calls); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("apt-get was called: %v", err)
		}
		return
	}
	if err != nil || p.Version != (Version{15, 99}) {
		t.Fatalf("got %v, %v", p, err)
	}
	called, err := os.ReadFile(calls)
	if err != nil || string(called) != "update -q\ninstall -q -y --no-install-recommends postgresql\n" {
		t.Errorf("apt-get was called with %q, %v", called, err)
	}
	if !strings.Contains(out.String(), "installing the package postgresql") || !strings.Contains(out.String(), "  Working on it") {
		t.Errorf("progress: %q", out.String())
	}
}
