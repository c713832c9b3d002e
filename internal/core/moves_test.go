package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// four is a lot of four roof trays, next to be rounded, with its pallet.
func (s *shop) four() (core.LotID, core.PalletCode) {
	s.t.Helper()
	s.nest("T-four", sheet5005, trays, core.Component{Item: tray, Qty: 4})
	l := s.separate("T-four")[0]
	return l.ID, core.PalletCode(l.Place.Ref)
}

func (s *shop) qty(id core.LotID) int { return s.state.Lots[id].Qty }

func TestSeparationAddsUp(t *testing.T) {
	s := newShop(t)
	s.nest("T-1", sheet5005, trays, core.Component{Item: tray, Qty: 6})
	b := core.Separate{Sheet: s.sheet("T-1"), Nest: "T-1", Ticks: []core.PartTick{{Line: 1, Good: 5}}}
	s.refused("nest-numbers", b, "BENCH-1", "P06")
	b.Ticks = []core.PartTick{{Line: 2, Good: 6}}
	s.refused("nest-line-unknown", b, "BENCH-1", "P06")
	b.Ticks = []core.PartTick{{Line: 1, Good: 3, To: "new:A"}, {Line: 1, Good: 2, Extra: 1, Damaged: 1, Missing: 1, To: "new:B"}}
	s.refused("signature-missing", b, "BENCH-1")
	e := s.must(b, "BENCH-1", "P06")
	s.refused("not-a-sheet", b, "BENCH-1", "P06")

	by := map[string]int{}
	for _, c := range e.Lots {
		l := s.state.Lots[c.Lot]
		where := string(l.Place.Kind)
		if l.Place.Kind == core.OnPallet && s.state.Pallets[core.PalletCode(l.Place.Ref)].Kind == core.Quarantine {
			where = "quarantine"
		}
		if l.Owner.Stock() {
			where = "stock"
		}
		by[where] += c.Good
		same(t, "heat", l.Heats, []string{"HT-1"})
	}
	same(t, "where the parts are", by, map[string]int{"pallet": 4, "stock": 1, "quarantine": 1, "unexplained": 1})
	same(t, "pallets made", len(e.Pallets), 4) // two, a quarantine pallet, the sheet
	s.agrees()
}

func TestDividingKeepsEveryPart(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	s.refused("more-than-there", core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 5}}}, "BENCH-1")
	s.refused("more-than-there", core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 0}}}, "BENCH-1")
	s.refused("same-pallet", core.Divide{From: code, To: code, Picks: []core.Pick{{Lot: id, Qty: 1}}}, "BENCH-1")
	s.until(id, "fold")
	e := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 3}}}, "ROUND-AL")
	to := e.Pallets[0]
	lots := s.state.LotsAt(core.On(to))
	same(t, "left", s.qty(id), 1)
	same(t, "moved", lots[0].Qty, 3)
	same(t, "facts go along", lots[0].Facts.At(core.Fact{Name: core.EdgesRounded}, s.now), core.Yes)
	same(t, "parents", lots[0].Parents, append(s.state.Lots[id].Parents, id))
	s.must(core.Divide{From: code, To: to, Picks: []core.Pick{{Lot: id, Qty: 1}}}, "ROUND-AL")
	s.refused("pallet-empty", core.TakeIn{Pallet: code}, "BRAKE-1")
	same(t, "says where they went", s.state.Pallets[code].GoneTo, []core.PalletCode{to})
	s.agrees()
}

