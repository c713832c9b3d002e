package station_test

import (
	"fmt"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
)

// What is longer and more than a shop should have, and will.
var (
	long    = pallet(30) // long words, a long route, many checks
	crowded = pallet(31) // nine lots
	rounds  = pallet(32) // nine lots for the belts of the rounding line
)

func ptr(v float64) *float64 { return &v }

// stress adds the long and the many to a floor, at press brake 3.
func stress(f *apptest.Floor) {
	b := f.World.Book
	route := core.Route{RouteRef: core.RouteRef{Name: "LONG", Version: 1}}
	for i, st := range []core.StageName{"cut", "separate", "edge-round", "fold", "drill", "tap", "rivet-nut", "rivet", "mask", "pretreat", "coat",
		"cure", "key-and-clean", "coat", "cure", "coat-inspect", "unmask", "pack"} {
		s := core.Step{No: 10 * (i + 1), Stage: st}
		if st == "fold" {
			s.Look = "Fold the long flange first, from the marked side; keep the protective film on the face that will be seen"
			for n := range 5 {
				s.Checks = append(s.Checks, core.Characteristic{ID: fmt.Sprint("t", n), Kind: core.Tick,
					Text: "No marks of the tools on the face that is seen, and the film still on it"})
			}
			s.Checks = append(s.Checks,
				core.Characteristic{ID: "m1", Kind: core.Measure, Text: "Angle of the second fold, at both ends and in the middle", Nominal: ptr(90), Lower: ptr(89.5), Upper: ptr(90.5), Unit: "°", Instrument: "angle gauge"},
				core.Characteristic{ID: "m2", Kind: core.Measure, Text: "Outside width over the flanges", Nominal: ptr(1200), Lower: ptr(1199.2), Upper: ptr(1200.4), Unit: "mm", Instrument: "caliper"},
				core.Characteristic{ID: "m3", Kind: core.Measure, Text: "Diagonals differ by", Upper: ptr(1.5), Unit: "mm"})
		}
		route.Steps = append(route.Steps, s)
	}
	b.Routes[route.RouteRef] = route
	item := core.ItemRev{Item: "ENC-3600-LOUVRE-BANK-SIDE", Rev: "AB"}
	b.Items[item] = core.Revision{ItemRev: item, Kind: core.PartItem, Name: "louvre bank side with cable cut-out and lifting tab", Grade: "5083-H116 EN AW",
		Metal: core.Aluminium, Thickness: 4, Length: 1880, Width: 40, Route: route.RouteRef}
	f.Order(core.Order{No: "O-4199-2", Customer: "Brackenmoor and Larkfield United Hospital Estates Trust", Promised: "2026-11-13",
		Lines: []core.OrderLine{{Item: item, Qty: 240}}})
	f.Pallet(long, "BRAKE-3")
	f.Lot(long, item.Item, line("O-4199-2", 1), 128, "fold")
	f.Pallet(crowded, "BRAKE-3")
	for i := range 9 {
		f.Lot(crowded, []core.ItemID{item.Item, "SK-1200", "ST-1900"}[i%3], line([]string{"O-4199-2", "O-4101", "O-4102"}[i%3], 1), 10+i, "fold")
	}
	f.Pallet(rounds, "ROUND-AL")
	for i := range 9 {
		f.Lot(rounds, []core.ItemID{item.Item, "SK-1200", "ST-1900"}[i%3], line([]string{"O-4199-2", "O-4101", "O-4102"}[i%3], 1), 10+i, "edge-round")
	}
	for i := range 8 {
		c := pallet(40 + i)
		f.Pallet(c, "BRAKE-3")
		f.Lot(c, item.Item, line("O-4199-2", 1), 3, "fold")
		d := pallet(50 + i)
		f.Pallet(d, "")
		f.Change(d, func(p *core.PalletRow) { p.Station, p.Bound = "ROUND-AL", "BRAKE-3" })
		f.Lot(d, item.Item, line("O-4199-2", 1), 5, "fold")
	}
}

var told = chromedp.Evaluate[chromedp.Void](`sessionStorage.setItem("done", JSON.stringify({text: "Round the edges: signed", history: "/history/X", notices: ["Aluminium and stainless lie together on this pallet."]}))`)

var stressFaces = []face{
	{"full-rest", "BRAKE-3", "/station", []step{told, chromedp.Reload(), seen("[data-done-line]")}},
	{"long", "BRAKE-3", at(long), []step{told, chromedp.Reload(), seen("[data-done-line]")}},
	{"long-more", "BRAKE-3", at(long), []step{click("[data-go]"), click("[data-go]"), click("[data-go]")}},
	{"long-measured", "BRAKE-3", at(long), []step{click("[data-go]"), click("[data-go]"), click("[data-go]"), click("[data-go]"), click("[data-go]")}},
	{"crowded", "BRAKE-2", at(crowded), nil},
	{"crowded-sign", "BRAKE-3", at(crowded), []step{chromedp.Evaluate[chromedp.Void](`{const go = document.querySelector("[data-go]"); document.querySelectorAll("[data-measure]").forEach(m => { m.querySelector("[data-number]").value = m.dataset.lower || m.dataset.upper; m.querySelector("[data-number]").dispatchEvent(new Event("input", {bubbles: true})); const g = m.querySelector("[data-gauge]"); if (g) g.selectedIndex = [...g.options].findLastIndex(o => !("overdue" in o.dataset)); }); for (let i = 0; i < 60 && !document.querySelector("#sign[open]"); i++) go.click();}`), seen("#sign")}},
	{"crowded-mounted", "ROUND-AL", at(rounds), []step{chromedp.Evaluate[chromedp.Void](`{const go = document.querySelector("[data-go]"); for (let i = 0; i < 60 && !document.querySelector("#sign[open]"); i++) go.click();}`), seen("#sign")}},
	{"crowded-divide", "BRAKE-3", at(crowded), other("divide")},
	{"crowded-divide-others", "BRAKE-3", at(crowded), append(other("divide"), click("#divide [data-parts-turn]"))},
	{"crowded-onto", "ROUND-AL", at(rounds), []step{click("[data-onto-open]"), seen("#onto")}},
	{"crowded-lend", "BRAKE-3", "/station/lend/" + string(crowded), nil},
	{"crowded-problem", "BRAKE-3", at(crowded), other("problem")},
	{"crowded-fuse", "BRAKE-3", at(crowded), other("fuse")},
}
