package postgres_test

import (
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// The wall names the order of a held lot, and why a late order is late: what
// the lots furthest behind wait for.
func TestWallSaysWhoseAndWhy(t *testing.T) {
	s := newFloor(t)
	s.panelParts()
	parts := must(s.Wall(t.Context()))(t)
	waiting := map[string]int{}
	for _, g := range parts.Groups {
		waiting[g.Name] = g.Pallets
	}
	if waiting["weld"] != 3 { // parts at the end of their own route wait for the bench that joins them
		t.Errorf("pallets waiting: %v, want three for the weld bench", waiting)
	}
	id := s.weldPanel()
	pallet := s.lot(id).Place.Ref
	s.must(core.PlaceHold{Scope: core.HoldLot, Ref: string(id), Reason: "undercut"}, "", "P18")
	s.must(core.PlaceHold{Scope: core.HoldPallet, Ref: pallet, Reason: "strap cut"}, "", "P18")
	s.clock.now = time.Date(2026, 12, 4, 7, 0, 0, 0, time.UTC)

	wall := must(s.Wall(t.Context()))(t)
	held := map[string]string{}
	for _, l := range wall.Held {
		held[l.Order] = l.What
	}
	if held[panels.Order] != "undercut" || held[pallet[:4]+" "+pallet[4:]] != "strap cut" {
		t.Errorf("held: %q", held)
	}
	late := map[string]app.WallLine{}
	for _, l := range wall.Late {
		late[l.Order] = l
	}
	if l := late[panels.Order]; l.What != "waits for weld dressing" || l.LateBy("2026-12-04") != "+8 d" {
		t.Errorf("late: %+v", l)
	}
	if l := late["O-4104"]; l.What != "nothing of it is cut" {
		t.Errorf("an order not begun: %+v", l)
	}
}
