package station_test

import (
	"context"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

// typist works a tablet without touching it.
type typist struct {
	t   testing.TB
	ctx context.Context
	s   *webtest.LiveSite
}

func (p typist) keys(css, keys string) {
	p.t.Helper()
	browsertest.Keys(p.t, p.ctx, css, keys)
}

func (p typist) comes(css string) {
	p.t.Helper()
	browsertest.Do(p.t, p.ctx, seen(css), fonts)
}

// signs scans badges and types the PIN, wherever the focus is.
func (p typist) signs(badges ...string) {
	p.t.Helper()
	for _, b := range badges {
		browsertest.Do(p.t, p.ctx, seen("#sign"), chromedp.KeyEvent(b+"\r"), chromedp.KeyEvent(apptest.PIN))
	}
}

// happened waits for the page after a command and checks what was recorded last.
func (p typist) happened(page string, kind core.EventKind) core.Event {
	p.t.Helper()
	p.comes(page)
	if len(p.s.Events) == 0 || p.s.Events[len(p.s.Events)-1].Kind != kind {
		p.t.Fatalf("recorded: %+v, want %s last", p.s.Events, kind)
	}
	return p.s.Events[len(p.s.Events)-1].Event
}

const toPrint = "form[action='/pallets/travellers']"

// Parts are moved, put down, lent and paid back by keys alone, and the page of the prints goes on by them.
func TestPartsMoveByKeyboard(t *testing.T) {
	s := serve(t)
	badge, manager := s.Badge(t, operator), s.Badge(t, "P02")
	p := typist{t, s.Tablet(t, "ROUND-AL"), s}
	ctx := p.ctx

	goTo(t, ctx, s.URL+at(mixed))
	p.keys("[data-open=more]", "\r")
	p.keys("#more [data-open=divide]", "\r")
	browsertest.Do(t, ctx, chromedp.KeyEvent("1")) // the first lot's count has the focus
	p.keys("#divide [data-part-row='2'] [data-part-take=half]", " ")
	p.keys("#divide [data-code]", string(short)+"\r") // a scanner's Enter names the pallet, and no more
	browsertest.Do(t, ctx, chromedp.KeyEvent("\r"))
	moved := p.happened(toPrint, core.EvDivided)
	if n := s.World.State.LotsAt(core.On(short)); len(n) != 3 {
		t.Errorf("moved %+v, on the other pallet are %d lots", moved.Effects, len(n))
	}
	p.keys("a.button[href*='"+string(short)+"']", "\r")

	p.comes("form[data-steps]")
	p.keys("[data-onto-open]", "\r")
	p.keys("#onto [data-onto-done]", "\r")
	for range 6 { // through the faces of three lots to the signature
		if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.getElementById("sign").open`)) {
			break
		}
		p.keys("[data-go]", "\r")
	}
	p.signs(badge)
	put := p.happened(toPrint, core.EvSigned)
	if len(put.Pallets) != 2 {
		t.Errorf("put down on %v", put.Pallets)
	}

	goTo(t, ctx, s.URL+"/station/lend/"+string(mixed))
	browsertest.Do(t, ctx, chromedp.KeyEvent("1"))
	p.keys("[data-lend-to]", "\r")
	p.keys("[data-lend-go]", "\r")
	p.signs(manager)
	p.happened(toPrint, core.EvOwnerChanged)
	var lent core.Lot // the one part that is another order's now
	for _, l := range s.World.State.LotsAt(core.On(mixed)) {
		if l.Owner.Order != "O-4101" && l.Owner.Order != "O-4102" {
			lent = l
		}
	}
	if lent.Qty != 1 {
		t.Fatalf("lent: %+v", lent)
	}
	goTo(t, ctx, s.URL+"/station/lend/"+string(mixed)+"?lot="+string(lent.ID))
	p.keys("[data-lend-to][data-qty]", "\r") // all of the pay-back by one key
	if got := browsertest.Text(t, ctx, "[data-lend-go]"); got != "Pay 1 part back to O-4101, line 1" {
		t.Errorf("the button says %q", got)
	}
	p.keys("[data-lend-to][data-order='']", "\r") // the lender asks for fewer than it has by now: to stock
	p.keys("[data-lend-go]", "\r")
	p.signs(manager)
	p.happened(toPrint, core.EvOwnerChanged)
	for _, l := range s.World.State.LotsAt(core.On(mixed)) {
		if l.Owner == lent.Owner {
			t.Errorf("given back, and is %s's still", l.Owner)
		}
	}
	p.keys("main [data-first]", "")
}

// A unit is gathered, started, made and taken apart again by keys alone.
func TestAUnitByKeyboard(t *testing.T) {
	f := floor(t)
	f.Pallet(framing, "WELD-2")
	for _, c := range f.World.Book.Items[f.Item("BF-2400")].Bill {
		f.Lot(framing, c.Item.Item, line("O-4101", 1), c.Qty, "")
	}
	s := webtest.Live(t, f, station.Endpoints)
	badge := s.Badge(t, welder)
	p := typist{t, s.Tablet(t, "WELD-2"), s}
	ctx := p.ctx

	goTo(t, ctx, s.URL+frameOf)
	p.keys("form[data-command=gather] button", "\r")
	p.happened("form[data-command=begin-unit] button", core.EvGathered)
	p.keys("[data-open=put-back]", "\r")
	p.keys("#put-back button[type=submit]", "\r")
	p.happened(".rest", core.EvReturned)

	goTo(t, ctx, s.URL+frameOf)
	p.keys("form[data-command=gather] button", "\r")
	p.happened("form[data-command=begin-unit] button", core.EvGathered)
	p.keys("form[data-command=begin-unit] button", "\r")
	p.happened("[data-begun]", core.EvUnitBegun)
	p.keys("[data-open=assemble]", "\r")
	for range browsertest.Run(t, ctx, chromedp.Evaluate[int](`document.querySelectorAll("#assemble [data-input]").length`)) {
		p.keys("#assemble [data-input]:not(:has(:checked)) input", " ")
	}
	for range browsertest.Run(t, ctx, chromedp.Evaluate[int](`document.querySelectorAll("#assemble [data-tick]").length`)) {
		p.keys("#assemble [data-tick]:not(:checked)", " ")
	}
	p.keys("#assemble button[type=submit]", "\r")
	p.signs(badge)
	made := p.happened(".rest", core.EvAssembled)

	goTo(t, ctx, s.URL+at(made.Pallets[0]))
	p.keys("[data-open=more]", "\r")
	p.keys("#more a[href*='/station/apart/']", "\r")
	p.comes("#apart")
	p.keys("#apart [data-why]", "\r")
	p.keys("#apart button[type=submit]", "\r")
	p.signs(badge)
	p.happened("form[data-command=print-traveller]", core.EvTakenApart)
}
