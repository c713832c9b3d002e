package shopday

import (
	"tagalong/internal/core"
)

// floor is a shop with pallets in the states that must be refused.
type floor struct {
	*shop
	// mixed stands at the pretreat line, then at the booth, with parts of three
	// orders: a tray that may go on, covers with sharp edges, and a wall panel
	// whose weld nobody has released.
	mixed               core.PalletCode
	tray, sharp, welded core.LotID
	// blades stand rounded at the rounding line.
	blades core.PalletCode
	blade  core.LotID
	// panel is the wall panel before it joined the mixed pallet.
	unit core.BuildCode
}

const welder, dresser, inspector, quality, operator = "P41", "P15", "P18", "P03", "P21"

// newFloor works the parts up over HTTP, as the stations' tablets do.
func newFloor(s *shop) *floor {
	f := &floor{shop: s}
	day := s.separated("N-5001", "SH-5005-3", "LASER-1", "BENCH-1", "AAB")
	posts := s.separated("N-5002", "BAR-L40", "TUBE-1", "BENCH-2", "A")
	other := s.separated("N-7001", "SH-5005-3", "LASER-1", "BENCH-1", "AABBCB")

	skins, stiffeners, post := day["SK-1200"], day["ST-1900"], posts["PO-1900"]
	parts := s.palletOf(skins.ID)
	s.work("ROUND-AL", parts, "edge-round", skins.ID, stiffeners.ID)
	s.work("BRAKE-1", parts, "fold", skins.ID, stiffeners.ID)
	s.work("HAND-AL", s.palletOf(post.ID), "hand-round", post.ID)
	s.takeIn(parts, "WELD-1")
	s.takeIn(s.palletOf(post.ID), "WELD-1")
	owner := core.Owner{Order: "O-5101", Line: 1}
	panel := core.ItemRev{Item: "WP-2400", Rev: "D"}
	f.unit = core.BuildCode(s.at("WELD-1").does(core.Gather{Item: panel, Owner: owner}).Ref)

	// The tray of the day's second order goes on alone.
	f.tray = day["RT-2400"].ID
	f.mixed = s.palletOf(f.tray)
	s.work("ROUND-AL", f.mixed, "edge-round", f.tray)
	s.work("BRAKE-1", f.mixed, "fold", f.tray)

	// Covers were never rounded; somebody puts them with the trays.
	f.sharp = other["SC-COVER"].ID
	s.at("BRAKE-1").does(core.Divide{From: s.palletOf(f.sharp), To: f.mixed, Picks: []core.Pick{{Lot: f.sharp, Qty: 2}}})

	f.blade = other["DF-RAIL"].ID
	f.blades = s.palletOf(f.blade)
	s.work("ROUND-AL", f.blades, "edge-round", f.blade)
	return f
}

// weld makes the panel: welded by somebody who inspects as well, dressed by
// another, and put with the trays.
func (f *floor) weld() {
	f.t.Helper()
	made := f.assembly()
	for _, c := range f.at("WELD-1").does(made, welder).Lots {
		f.welded = c.Lot
	}
	own := f.palletOf(f.welded)
	f.at("WELD-1").does(f.signOff(own, "weld-dress", f.welded), dresser)
	f.takeIn(own, "INSPECT-1")
}

// assembly is the signing of the gathered unit.
func (f *floor) assembly() core.Assemble {
	f.t.Helper()
	b := f.book()
	route := b.Routes[b.Items[core.ItemRev{Item: "WP-2400", Rev: "D"}].Route]
	return core.Assemble{Build: f.unit, Inputs: []string{"FA-121"}, Checks: well(b, route.Steps[0])}
}

// join puts the unreleased panel on the mixed pallet, at the pretreat line.
func (f *floor) join() {
	f.t.Helper()
	f.at("INSPECT-1").puts(core.Divide{From: f.palletOf(f.welded), To: f.mixed, Picks: []core.Pick{{Lot: f.welded, Qty: 1}}})
	f.takeIn(f.mixed, "PRETREAT-1")
}

// coatable pretreats the tray and brings the mixed pallet to the booth.
func (f *floor) coatable() {
	f.t.Helper()
	f.work("PRETREAT-1", f.mixed, "pretreat", f.tray)
	f.takeIn(f.mixed, "BOOTH-1")
}
