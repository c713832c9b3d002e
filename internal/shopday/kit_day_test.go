package shopday

import (
	"slices"
	"testing"
	"time"

	"tagalong/internal/core"
)

// TestAKitIsMadeUpAtTheDock: sealant is taken in at goods-in with its checks and
// its last day; two days later the dock gathers a kit, is shown that the sealant
// has run out and what is missing, gathers the rest when it comes, checks and
// packs the kit.
func TestAKitIsMadeUpAtTheDock(t *testing.T) {
	h := furnish(open(t))
	goods := h.tablet("GOODS-1")
	h.time("07:30")
	old := h.takesSealant(goods, "SL25-99", "2026-11-26")
	bags := map[core.ItemID]core.PalletCode{}
	for _, item := range []core.ItemID{"RN-M6", "HG-120", "LT-2P", "GK-12", "FX-M8", "GD-ENC", "ES-16"} {
		bags[item] = h.stockOf(item, "")
	}
	h.takeIn(old, "DOCK-1")
	for item, code := range bags {
		if item != "GK-12" {
			h.takeIn(code, "DOCK-1")
		}
	}

	h.pass(48 * time.Hour)
	dock := h.tablet("DOCK-1")
	dock.open("/station")
	dock.sees(".rest-coming", "Kits to make up")
	dock.leaves(func() { dock.click(`.rest-coming a[href="/station/units"]`) })
	dock.sees("h1", "Kits to make up")
	dock.leaves(func() { dock.click(`.units a[href*="KIT-2400"][href*="O-4101"]`) })
	dock.sees("h1", "Check the kit: hardware kit 2400")
	dock.sees(".refused-batch", "2 sealants ran out on 26 November 2026. Take a delivery that is in date; quality may allow this one under concession. It is on "+spaced(string(old)))
	dock.sees("tr", "gasket 12 mm, roll of 10 m 3 0 3 missing 30 on "+spaced(string(bags["GK-12"])))
	dock.leaves(func() { dock.click(`form[data-command="gather"] button`) })
	dock.done("Gathered")
	kit := h.last(core.EvGathered).Ref
	dock.sees(".work-foot", "6 pieces missing: see where they are.")
	if n := asks[int](dock, `document.querySelectorAll('[data-open="assemble"]').length`); n != 0 {
		t.Error("the page offers to sign a kit that is short")
	}

	fresh := h.stockOf("SL-300", "SL26-70")
	h.takeIn(bags["GK-12"], "DOCK-1")
	h.takeIn(fresh, "DOCK-1")
	dock.open("/station/units?unit=" + kit)
	dock.leaves(func() { dock.click(`form[data-command="gather"] button`) })
	dock.click(`[data-open="assemble"]`)
	dock.sees("#assemble", "Every line there and in date")
	dock.look()
	dock.js(`document.querySelectorAll("#assemble [data-tick]").forEach(e => e.click())`)
	dock.click("#assemble button.main")
	dock.signs("P25")
	dock.done("hardware kit 2400: signed")

	made := h.last(core.EvAssembled)
	unit := h.lot(made.Lots[0].Lot)
	if unit.Item.Item != "KIT-2400" || unit.Expires != "2027-02-28" || !slices.Contains(unit.Heats, "SL26-70") || slices.Contains(unit.Heats, "SL25-99") {
		t.Errorf("the kit is %+v", unit)
	}
	pallet := string(h.palletOf(unit.ID))
	dock.scans(pallet)
	dock.works("Pack", job{by: "P26"})
	dock.open("/history/" + pallet)
	dock.sees("main", "hardware kit 2400")
	dock.sees("main table", "SL26-70")
	dock.sees("main table", "in date until 2027-02-28")
	h.verified()
}

// takesSealant has goods-in take in two cartridges of a batch: first with a last
// day that has passed, which is refused, then with the right one.
func (h *house) takesSealant(goods *screen, batch, expires string) core.PalletCode {
	h.t.Helper()
	goods.leaves(func() { goods.click("a[href='/station/goods']") })
	goods.chooses("[data-item]", "SL-300@1")
	goods.types("[name=qty]", "2")
	goods.types("[name=heat]", batch)
	day := func(text string) {
		goods.js(`(e => { e.value = ` + quoted(text) + `; e.dispatchEvent(new Event("input", {bubbles: true})); })(document.querySelector("[name=expires]"))`)
	}
	day("2026-11-24")
	goods.click("label:has([name=identified])")
	goods.click("[data-go]")
	goods.sees("h1", "Sealant, cartridge 300 ml")
	goods.look()
	goods.click("[data-go]") // both checks are met
	goods.no("goods that have run out", "#refusal h1", "2 sealants ran out on 24 November 2026.", "goods-expired", func() {
		goods.click("[data-go]")
		goods.badges("P06")
	})
	goods.click("#refusal [data-close]")
	goods.click("[data-face-back]")
	day(expires)
	goods.click("[data-go]")
	goods.click("[data-go]")
	goods.signs("P06")
	goods.done("Taken in")
	got := h.last(core.EvGoodsReceived)
	if len(got.Checks) != 2 {
		h.t.Errorf("checks on record: %+v", got.Checks)
	}
	return got.Pallets[0]
}

// stockOf is the pallet with stock of an item, of a batch where one is named.
func (h *house) stockOf(item core.ItemID, batch string) core.PalletCode {
	h.t.Helper()
	cards, err := h.store.Pallets(h.t.Context(), 1000)
	must(h.t, err)
	for _, c := range cards {
		for _, l := range h.on(c.Code) {
			if l.Item.Item == item && l.Owner.Stock() && (batch == "" || slices.Contains(l.Heats, batch)) {
				return c.Code
			}
		}
	}
	h.t.Fatalf("no stock of %s", item)
	return ""
}
