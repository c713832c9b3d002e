package app

import (
	"testing"
	"time"

	"tagalong/internal/core"
)

func TestPlural(t *testing.T) {
	for name, want := range map[string]string{
		"door leaf":                "door leaves",
		"wall panel":               "wall panels",
		"wall panel, louvre side":  "wall panels, louvre side",
		"hinge plate":              "hinge plates",
		"latch":                    "latches",
		"roof tray":                "roof trays",
		"base assembly":            "base assemblies",
		"lifting-eye set":          "lifting-eye sets",
		"box":                      "boxes",
		"bracket for cable tray":   "brackets for cable tray",
		"hardware kit":             "hardware kits",
		"mounting chassis":         "mounting chassis",
		"Leaf":                     "Leaves",
		"ENC-2400":                 "ENC-2400s",
		"wall panel 2400":          "wall panels 2400",
		"plant enclosure (2400)":   "plant enclosures (2400)",
		"gusset with hole, left":   "gussets with hole, left",
		"base rail of frame, long": "base rails of frame, long",
		"":                         "",
	} {
		if got := plural(name); got != want {
			t.Errorf("plural(%q) = %q, want %q", name, got, want)
		}
	}
}

func TestSaidName(t *testing.T) {
	for name, want := range map[string]string{
		"door leaf, left": "left door leaf", "door skin, right": "right door skin",
		"cable bracket, folded before rounding": "cable bracket", "hinge plate": "hinge plate",
	} {
		if got := saidName(name); got != want {
			t.Errorf("saidName(%q) = %q, want %q", name, got, want)
		}
	}
}

func TestCounts(t *testing.T) {
	for _, c := range []struct {
		n    int
		want string
	}{{0, "no pallets"}, {1, "one pallet"}, {2, "two pallets"}, {12, "twelve pallets"}, {13, "13 pallets"}} {
		if got := counted(c.n, "pallet"); got != c.want {
			t.Errorf("counted(%d) = %q, want %q", c.n, got, c.want)
		}
	}
}

func TestList(t *testing.T) {
	for _, c := range []struct {
		in   []string
		want string
	}{
		{nil, ""},
		{[]string{"a"}, "a"},
		{[]string{"a", "b"}, "a and b"},
		{[]string{"a", "b", "c"}, "a, b and c"},
		{[]string{"wall panels, left", "doors"}, "wall panels, left, and doors"},
		{[]string{"wall panels, left", "doors", "trays"}, "wall panels, left; doors and trays"},
	} {
		if got := list(c.in); got != c.want {
			t.Errorf("list(%q) = %q, want %q", c.in, got, c.want)
		}
	}
	five := []string{"a", "b", "c", "d", "e"}
	if got, want := listAtMost(five, 2, "kind of part"), "a, b and three other kinds of part"; got != want {
		t.Errorf("listAtMost = %q, want %q", got, want)
	}
	if got, want := listAtMost(five[:3], 2, "kind of part"), "a, b and c"; got != want {
		t.Errorf("one over the limit is named: %q, want %q", got, want)
	}
}

func TestPlaceName(t *testing.T) {
	for name, want := range map[string]string{
		"Weld bench 2": "weld bench 2", "Dock": "the dock", "Inspection bay": "the inspection bay",
		"QA desk": "QA desk", "The oven": "the oven",
	} {
		if got := placeName(name); got != want {
			t.Errorf("placeName(%q) = %q, want %q", name, got, want)
		}
	}
}

func TestPromise(t *testing.T) {
	const today = core.Date("2026-11-25") // a Wednesday
	for d, want := range map[core.Date]string{
		"":           "No date is promised",
		"2026-12-03": "Promised for Thursday 3 December",
		"2026-11-25": "Promised for today, Wednesday 25 November",
		"2026-11-26": "Promised for tomorrow, Thursday 26 November",
		"2026-11-24": "Promised for yesterday, Tuesday 24 November",
		"2026-11-19": "Promised for Thursday 19 November, six days ago",
		"2026-10-26": "Promised for Monday 26 October, four weeks ago",
		"2027-01-04": "Promised for Monday 4 January 2027",
	} {
		if got := promise(d, today); got != want {
			t.Errorf("promise(%s) = %q, want %q", d, got, want)
		}
	}
}

func TestLasting(t *testing.T) {
	for d, want := range map[time.Duration]string{
		-time.Minute:                   "0 min",
		25 * time.Minute:               "25 min",
		2*time.Hour + 10*time.Minute:   "2 h 10",
		9*time.Hour + 5*time.Minute:    "9 h 05",
		23*time.Hour + 59*time.Minute:  "23 h",
		24 * time.Hour:                 "1 d",
		20*24*time.Hour + 23*time.Hour: "20 d",
		21 * 24 * time.Hour:            "3 weeks",
	} {
		if got := Lasting(d); got != want {
			t.Errorf("Lasting(%v) = %q, want %q", d, got, want)
		}
	}
}
