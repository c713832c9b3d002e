package postgres

import (
	"testing"

	"tagalong/internal/core"
)

func TestLateBecause(t *testing.T) {
	table := core.DefaultStages()
	for _, c := range []struct {
		want    string
		waiting []core.StageName
	}{
		{"nothing of it is cut", nil},
		{"waits for weld inspection", []core.StageName{"ship", "coat", "weld-inspect", ""}},
		{"waits for the truck", []core.StageName{"ship"}},
		{"waits for the rest of its set", []core.StageName{""}},
		{"waits for engrave", []core.StageName{"engrave"}}, // the table knows it no longer
	} {
		got := lateBecause(table, c.waiting)
		if got != c.want {
			t.Errorf("%q: got %q, want %q", c.waiting, got, c.want)
		}
	}
}