func TestMiscountIsAskedTwiceThenUnexplained(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	b := core.Recount{Pallet: code, Lot: id, Found: 3, Reason: "one fell off"}
	r := s.refused("count-differs", b, "BENCH-1", "P06")
	if !r.Ask {
		t.Error("a differing count asks")
	}
	s.refused("count-agrees", core.Recount{Pallet: code, Lot: id, Found: 4}, "BENCH-1", "P06")
	out := s.send(core.Command{Body: b, Station: "BENCH-1", Confirm: []string{"count-differs"}}, "P06")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	m := out.Events[0].Effects[0].Moved
	same(t, "to", m.To, core.Place{Kind: core.Unexplained, Ref: string(code)})
	same(t, "now", s.qty(id), 3)
	s.refused("count-differs", core.Recount{Pallet: code, Lot: id, Found: 2, Recorded: 4, Reason: "told of four, of which one is gone since"}, "BENCH-1", "P06")
	s.must(core.Recount{Pallet: code, Lot: id, Found: 2, Recorded: 3, Reason: "told of three"}, "BENCH-1", "P06")
	same(t, "told of three", s.qty(id), 2)
	b.Found = 4
	out = s.send(core.Command{Body: b, Station: "BENCH-1", Confirm: []string{"count-differs"}}, "P06")
	same(t, "found again", s.qty(id), 4)
	b.Found = 6
	s.send(core.Command{Body: b, Station: "BENCH-1", Confirm: []string{"count-differs"}}, "P06")
	same(t, "asked for", s.qty(id), 4)
	for _, l := range s.state.LotsAt(core.On(code)) {
		if l.Owner.Stock() {
			same(t, "surplus belongs to stock", l.Qty, 2)
			same(t, "nobody knows it", l.Facts.At(core.Fact{Name: core.Separated}, s.now), core.Unsure)
			s.bring(l.ID, "ROUND-AL")
			s.refused("fact-unsure", mustWork(s, l.ID), "ROUND-AL", "P21")
		}
	}
	s.agrees()
}

func TestBorrowingIsAVisibleMoveOfOwner(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	b := core.ChangeOwner{Pallet: code, Lot: id, Qty: 1, To: core.Owner{Order: "O-4112", Line: 3}, Reason: "they leave first"}
	s.refused("owner-asks-none", b, "BENCH-1", "P02")
	b.To = core.Owner{Order: "O-4101", Line: 1} // its enclosure has one roof tray
	b.Qty = 2
	s.refused("owner-has-enough", b, "BENCH-1", "P02")
	b.Qty = 1
	e := s.must(b, "BENCH-1", "P02")
	s.refused("owner-has-enough", b, "BENCH-1", "P02")
	same(t, "kind", e.Kind, core.EvOwnerChanged)
	same(t, "lender keeps", s.qty(id), 3)
	lots := s.state.LotsAt(core.On(code))
	same(t, "lots", len(lots), 2)
	s.agrees()
}

func TestDeclaredMixMakesFactsUnsureUntilSettled(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	e := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 2}}}, "BENCH-1")
	other := s.state.LotsAt(core.On(e.Pallets[0]))[0].ID
	s.step(id) // rounded; the other is not
	s.must(core.Divide{From: e.Pallets[0], To: code, Picks: []core.Pick{{Lot: other, Qty: 2}}}, "ROUND-AL")
	s.refused("lots-differ", core.Fuse{Pallet: code, Lots: []core.LotID{id, other}}, "ROUND-AL")
	s.must(core.Fuse{Pallet: code, Lots: []core.LotID{id, other}, Mix: true}, "ROUND-AL")
	lots := s.state.LotsAt(core.On(code))
	same(t, "one lot", len(lots), 1)
	mix := lots[0]
	rounded := core.Fact{Name: core.EdgesRounded}
	same(t, "unsure", mix.Facts.At(rounded, s.now), core.Unsure)
	same(t, "count", mix.Qty, 4)

	// Unsure satisfies no need: not even by walking the rest of the route.
	look := core.Settle{Lot: mix.ID, Fact: rounded, Value: core.Yes, Reason: "looked at every edge"}
	s.refused("role-missing", look, "ROUND-AL", "P21")
	s.refused("two-must-look", look, "ROUND-AL", "P18")
	s.must(look, "ROUND-AL", "P18", "P03")
	same(t, "settled", s.state.Lots[mix.ID].Facts.At(rounded, s.now), core.Yes)
	s.refused("fact-not-unsure", look, "ROUND-AL", "P18", "P03")
	s.agrees()
}

