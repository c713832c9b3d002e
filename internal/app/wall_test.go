package app

import (
	"testing"
	"time"

	"tagalong/internal/core"
)

func TestFewGroups(t *testing.T) {
	at := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	in := []WallGroup{
		{Name: "cut", Pallets: 2, Minutes: 30, Oldest: at, Ages: []WallAge{{Pallet: "A", Since: at}}},
		{Name: "separate", Pallets: 3, Minutes: 12, Held: 1, Oldest: at.Add(-time.Hour), Ages: []WallAge{{Pallet: "B", Since: at.Add(-time.Hour)}}},
		{Name: "fold", Pallets: 9}, {Name: "weld", Pallets: 4},
	}
	out := fewGroups(in, 3)
	if len(out) != 3 || out[0].Name != "cut, separate" || out[0].Pallets != 5 || out[0].Minutes != 42 || out[0].Held != 1 {
		t.Fatalf("joined: %+v", out)
	}
	if !out[0].Oldest.Equal(at.Add(-time.Hour)) || out[0].Ages[0].Pallet != "B" {
		t.Errorf("the oldest does not come first: %+v", out[0])
	}
	if in[0].Name != "cut" || len(in) != 4 {
		t.Errorf("the groups given were changed: %+v", in)
	}
	sum := 0
	for _, g := range fewGroups(in, 1) {
		sum += g.Pallets
	}
	if sum != 18 {
		t.Errorf("pallets lost in joining: %d of 18", sum)
	}
}

func TestLateBy(t *testing.T) {
	for date, want := range map[string]string{"2026-11-23": "+2 d", "2026-11-25": "", "2026-11-26": "", "": ""} {
		if got := (WallLine{Date: core.Date(date)}).LateBy("2026-11-25"); got != want {
			t.Errorf("promised %s: %q, want %q", date, got, want)
		}
	}
}

func TestFreshStop(t *testing.T) {
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	for ago, want := range map[time.Duration]bool{0: true, 14 * time.Minute: true, 15 * time.Minute: false} {
		if got := (WallLine{Since: now.Add(-ago)}).Fresh(now); got != want {
			t.Errorf("held %v ago: fresh %v", ago, got)
		}
	}
	if (WallLine{}).Fresh(now) {
		t.Error("a line without a time is fresh")
	}
}
