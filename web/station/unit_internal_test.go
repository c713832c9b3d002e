package station

import (
	"testing"
	"time"

	"tagalong/internal/app"
)

// What a unit misses is told with where it is, what is still to be done to it,
// and how long that usually takes, where that is known.
func TestWhereMissingPartsAreInWords(t *testing.T) {
	now := time.Date(2026, 11, 26, 10, 0, 0, 0, time.UTC)
	line := app.BuildLine{
		Not:   []app.Spot{{Qty: 2, Pallet: "P4K7M2QX", Place: "at press brake 1", Stage: "folding", Since: now.Add(-time.Hour), Then: []string{"drilling"}, Usual: 150 * time.Minute}},
		Again: []app.Again{{Qty: 1, Cut: true, Since: now.Add(-2 * time.Hour), Usual: 30 * time.Hour}},
	}
	got := whereabouts(line, now)
	want := []string{
		"2 on P4K7 M2QX at press brake 1, waits for folding since 09:00, then drilling; usually 2 h 30 more",
		"remake, 1 to be broken out, asked for since 08:00; usually 30 h more",
	}
	if len(got) != 2 || got[0] != want[0] || got[1] != want[1] {
		t.Errorf("got %q, want %q", got, want)
	}
	line = app.BuildLine{Cut: []app.InSheet{{Text: "2 in M-1008, to be broken out", Cut: true, Usual: 50 * time.Minute}, {Text: "1 in M-1009, to be cut"}}}
	if got := whereabouts(line, now); got[0] != "2 in M-1008, to be broken out; usually 50 min more" || got[1] != "1 in M-1009, to be cut" {
		t.Errorf("in sheets: %q", got)
	}
}
