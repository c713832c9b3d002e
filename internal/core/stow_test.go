package core_test

import (
	"slices"
	"testing"

	"tagalong/internal/core"
)

// Last unloaded first on, pallets before boxes, heavy before light, unknown
// after known. Common practice, no source.
func TestLoadOrder(t *testing.T) {
	p := func(code core.PalletCode, kind core.CarrierKind, drop int, kg float64) core.Stowed {
		return core.Stowed{Pallet: code, Kind: kind, Drop: drop, Mass: kg}
	}
	given := []core.Stowed{
		p("A", core.BoxCarrier, 1, 40), p("B", core.PalletCarrier, 1, 100), p("C", core.PalletCarrier, 1, 300),
		p("D", core.PalletCarrier, 1, 0), p("E", core.PalletCarrier, 2, 50), p("F", core.BoxCarrier, 2, 500), p("G", core.PalletCarrier, 1, 100),
	}
	want := []core.PalletCode{"E", "F", "C", "B", "G", "D", "A"}
	for range len(given) { // whatever order they come in
		given = append(given[1:], given[0])
		before := slices.Clone(given)
		var got []core.PalletCode
		for _, x := range core.LoadOrder(given) {
			got = append(got, x.Pallet)
		}
		if !slices.Equal(got, want) {
			t.Errorf("got %v, want %v", got, want)
		}
		if !slices.Equal(given, before) {
			t.Error("it changed what it was given")
		}
	}
}