func TestHoldsByEveryScope(t *testing.T) {
	for _, c := range []struct {
		scope core.HoldScope
		ref   func(core.Lot) string
	}{
		{core.HoldLot, func(l core.Lot) string { return string(l.ID) }},
		{core.HoldPallet, func(l core.Lot) string { return l.Place.Ref }},
		{core.HoldItem, func(l core.Lot) string { return l.Item.Key() }},
		{core.HoldHeat, func(l core.Lot) string { return l.Heats[0] }},
		{core.HoldOrder, func(l core.Lot) string { return l.Owner.Order }},
	} {
		t.Run(string(c.scope), func(t *testing.T) {
			s := newShop(t)
			id, code := s.four()
			s.bring(id, "ROUND-AL")
			w := mustWork(s, id)
			s.refused("reason-missing", core.PlaceHold{Scope: c.scope, Ref: c.ref(s.state.Lots[id])}, "", "P03")
			if c.scope != core.HoldHeat && c.scope != core.HoldPallet {
				s.refused("nothing-to-hold", core.PlaceHold{Scope: c.scope, Ref: "NOSUCH", Reason: "doubt"}, "", "P03")
			}
			e := s.must(core.PlaceHold{Scope: c.scope, Ref: c.ref(s.state.Lots[id]), Reason: "certificate in doubt"}, "", "P03")
			s.refused("lot-held", w, "ROUND-AL", "P21")
			// A split does not slip out of a hold.
			d := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 1}}}, "ROUND-AL")
			if l := s.state.LotsAt(core.On(d.Pallets[0]))[0]; c.scope != core.HoldPallet {
				if _, held := core.HeldBy(s.state, l); !held {
					t.Error("the split lot is free")
				}
			}
			hold := e.Effects[0].HoldPut.ID
			s.refused("signature-missing", core.LiftHold{Hold: hold, Reason: "checked"}, "")
			s.must(core.LiftHold{Hold: hold, Reason: "certificate found"}, "", "P03")
			w.Lots[0].Good = s.qty(id)
			s.must(w, "ROUND-AL", "P21")
			s.agrees()
		})
	}
}

func TestSomeBadGoToQuarantineAndTheGoodGoOn(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.bring(id, "ROUND-AL")
	w := mustWork(s, id)
	w.Lots[0].Good, w.Lots[0].Bad, w.Lots[0].Why = 3, 1, "scratched face"
	e := s.must(w, "ROUND-AL", "P21")
	same(t, "good go on", core.NextSteps(s.book, s.state.Lots[id])[0].Stage, core.StageName("fold"))
	same(t, "good", s.qty(id), 3)
	problem := s.state.Problems[core.ProblemID(e.Ref)]
	bad := s.state.Lots[problem.Lot]
	q := core.PalletCode(bad.Place.Ref)
	same(t, "quarantine", s.state.Pallets[q].Kind, core.Quarantine)
	same(t, "bad not rounded", bad.Facts.At(core.Fact{Name: core.EdgesRounded}, s.now), core.No)

	dispose := core.Dispose{Problem: problem.ID, Disposition: core.DisposeUseAsIs, Reason: "inside face"}
	s.refused("concession-needs-two", dispose, "", "P18")
	dispose.Disposition, dispose.Reason = core.DisposeRemake, "too deep"
	s.must(dispose, "", "P03")
	s.refused("problem-closed", dispose, "", "P03")
	same(t, "scrapped", s.state.Lots[bad.ID].Place.Kind, core.Scrapped)
	nest := "remake " + string(problem.ID)
	same(t, "asked for again", s.state.Nests[nest].Parts[0].Qty, 1)

	// The remake is cut from a sheet of its metal, is linked, and has the order's date.
	sheet := s.sheet(nest)
	r := s.must(core.Separate{Sheet: sheet, Nest: nest, Ticks: []core.PartTick{{Line: 1, Good: 1}}}, "BENCH-1", "P06")
	made := s.state.Lots[r.Lots[0].Lot]
	same(t, "linked", made.Remake, problem.ID)
	same(t, "promised", made.Promised, s.state.Orders["O-4111"].Promised)

	s.agrees()
}

