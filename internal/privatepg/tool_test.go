package privatepg

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestToolIsTheNewestAndNeverOlderThanTheServer: "pg_dump cannot dump from PostgreSQL servers newer than its own major
// version" (PostgreSQL manual, pg_dump, notes).
func TestToolIsTheNewestAndNeverOlderThanTheServer(t *testing.T) {
	root := t.TempDir()
	add := func(folder, line string) string {
		path := filepath.Join(root, folder, "bin", "pg_dump")
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte("#!/bin/sh\necho '"+line+"'\n"), 0o755); err != nil {
			t.Fatal(err)
		}
		return path
	}
	finder := Finder{Globs: []string{filepath.Join(root, "*", "bin")}}
	add("15", "pg_dump (PostgreSQL) 15.14 (Debian 15.14-0+deb12u1)")
	newest := add("17", "pg_dump (PostgreSQL) 17.6")
	add("another", "something else 99.1")
	if got, err := finder.Tool(t.Context(), "pg_dump", 15); err != nil || got != newest {
		t.Errorf("got %s, %v; want %s", got, err, newest)
	}
	for _, x := range []struct {
		name    string
		atLeast int
		says    string
	}{
		{"pg_dump", 18, "is too old (" + newest + " is of version 17)"},
		{"pg_restore", 15, "isn't installed"},
	} {
		got, err := finder.Tool(t.Context(), x.name, x.atLeast)
		if err == nil || !strings.Contains(err.Error(), x.says) || !strings.Contains(err.Error(), "Nothing was changed") {
			t.Errorf("%s of version %d: %s, %v", x.name, x.atLeast, got, err)
		}
	}
}
