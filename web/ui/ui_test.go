package ui

import (
	"strings"
	"testing"
	"time"

	"tagalong/internal/core"
)

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func TestAge(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 min", 25 * time.Minute: "25 min", time.Hour: "1 h", 130 * time.Minute: "2 h 10", 125 * time.Minute: "2 h 05",
		30 * time.Hour: "30 h", 72 * time.Hour: "3 d", -time.Minute: "0 min",
	} {
		if got := Age(noon.Add(-d), noon); got != want {
			t.Errorf("%v ago: %q, want %q", d, got, want)
		}
	}
	if got := Age(time.Time{}, noon); got != "" {
		t.Errorf("never: %q", got)
	}
}

func TestMoment(t *testing.T) {
	for at, want := range map[time.Time]string{
		noon.Add(-time.Hour):     "11:00",
		noon.AddDate(0, 0, -1):   "Tue 24 Nov, 12:00",
		noon.AddDate(-1, 0, 0):   "Tue 25 Nov 2025, 12:00",
		noon.Add(13 * time.Hour): "Thu 26 Nov, 01:00",
		{}:                       "",
	} {
		if got := Moment(at, noon); got != want {
			t.Errorf("%v: %q, want %q", at, got, want)
		}
	}
}

func TestDay(t *testing.T) {
	for d, want := range map[core.Date]string{"2026-12-03": "Thu 3 Dec", "2027-01-04": "4 Jan 2027", "": "", "soon": ""} {
		if got := Day(d, noon); got != want {
			t.Errorf("%s: %q, want %q", d, got, want)
		}
	}
}

func TestCountListCapital(t *testing.T) {
	if Count(1, "part") != "1 part" || Count(0, "part") != "0 parts" || Count(2, "more", "more") != "2 more" {
		t.Error(Count(1, "part"), Count(0, "part"), Count(2, "more", "more"))
	}
	if List() != "" || List("a") != "a" || List("a", "b", "c") != "a, b and c" {
		t.Error(List(), List("a"), List("a", "b", "c"))
	}
	if Capital("") != "" || Capital("öl") != "Öl" || Spaced("P4K7M2QX") != "P4K7 M2QX" || Spaced("X") != "X" {
		t.Error(Capital("öl"), Spaced("P4K7M2QX"))
	}
	if got := Who("quality", true); got != "Quality. No concession exists for this rule." {
		t.Error(got)
	}
	if got := Who("", false); got != "" {
		t.Error(got)
	}
}

// Drawings count y upwards and SVG downwards; holes stay open by even-odd.
func TestOutline(t *testing.T) {
	lines := [][]float64{{0, 0, 100, 0, 100, 50, 0, 50}, {10, 10, 20, 10, 20, 20, 10, 20}}
	box, ok := outlineBox(lines)
	if !ok || box != "-2 -52 104 54" {
		t.Errorf("view box %q", box)
	}
	if got, want := outlinePath(lines), "M0 -0L100 -0L100 -50L0 -50ZM10 -10L20 -10L20 -20L10 -20Z"; got != want {
		t.Errorf("path %s, want %s", got, want)
	}
	for _, bad := range [][][]float64{nil, {{}}, {{5, 5}}, {{0, 0, 10, 0}}, {{0, 0, 1e9, 1e9}}} {
		if _, ok := outlineBox(bad); ok {
			t.Errorf("%v has an outline", bad)
		}
	}
}

// Every symbol is said in words as well: colour and filling are never alone.
func TestStripSaysItInWords(t *testing.T) {
	var b strings.Builder
	steps := []StripStep{
		{Name: "Cut", Mark: core.Operation, Done: true}, {Name: "Inspect", Mark: core.Inspection, Hold: true, Current: true, Held: true},
		{Name: "Store", Mark: core.Storage}, {Name: "Ship", Mark: core.Transport}, {Name: "Weigh", Mark: core.Inspection, Hold: true},
	}
	if err := NamedStrip(steps).Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{", done", ", held here", ", hold point", `aria-current="step"`} {
		if strings.Count(b.String(), want) != 1 {
			t.Errorf("%q stands %d times, want once", want, strings.Count(b.String(), want))
		}
	}
	if n := strings.Count(b.String(), "<svg"); n != len(steps) {
		t.Errorf("%d symbols for %d steps", n, len(steps))
	}
}

// The pages' policy allows neither inline styles nor inline scripts.
func TestNothingInline(t *testing.T) {
	var b strings.Builder
	if err := Station(StationHead{Title: "T", Station: "S", Now: noon}).Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	if err := Panels().Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{" style=", "<style", "onclick", "javascript:"} {
		if strings.Contains(b.String(), bad) {
			t.Errorf("the shell holds %q", bad)
		}
	}
	if strings.Count(b.String(), "<script") != strings.Count(b.String(), "<script src=")+strings.Count(b.String(), `<script type="module" src=`) {
		t.Error("a script without an address")
	}
}
