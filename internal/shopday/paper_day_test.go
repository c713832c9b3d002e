package shopday

import (
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// TestSignedOnPaper: the tablets were out in the morning, and the rounding of a
// pallet was signed with a pen. It is entered at noon by who did it and one who
// compared the paper, and the history says so; a time to come is refused.
func TestSignedOnPaper(t *testing.T) {
	h := furnish(open(t))
	day := h.separated("N-5001", "SH-5005-3", "LASER-1", "BENCH-1", "AAB")
	pallet := h.palletOf(day["RT-2400"].ID)
	h.takeIn(pallet, "ROUND-AL")
	taken := h.clock()
	h.time("12:00")
	round := h.tablet("ROUND-AL")
	round.scans(string(pallet))
	round.click(`main [data-open="more"]`)
	round.leaves(func() { round.click(`#more a[href^="/station/paper/"]`) })
	round.sees("h1", "Round the edges, from paper")
	at := func(when string) {
		round.js(`(e => { e.value = ` + quoted(when) + `; e.dispatchEvent(new Event("input", {bubbles: true})); })(document.querySelector("[name=onPaper]"))`)
	}
	at("2026-11-25T13:00")
	for range 4 {
		round.click("[data-go]")
		if asks[bool](round, `document.querySelector("#sign").open`) {
			break
		}
	}
	both := func() {
		round.badges("P21")
		round.sees("#sign [data-part=which]", "Second signature")
		round.badges("P22")
	}
	round.no("a time to come", panelSays, "The time on the paper is in the future, or more than 31 days ago.", "paper-time", both)
	round.click("#refusal [data-close]")
	when := taken.Add(30 * time.Minute).Truncate(time.Minute)
	at(when.Format("2006-01-02T15:04"))
	round.click("[data-go]")
	round.leaves(both)
	round.done("Round the edges: signed")
	signed := h.last(core.EvSigned)
	if !signed.OnPaper || !signed.Happened.Equal(when) || len(signed.Signed) != 2 || !signed.Signed[0].At.After(when) {
		t.Errorf("signed: %+v", signed)
	}
	round.open("/history/" + string(pallet))
	round.sees("main", "signed on paper at that time, entered here later")
	round.sees("main", "Merrin Stroud")
	round.sees("main", "Alaric Penn")
	h.verified()
}

// TestSeparationChecksAreAsked: the trays' route has a check drawn for their
// cutting; the bench asks it, and it is on record with the trays.
func TestSeparationChecksAreAsked(t *testing.T) {
	h := furnish(open(t))
	book := h.book()
	route := book.Routes[book.Items[core.ItemRev{Item: "RT-2400", Rev: "C"}].Route]
	route.Version++
	route.Steps = append([]core.Step{}, route.Steps...)
	route.Steps[0].Checks = []core.Characteristic{{ID: "dross", Text: "No dross on the lower edge", Kind: core.Tick}}
	tray := book.Items[core.ItemRev{Item: "RT-2400", Rev: "C"}]
	tray.Route = route.RouteRef
	_, _, err := h.store.SaveBook(t.Context(), "", "a check drawn", app.BookRows{Routes: []core.Route{route}, Items: []core.Revision{tray}})
	must(t, err)

	sheet := h.cut("SH-5005-3", "LASER-1", "BENCH-1")
	bench := h.tablet("BENCH-1")
	bench.scans(string(sheet))
	bench.leaves(func() { bench.click(`a[href$="nest=N-5001"]`) })
	bench.click("[data-go]")
	bench.sees("[data-go]", "Go on to the checks")
	bench.click("[data-go]")
	bench.sees(".nest-checks", "2 roof trays 2400 No dross on the lower edge")
	bench.look()
	bench.click("[data-go]")
	bench.click("[data-go]")
	bench.signs("P06")
	bench.done("is broken out")
	parted := h.last(core.EvSeparated)
	if len(parted.Checks) != 1 || !parted.Checks[0].Met || h.lot(parted.Checks[0].Lot).Item.Item != "RT-2400" {
		t.Errorf("checks on record: %+v", parted.Checks)
	}
	h.verified()
}