func TestCorrections(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.until(id, "fold")
	rounding := s.events[len(s.events)-1]
	rounded := core.Fact{Name: core.EdgesRounded}
	c := core.Correct{Event: rounding.ID, Reason: "signed the wrong pallet"}
	s.refused("event-unknown", core.Correct{Event: "nothing", Reason: "x"}, "", "P21")
	s.refused("signature-missing", c, "")
	e := s.must(c, "", "P21")
	same(t, "corrects", e.Corrects, rounding.ID)
	same(t, "fact gone", s.state.Lots[id].Facts.At(rounded, s.now), core.No)
	same(t, "undone", core.NextSteps(s.book, s.state.Lots[id])[0].Stage, core.StageName("edge-round"))
	s.refused("corrected-already", c, "", "P21")

	s.until(id, "fold")
	rounding = s.events[len(s.events)-1]
	s.step(id)
	s.refused("moved-on", core.Correct{Event: rounding.ID, Reason: "x"}, "", "P21")
	s.agrees()
}

func TestTakingBackAReleaseTakesTwo(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	s.until(id, "pretreat")
	release := s.events[len(s.events)-1]
	same(t, "meaning", release.Signed[0].Meaning, core.MeantReleased)
	r := s.refused("release-needs-two", core.Correct{Event: release.ID, Reason: "wrong seam"}, "", "P18")
	if !r.Absolute {
		t.Error("one may take a release back by concession")
	}
	s.must(core.Correct{Event: release.ID, Reason: "wrong seam"}, "", "P18", "P19")
	same(t, "held again", core.NextSteps(s.book, s.state.Lots[id])[0].Stage, core.StageName("weld-inspect"))
	same(t, "fact gone", s.state.Lots[id].Facts.At(core.Fact{Name: core.WeldAccepted}, s.now), core.No)

	// Taking back a weld takes its unit apart: the components are back in the build.
	s2 := newShop(t)
	s2.panelParts()
	unit := s2.weldPanel()
	weld := s2.events[len(s2.events)-1]
	s2.must(core.Correct{Event: weld.ID, Reason: "wrong bench"}, "", "P13")
	same(t, "unit gone", s2.qty(unit), 0)
	inside := 0
	for _, l := range s2.state.Lots {
		if l.Place.Kind == core.Inside {
			inside += l.Qty
		}
	}
	same(t, "inside", inside, 0)
	s2.agrees()
}

// Parts split off a lot with an open problem stay in its hold, and its
// disposition is theirs too.
func TestSplittingAProblemEscapesNothing(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 4, What: "wrong alloy?", Stay: true}, "BENCH-1", "P06")
	d := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 1}}}, "BENCH-1")
	child := s.state.LotsAt(core.On(d.Pallets[0]))[0]
	if _, held := core.HeldBy(s.state, child); !held {
		t.Fatal("the split parts are free")
	}
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeScrap, Reason: "wrong alloy"}, "", "P03")
	same(t, "mother", s.state.Lots[id].Place.Kind, core.Scrapped)
	same(t, "child", s.state.Lots[child.ID].Place.Kind, core.Scrapped)
	for _, h := range s.state.Holds {
		if h.Open() {
			t.Errorf("hold %s is left over", h.ID)
		}
	}
	s.agrees()
}

// A coat over edges that turn out sharp is still a coat: the lot may neither go
// on nor be taken for bare, and can be stripped and coated again.
func TestWhatReliedOnAFactTakenBackIsUnsure(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.until(id, "coat-inspect")
	s.bring(id, "COAT-TABLE-1")
	bad := mustWork(s, id)
	bad.Lots[0].Good, bad.Lots[0].Bad, bad.Lots[0].Why = 0, 4, "powder pulled back: edges were never rounded"
	e := s.must(bad, "COAT-TABLE-1", "P20")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "strip, round, coat again",
		Route: core.RouteRef{Name: "COAT-AGAIN", Version: 1}, Rejoin: 30, Clear: []string{core.EdgesRounded}}, "", "P03")
	l := s.state.Lots[id]
	same(t, "edges", l.Facts.At(core.Fact{Name: core.EdgesRounded}, s.now), core.No)
	same(t, "coat", l.Facts.Any(core.Coated, s.now), core.Unsure)
	same(t, "next", core.NextSteps(s.book, l)[0].Stage, core.StageName("strip"))
	s.step(id)
	same(t, "stripped", s.state.Lots[id].Facts.Any(core.Coated, s.now), core.No)
	s.agrees()
}
