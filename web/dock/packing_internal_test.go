package dock

import (
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Three units are three lots and told as three.
func TestLotsOfOneNameAreToldTogether(t *testing.T) {
	lot := func(name string, qty int) app.OrderLot { return app.OrderLot{Lot: core.Lot{Qty: qty}, Name: name} }
	got := names([]app.OrderLot{lot("louvre bank", 1), lot("hinge plate", 4), lot("louvre bank", 1), lot("louvre bank", 1)})
	if want := "3 louvre banks, 4 hinge plates"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
