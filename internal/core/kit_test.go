package core_test

import (
	"slices"
	"testing"

	"tagalong/internal/core"
)

var (
	kit      = core.ItemRev{Item: "KIT-2400", Rev: "B"}
	sealant  = core.ItemRev{Item: "SL-300", Rev: "1"}
	hospital = core.Owner{Order: "O-4101", Line: 1}
)

// bag receives bought goods of a batch for stock, checked, and brings them to
// the dock.
func (s *shop) bag(item core.ItemRev, qty int, batch string, expires core.Date) {
	s.t.Helper()
	e := s.must(core.ReceiveGoods{Item: item, Qty: qty, Heat: batch, Expires: expires, Identified: true,
		Checks: answered(core.BirthChecks(s.book, item, "goods-in"))}, "GOODS-1", "P06")
	s.must(core.TakeIn{Pallet: e.Pallets[0]}, "DOCK-1")
}

// answered says that every characteristic, of those that take a tick, was met.
func answered(cs []core.Characteristic) []core.CheckReading {
	return checks(nil, core.Step{Checks: cs})
}

// One missing bag stops the kit; a tube of sealant past its day is not gathered;
// the kit carries every batch, and the day the first of them runs out.
func TestAKitIsGatheredLineByLine(t *testing.T) {
	s := newShop(t)
	for _, c := range s.book.Items[kit].Bill {
		if c.Item != sealant {
			s.bag(c.Item, c.Qty, "B-"+string(c.Item.Item), "")
		}
	}
	e := s.must(core.Gather{Item: kit, Owner: hospital}, "DOCK-1")
	build := core.BuildCode(e.Ref)
	make := core.Assemble{Build: build, Checks: checks(s.book, s.book.Routes[s.book.Items[kit].Route].Steps[0])}
	r := s.refused("build-short", make, "DOCK-1", "P26")
	same(t, "missing", r.Params["missing"], "3 × "+s.book.Items[sealant].Name)

	s.bag(sealant, 2, "SL-OLD", "2026-11-26")
	s.bag(sealant, 2, "SL-NEW", "2027-02-28")
	s.now = s.now.AddDate(0, 0, 2) // the first two tubes ran out yesterday
	s.refused("wrong-station", core.Gather{Build: build}, "HARDWARE-1")
	old := s.lotOfBatch("SL-OLD")
	s.refused("goods-expired", core.Gather{Build: build, Picks: []core.Pick{{Lot: old.ID, Qty: 2}}}, "DOCK-1")
	s.must(core.Gather{Build: build}, "DOCK-1")
	r = s.refused("build-short", make, "DOCK-1", "P26")
	same(t, "missing", r.Params["missing"], "1 × "+s.book.Items[sealant].Name)
	s.bag(sealant, 1, "SL-LATE", "2026-12-10")
	s.must(core.Gather{Build: build}, "DOCK-1")
	e = s.must(make, "DOCK-1", "P26")

	unit := s.state.Lots[s.state.Builds[build].Lot]
	same(t, "checked", unit.Facts.At(core.Fact{Name: core.KitComplete}, s.now), core.Yes)
	same(t, "runs out", unit.Expires, core.Date("2026-12-10"))
	for _, batch := range []string{"SL-NEW", "SL-LATE", "B-HG-120"} {
		if !slices.Contains(unit.Heats, batch) {
			t.Errorf("the kit does not say that batch %s is in it: %v", batch, unit.Heats)
		}
	}
	s.must(mustWork(s, unit.ID), "DOCK-1", "P26") // packed
	s.now = s.now.AddDate(0, 0, 30)
	s.refused("goods-expired", core.Load{Site: "SITE-LARKFIELD", Pallets: []core.PalletCode{core.PalletCode(unit.Place.Ref)}}, "DOCK-1", "P25")
	s.agrees()
}

func (s *shop) lotOfBatch(batch string) core.Lot {
	for _, l := range s.state.Lots {
		if slices.Contains(l.Heats, batch) && l.Qty > 0 {
			return l
		}
	}
	s.t.Fatalf("no lot of batch %s", batch)
	return core.Lot{}
}

// A kit nobody gathered is checked by nobody: its lines are not on record.
func TestAKitNobodyGatheredIsNotChecked(t *testing.T) {
	s := newShop(t)
	e := s.must(core.ReceiveGoods{Item: kit, Qty: 1, Identified: true}, "GOODS-1", "P06")
	id := s.lotOn(e.Pallets[0])
	s.must(core.TakeIn{Pallet: e.Pallets[0]}, "DOCK-1")
	w := mustWork(s, id)
	r := s.refused("unit-not-gathered", w, "DOCK-1", "P26")
	if !r.Absolute {
		t.Error("a kit may be checked unseen by concession")
	}
}

// Goods in asks what the item's route asks, and takes nothing that has run out.
func TestGoodsInAsksItsChecks(t *testing.T) {
	s := newShop(t)
	b := core.ReceiveGoods{Item: sealant, Qty: 4, Heat: "SL-1", Expires: "2027-01-31", Identified: true}
	r := s.refused("check-missing", b, "GOODS-1", "P06")
	if len(r.Lots) > 0 {
		t.Errorf("it names lots that were never made: %v", r.Lots)
	}
	b.Checks = answered(core.BirthChecks(s.book, sealant, "goods-in"))
	b.Checks[0].Met = false
	s.refused("check-not-met", b, "GOODS-1", "P06")
	b.Checks[0].Met = true
	old := b
	old.Expires = "2026-11-24"
	s.refused("goods-expired", old, "GOODS-1", "P06")
	e := s.must(b, "GOODS-1", "P06")
	same(t, "on record", len(e.Checks), len(b.Checks))
	same(t, "runs out", s.state.Lots[e.Lots[0].Lot].Expires, core.Date("2027-01-31"))

	// What came before the record began was checked then; only an import says so.
	before := core.ReceiveGoods{Item: sealant, Qty: 1, Heat: "SL-0", Identified: true, Before: true}
	s.must(before, "GOODS-1")
}
