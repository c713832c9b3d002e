package shopday

import (
	"fmt"
	"maps"
	"strconv"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// day is one day of the shop, told in the order it happens. Its people work at
// their own screens; the clock says when.
type day struct {
	*house
	parts, posts, trays, panel string // codes of pallets
}

// TestShopDay takes parts of two orders from the sheet to the truck.
func TestShopDay(t *testing.T) {
	d := &day{house: furnish(open(t))}
	wall := d.device("wall", browsertest.Wall)
	one, err := d.app.EnrolmentCode(t.Context(), app.Machine(), "STORE-1")
	must(t, err)
	wall.enrol(one.Text())
	wall.open("/wall")
	wall.js("window.same = true")
	service := d.desk("P04")

	d.opens()
	d.cutting()
	d.breaksOut()
	service.answers("O-5101", "Order O-5101 for Harkle Bridge Library: none of its two pallets is finished yet; "+
		"the wall skins 1200 and the wall stiffeners wait for edge rounding at separation bench 1, and two more things are open. Promised for Friday 27 November.")
	wall.counts("round", 2)
	d.threeSteps()
	d.parting()
	d.welding()
	wall.counts("inspect", 1)
	service.answers("O-5101", "Order O-5101 for Harkle Bridge Library: its one pallet is not coated yet; "+
		"the wall panel 2400 is on the way to the inspection bay for weld inspection. Promised for Friday 27 November.")
	d.inspection(func() { wall.sees(".stops", "O-5101") })
	d.coating()
	wall.counts("dock", 10) // with the nine deliveries of the samples
	service.answers("O-5102", "Order O-5102 for Marram Cross Works: its one pallet is not coated yet; "+
		"the roof trays 2400 are on the way to the pretreat line for pretreatment. Promised for Wednesday 2 December.")
	d.leaving()
	service.answers("O-5101", "Order O-5101 for Harkle Bridge Library: all of it is at the fitting site, Larkfield, not unpacked yet. Promised for Friday 27 November.")
	wall.until("the panel packed and gone", `/1\s*packed, 1\s*gone/.test(document.querySelector("#wall").textContent.replace(/\s+/g, " "))`)
	if !asks[bool](wall, "window.same === true") {
		t.Error("the wall was loaded again")
	}
	d.proves()
	d.verified()
}

// answers asks the find box and expects one sentence, with the promise.
func (s *screen) answers(text, want string) {
	s.t.Helper()
	if got := s.finds(text); got != want {
		s.t.Errorf("find says  %s\nit should be %s", got, want)
	}
}

// counts waits for the wall, which nobody touches, to count pallets of a group.
func (s *screen) counts(group string, pallets int) {
	s.t.Helper()
	s.until(fmt.Sprintf("%d of %s", pallets, group), `[...document.querySelectorAll(".groups li")].some(e =>
		e.querySelector(".name").textContent.trim() === `+quoted(group)+` && e.querySelector(".count").textContent.trim() === "`+strconv.Itoa(pallets)+`")`)
}

// opens: an admin makes the code for the first tablet; goods come in.
func (d *day) opens() {
	d.time("07:00")
	code := d.desk("P01").codeFor("GOODS-1")
	goods := d.device("GOODS-1", browsertest.Tablet)
	d.screens["GOODS-1"] = goods
	goods.enrol(code)

	d.time("07:10")
	goods.leaves(func() { goods.click("a[href='/station/goods']") })
	goods.chooses("[data-item]", "SH-5005-3@1")
	goods.types("[name=heat]", "H5-21002")
	goods.types("[name=label]", "M-3001")
	goods.click("label:has([name=identified])")
	goods.click("form[data-command='receive-goods'] button.main")
	goods.signs("P06")
	goods.done("Taken in")
}

// cutting: the sheet and a bar of the stock are cut.
func (d *day) cutting() {
	sheet := d.named("SHEET-1", string(d.last(core.EvGoodsReceived).Pallets[0]))
	laser := d.tablet("LASER-1")
	d.time("07:20")
	laser.takes(sheet)
	d.time("07:25")
	laser.works("Cut the sheet", job{by: "P08"})

	bar := d.named("BAR-1", string(d.sheet("BAR-L40")))
	tube := d.tablet("TUBE-1")
	d.time("07:30")
	tube.takes(bar)
	d.time("07:35")
	tube.works("Cut the sheet", job{by: "P08"})
}

// breaksOut: the sheet's nest goes onto one pallet, the bar's onto another.
func (d *day) breaksOut() {
	d.time("07:40")
	d.parts = d.named("PALLET-1", d.separates("BENCH-1", d.code("SHEET-1"), "N-5001", "P06"))
	d.time("07:55")
	d.posts = d.named("PALLET-2", d.separates("BENCH-2", d.code("BAR-1"), "N-5002", "P07"))
}

// code is the code that has a name.
func (d *day) code(name string) string {
	d.t.Helper()
	for code, n := range d.codes {
		if n == name {
			return code
		}
	}
	d.t.Fatalf("nothing is called %s", name)
	return ""
}

// separates takes a cut sheet in, ticks its nest off onto one pallet five
// minutes later, and prints that pallet's traveller.
func (d *day) separates(at core.StationID, sheet, nest string, by core.PersonID) string {
	d.t.Helper()
	bench := d.tablet(at)
	bench.scans(sheet)
	bench.leaves(func() { bench.click(`form[data-command="take-in"] button`) })
	bench.sees("h1", "Break out")
	d.pass(5 * minute)
	bench.leaves(func() { bench.click(`a[href$="nest=` + nest + `"]`) })
	for _, to := range asks[[]string](bench, `[...document.querySelectorAll("select[data-to]")].map(e => e.name)`) {
		bench.chooses(`[name="`+to+`"]`, "new:A")
	}
	bench.click("[data-go]")
	bench.click("[data-go]")
	bench.signs(by)
	bench.done("is broken out")
	parted := d.last(core.EvSeparated)
	d.pass(5 * minute)
	bench.leaves(func() { bench.click(`form[data-command="print-traveller"] button.main`) })
	pallet := string(d.lot(parted.Lots[0].Lot).Place.Ref)
	bench.sees("main", spaced(pallet))
	return pallet
}

// threeSteps: one pallet comes to carry three items of two orders at three steps.
func (d *day) threeSteps() {
	hand := d.tablet("HAND-AL")
	d.time("08:10")
	hand.takes(ticket(d.posts, 1))
	d.time("08:15")
	hand.works("Round the edges by hand", job{by: "P21"})
	d.time("08:20")
	hand.hands("WELD-1")

	round := d.tablet("ROUND-AL")
	d.time("08:25")
	round.takes(ticket(d.parts, 1))
	d.time("08:30")
	round.scans(ticket(d.parts, 1))
	round.works("Round the edges", job{by: "P21", only: []string{"wall skin", "roof tray"}, hand: "BRAKE-1"})

	brake := d.tablet("BRAKE-1")
	d.time("08:35")
	brake.takes(ticket(d.parts, 1))
	d.time("08:40")
	brake.scans(ticket(d.parts, 1))
	brake.works("Fold", job{by: "P22", values: folds, only: []string{"roof tray"}})

	want := map[string]string{"2 SK-1200 of O-5101": "fold", "3 ST-1900 of O-5101": "edge-round", "2 RT-2400 of O-5102": "pretreat"}
	if got := d.waiting(core.PalletCode(d.parts)); !maps.Equal(got, want) {
		d.t.Errorf("the pallet waits for %v, want %v", got, want)
	}
}
