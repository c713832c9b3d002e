package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestExportByPage: the archive has the files an import reads, and no secret.
func TestExportByPage(t *testing.T) {
	s := newShop(t)
	admin := s.signedIn("P01")
	badge := s.badge("P05")
	all := sampleFolder(t)
	address, _ := admin.planned(all)
	admin.press(address, "store")
	if page := admin.settledPage(address); !strings.Contains(page, "<h1>Stored</h1>") {
		t.Fatal(page)
	}
	got := admin.get("/export.zip")
	out := unpacked(t, got.body)
	if !slices.Equal(out.names(), all.names()) || !strings.Contains(got.Header.Get("Content-Disposition"), `shop-2026-11-25.zip`) {
		t.Errorf("exported %v as %s", out.names(), got.Header.Get("Content-Disposition"))
	}
	for name, text := range out {
		if strings.Contains(text, badge) || strings.Contains(text, "argon2") {
			t.Errorf("%s holds a secret", name)
		}
	}
	if _, page := admin.planned(out); !strings.Contains(page, "The shop has all of it already") {
		t.Error("read back, it would change something")
	}
}

// TestExportOfHardCases takes texts that break careless readers through the
// pages and out again: two shops export the same bytes, and readers of others
// agree on every field (RFC 4180, section 2; the byte-order mark, Unicode 23.8).
func TestExportOfHardCases(t *testing.T) {
	hard := []string{`say "no"`, "a,b", "two\r\nlines", "two\nlines", " lead", "trail ", `"`, `""`, "=1+1", "'=1", "-x", "@x", "\tx", "naïve 鋼 ß", "'", ";", "a\\b"}
	in := files{}
	rows, lines := &bytes.Buffer{}, &bytes.Buffer{}
	rows.WriteString("\ufeff") // as some programs begin a file
	ow, lw := csv.NewWriter(rows), csv.NewWriter(lines)
	must(t, ow.Write([]string{"order", "customer", "site", "reference", "promised", "long_haul", "priority", "consent"}))
	must(t, lw.Write([]string{"order", "line", "item", "rev", "qty"}))
	for i, text := range hard {
		written := text
		if strings.HasPrefix(text, "'=") {
			written = "'" + text // or it would be read as neutralised
		}
		must(t, ow.Write([]string{fmt.Sprintf("H-%02d", i), written, "", written, "2026-12-18", "", "", ""}))
		must(t, lw.Write([]string{fmt.Sprintf("H-%02d", i), "1", "WP-2400", "D", "1"}))
	}
	ow.Flush()
	lw.Flush()
	in["orders.csv"], in["lines.csv"] = rows.String(), lines.String()

	var first files
	for round := range 2 {
		s := newShop(t)
		admin := s.signedIn("P01")
		address, page := admin.planned(in)
		if !strings.Contains(page, fmt.Sprintf("Store %d lines", 2*len(hard))) {
			t.Fatalf("round %d: %s", round, page)
		}
		admin.press(address, "store")
		admin.settledPage(address)
		out := unpacked(t, admin.get("/export.zip").body)
		if round == 0 {
			first, in = out, files{"orders.csv": out["orders.csv"], "lines.csv": out["lines.csv"]}
			continue
		}
		for _, name := range []string{"orders.csv", "lines.csv"} {
			if out[name] != first[name] {
				t.Errorf("%s: the second shop exports\n%q\nthe first\n%q", name, out[name], first[name])
			}
		}
	}
	// Go's reader turns CR LF inside a field into LF; ours does not.
	records, err := csv.NewReader(strings.NewReader(first["orders.csv"])).ReadAll()
	must(t, err)
	for i, text := range hard {
		want := strings.ReplaceAll(neutralised(text), "\r\n", "\n")
		if got := records[i+1]; got[1] != want || got[3] != want {
			t.Errorf("encoding/csv reads %q and %q, want %q", got[1], got[3], want)
		}
	}
	python(t, first["orders.csv"], hard)
}

// neutralised is a text as it is written: no spreadsheet runs it (OWASP ASVS 5.0.0, 1.2.10).
func neutralised(s string) string {
	if strings.ContainsRune("=+-@\t\r", rune(s[0])) || strings.HasPrefix(s, "'=") {
		return "'" + s
	}
	return s
}

// python has Python's reader, where there is one, read the customers too.
func python(t *testing.T, orders string, hard []string) {
	t.Helper()
	path, err := exec.LookPath("python3")
	if err != nil {
		t.Log("no python3 here: encoding/csv is the only reader of others")
		return
	}
	cmd := exec.CommandContext(t.Context(), path, "-c", `
import csv, io, sys
for row in csv.DictReader(io.StringIO(sys.stdin.buffer.read().decode("utf-8"), newline="")):
    sys.stdout.buffer.write(row["customer"].encode("utf-8") + b"\0")`)
	cmd.Stdin = strings.NewReader(orders)
	out, err := cmd.Output()
	must(t, err)
	got := strings.Split(strings.TrimSuffix(string(out), "\x00"), "\x00")
	for i, text := range hard {
		if i >= len(got) || got[i] != neutralised(text) {
			t.Errorf("Python reads %q, want %q", got[min(i, len(got)-1)], neutralised(text))
		}
	}
}

// TestExportFromTheCommandLine goes from a shop that has worked for days to one
// with the same plans, and back to itself.
func TestExportFromTheCommandLine(t *testing.T) {
	one, two := demoLine(t), newLine(t)
	dirs := []string{filepath.Join(t.TempDir(), "one"), filepath.Join(t.TempDir(), "two")}
	if out := one.ok("export", dirs[0]); !strings.Contains(strings.Join(strings.Fields(out), " "), " 16 orders.csv") {
		t.Errorf("the export says %q", out)
	}
	if out := one.ok("import", dirs[0]); out != "The shop has all of it already: nothing was added.\n" {
		t.Errorf("read back, it says %q", out)
	}
	two.ok("import", dirs[0])
	two.ok("export", dirs[1])
	for name := range sampleFolder(t) {
		a, err := os.ReadFile(filepath.Join(dirs[0], name))
		must(t, err)
		b, err := os.ReadFile(filepath.Join(dirs[1], name))
		must(t, err)
		if !bytes.Equal(a, b) {
			t.Errorf("%s differs", name)
		}
	}
	one.fails(1, "is already in the folder; nothing was written", "export", dirs[0])
	one.fails(1, "Nothing was written. Name a folder whose parent is there", "export", filepath.Join(dirs[0], "not", "there"))
	one.fails(2, "lacks a word", "export")
}
