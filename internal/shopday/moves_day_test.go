package shopday

import (
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// fingers count the taps of one person at a screen; scans, badges and PINs are
// no taps.
type fingers struct {
	*screen
	taps int
}

func (f *fingers) tap(css string) {
	f.t.Helper()
	f.click(css)
	f.taps++
}

// within reports how many taps a job took, and holds it to that many.
func (f *fingers) within(job string, most int) {
	f.t.Helper()
	f.t.Logf("%s: %d taps", job, f.taps)
	if f.taps > most {
		f.t.Errorf("%s took %d taps, want %d at most", job, f.taps, most)
	}
	f.taps = 0
}

// movable imports two orders of roof trays, cut in one nest, and brings each on a
// pallet with its ticket to the rounding line.
func (h *house) movable() (twenty, four core.PalletCode) {
	h.t.Helper()
	_, faults, err := h.app.Import(h.t.Context(), "", "two orders of trays", fstest.MapFS{
		"orders.csv": {Data: []byte("order,customer,site,reference,promised,long_haul,priority,consent\r\n" +
			"O-5201,Harkle Bridge Library,SITE-LARKFIELD,HBL/26/09,2026-12-04,,,\r\nO-5202,Marram Cross Works,SITE-LARKFIELD,MCW-780,2026-12-09,,,\r\n")},
		"lines.csv": {Data: []byte("order,line,item,rev,qty\r\nO-5201,1,RT-2400,C,20\r\nO-5202,1,RT-2400,C,8\r\n")},
		"nests.csv": {Data: []byte("nest,material,material_rev,part,item,rev,order,line,qty\r\n" +
			"N-5201,SH-5005-3,1,1,RT-2400,C,O-5201,1,20\r\nN-5201,SH-5005-3,1,2,RT-2400,C,O-5202,1,4\r\n")},
	})
	must(h.t, err)
	if len(faults) > 0 {
		h.t.Fatal(faults)
	}
	h.separated("N-5201", "SH-5005-3", "LASER-1", "BENCH-1", "AB")
	twenty, four = h.palletOfItem("O-5201", "RT-2400"), h.palletOfItem("O-5202", "RT-2400")
	for _, p := range []core.PalletCode{twenty, four} {
		h.takeIn(p, "ROUND-AL")
		h.at("ROUND-AL").does(core.PrintTraveller{Pallet: p})
	}
	return twenty, four
}

// TestPartsMoveAsOnTheFloor: twelve of twenty panels are re-palletised in the
// middle of their step, two are refused, the rest follow; four come off the line
// onto two pallets in one motion; a borrowed part is paid back. Every ticket
// whose pallet changed is printed anew, and the record agrees with itself.
func TestPartsMoveAsOnTheFloor(t *testing.T) {
	h := furnish(open(t))
	from, other := h.movable()
	line := &fingers{screen: h.tablet("ROUND-AL")}
	to := h.twelveOfTwenty(line, from)
	h.twoRefused(line, from)
	h.restFollow(line, from, to)
	h.farEnd(line, other)
	h.paidBack(line, to)
	h.verified()
}

// twelveOfTwenty: begun, twelve are done and put on another pallet, eight stay begun.
func (h *house) twelveOfTwenty(line *fingers, from core.PalletCode) (to core.PalletCode) {
	line.scans(ticket(string(from), 1))
	line.tap(`main [data-open="more"]`)
	line.leaves(func() { line.tap(`#more form[data-command="begin"] button`) })
	line.within("begin", 2)

	line.scans(ticket(string(from), 1))
	line.tap("[data-not-good]")
	line.tap("dialog[open] [data-not-done]")
	line.tap("dialog[open] [data-key='8']")
	line.tap("dialog[open] [data-tally-done]")
	line.tap("[data-onto-open]")
	line.sees("#onto [data-onto-done]", "Put 12 parts down on a new pallet")
	line.look()
	line.tap("#onto [data-onto-done]")
	line.tap("[data-go]") // the check
	line.sees("[data-go]", "Sign off 12 good, 8 later")
	line.tap("[data-go]")
	line.sees("#sign [data-onto-says]", "12 parts onto a new pallet")
	line.signs(operator)
	line.done("Round the edges: signed")
	signed := h.last(core.EvSigned)
	line.printsOffered("Print both travellers")
	line.within("12 of 20 done and put on another pallet, both travellers printed", 9)

	left := h.on(from)
	if len(left) != 1 || left[0].Qty != 8 || left[0].Started == nil || left[0].Facts.At(core.Fact{Name: core.EdgesRounded}, h.clock()) == core.Yes {
		h.t.Fatalf("on the first pallet: %+v", left)
	}
	for _, p := range signed.Pallets {
		if p != from {
			to = p
		}
	}
	moved := h.on(to)
	if len(moved) != 1 || moved[0].Qty != 12 || moved[0].Started != nil || moved[0].Facts.At(core.Fact{Name: core.EdgesRounded}, h.clock()) != core.Yes {
		h.t.Fatalf("on the other pallet: %+v", moved)
	}
	h.printed(map[core.PalletCode]int{from: 2, to: 1})
	return to
}

// printsOffered numbers the prints that the page offers, looks at them, and goes on.
func (f *fingers) printsOffered(button string) {
	f.t.Helper()
	f.sees("main form button.main", button)
	f.look()
	f.leaves(func() { f.tap("main form button.main") })
	f.sees("nav.screen", "to print")
	f.leaves(func() { f.click("nav.screen a:first-child") })
}

// printed holds pallets to the number of their newest prints, each saying what is
// on its pallet.
func (h *house) printed(want map[core.PalletCode]int) {
	h.t.Helper()
	for code, no := range want {
		w, err := h.app.World(h.t.Context(), core.Names{Pallets: []core.PalletCode{code}}, "")
		must(h.t, err)
		row := w.State.Pallets[code]
		if n := len(row.Prints); n == 0 || row.Prints[n-1].No != no {
			h.t.Errorf("pallet %s has prints %+v, want number %d", code, row.Prints, no)
		}
		if changes, known := core.StalePrint(w.State, w.Book, row, no); !known || len(changes) > 0 {
			h.t.Errorf("print %d of %s is out of date: %v", no, code, changes)
		}
	}
}

// twoRefused: of the eight, two are bent; they go to quarantine with a print.
func (h *house) twoRefused(line *fingers, from core.PalletCode) {
	line.scans(ticket(string(from), 2))
	line.sees(".look", "Begun")
	line.tap("[data-not-good]")
	line.tap("dialog[open] [data-key='2']")
	line.tap(`dialog[open] [data-why="scratched"]`)
	line.tap("dialog[open] [data-tally-done]")
	line.tap("[data-go]")
	line.tap("[data-go]")
	line.signs(operator)
	line.sees("main .card", "quarantine")
	line.sees("main .card", "2 × roof tray 2400")
	bad := h.last(core.EvSigned)
	line.printsOffered("Print both travellers")
	line.within("2 of 8 refused, with the quarantine traveller printed", 7)
	for _, p := range bad.Pallets {
		if p == from {
			h.printed(map[core.PalletCode]int{p: 3})
			continue
		}
		if h.pallet(p).Kind != core.Quarantine || len(h.on(p)) != 1 || h.on(p)[0].Qty != 2 {
			h.t.Errorf("quarantine: %+v %+v", h.pallet(p), h.on(p))
		}
		h.printed(map[core.PalletCode]int{p: 1})
	}
}

// restFollow: the six good ones go to the twelve, which are like them and become one lot.
func (h *house) restFollow(line *fingers, from, to core.PalletCode) {
	line.scans(ticket(string(from), 3))
	line.tap(`main [data-open="more"]`)
	line.tap(`#more [data-open="divide"]`)
	line.look()
	line.tap(`#divide [data-part-take="all"]`)
	line.types("#divide [data-code]", ticket(string(to), 1)+"\r") // the scanner's own Enter confirms nothing
	line.sees("#divide [data-parts-go]", "Move 6 parts onto "+spaced(string(to)))
	line.leaves(func() { line.tap("#divide [data-parts-go]") })
	line.done("Parts moved")
	line.tap("main form[data-command='fuse'] button")
	line.sees("#sign", "Make one lot")
	line.signs(operator)
	line.done("One lot made")
	line.printsOffered("Print the traveller of " + spaced(string(to)))
	line.sees(".side [aria-current]", spaced(string(to))) // the page of the target
	line.within("6 moved onto another pallet, made one lot with the 12 there, its traveller printed", 6)
	lots := h.on(to)
	if len(lots) != 1 || lots[0].Qty != 18 {
		h.t.Fatalf("on the other pallet: %+v", lots)
	}
	h.printed(map[core.PalletCode]int{to: 2})
	rows, err := h.store.History(h.t.Context(), app.HistoryQuery{Lot: lots[0].ID})
	must(h.t, err)
	for _, kind := range []core.EventKind{core.EvSeparated, core.EvBegun, core.EvSigned, core.EvDivided, core.EvFused} {
		if !slices.ContainsFunc(rows, func(r app.Recorded) bool { return r.Kind == kind }) {
			h.t.Errorf("the history of the 18 does not tell that they were %s", kind)
		}
	}
}

// farEnd: off one pallet, on to two others, handed over, in one sign-off.
func (h *house) farEnd(line *fingers, from core.PalletCode) {
	line.scans(ticket(string(from), 1))
	line.tap("[data-onto-open]")
	line.tap(`#onto [data-part-take="half"]`)
	line.tap("#onto [data-onto-more]")
	line.sees("#onto [data-onto-list]", "2 parts onto a new pallet")
	line.tap("#onto [data-onto-done]")
	line.tap("[data-go]")
	line.tap("[data-go]")
	line.tap(`#sign label:has(input[value="BRAKE-1"])`)
	line.signs(operator)
	signed := h.last(core.EvSigned)
	line.sees("main .cards", "On its way to press brake 1")
	line.printsOffered("Print both travellers")
	line.within("off one pallet, on to two others, handed over, both travellers printed", 8)
	if n := len(h.on(from)); n != 0 {
		h.t.Errorf("%d lots are still on %s", n, from)
	}
	var onto []string
	for _, p := range signed.Pallets {
		if p == from {
			continue
		}
		onto = append(onto, string(p))
		if row := h.pallet(p); row.Bound != "BRAKE-1" || len(h.on(p)) != 1 || h.on(p)[0].Qty != 2 {
			h.t.Errorf("%s: bound for %q with %+v", p, row.Bound, h.on(p))
		}
		h.printed(map[core.PalletCode]int{p: 1})
	}
	if len(onto) != 2 {
		h.t.Errorf("put down on %s, want two pallets", strings.Join(onto, ", "))
	}
}

// paidBack: four are lent to another order, which gives them back; both orders
// say so while it lasts, and tell of it ever after.
func (h *house) paidBack(line *fingers, pallet core.PalletCode) {
	desk := h.desk("P04")
	told := func(order string) string {
		desk.open("/history/order/" + order)
		return desk.said("#loans li")
	}
	lends := func() {
		line.scans(string(pallet))
		line.tap(`main [data-open="more"]`)
		line.leaves(func() { line.tap(`#more a[href*="/station/lend/"]`) })
	}
	lends()
	line.tap(`main .pad [data-key="4"]`)
	line.tap(`[data-lend-to][data-order="O-5202"]`)
	line.sees("[data-lend-go]", "Lend 4 parts to O-5202, line 1")
	line.tap("[data-lend-go]")
	line.signs("P02")
	line.done("Lent")
	line.printsOffered("Print the traveller of " + spaced(string(pallet)))
	line.within("4 lent to another order, the traveller printed", 6)
	for _, order := range []string{"O-5201", "O-5202"} {
		if got, want := told(order), "4 × roof tray 2400, lent by O-5201/1 to O-5202/1"; got != want {
			h.t.Errorf("the history of %s says %q is lent, want %q", order, got, want)
		}
	}

	lends()
	borrowed := asks[string](line.screen, `[...document.querySelectorAll("#lend nav a")].find(e => e.textContent.includes(": 4 × roof tray")).id`)
	line.leaves(func() { line.tap("#" + borrowed) })
	line.tap("[data-lend-to][data-qty]")
	line.sees("[data-lend-go]", "Pay 4 parts back to O-5201, line 1")
	line.look()
	line.tap("[data-lend-go]")
	line.signs("P02")
	line.printsOffered("Print the traveller of " + spaced(string(pallet)))
	line.within("the 4 paid back, the traveller printed", 6)
	h.printed(map[core.PalletCode]int{pallet: 4})
	for _, order := range []string{"O-5201", "O-5202"} {
		if got := told(order); got != "" {
			h.t.Errorf("paid back, the history of %s still says %q is lent", order, got)
		}
		rows, err := h.store.History(h.t.Context(), app.HistoryQuery{Order: order, Kind: core.EvOwnerChanged})
		must(h.t, err)
		if len(rows) != 2 {
			h.t.Errorf("the history of %s tells of %d changes of owner, want 2", order, len(rows))
		}
	}
	for _, l := range h.on(pallet) {
		if l.Owner != (core.Owner{Order: "O-5201", Line: 1}) {
			h.t.Errorf("%d on the pallet are of %v", l.Qty, l.Owner)
		}
	}
}
