package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// Coat start, the release of a hold point or a hold, and ship need the server.
func TestWhatNeedsTheServerIsNotDoneOutOfTouch(t *testing.T) {
	s := newShop(t)
	offline := func(body core.Body, at core.StationID, signers ...core.PersonID) core.Outcome {
		t.Helper()
		return s.send(core.Command{Body: body, Station: at, Device: core.Device{Tablet: "T1", Offline: true}}, signers...)
	}
	refused := func(what string, out core.Outcome) {
		t.Helper()
		if out.Refusal == nil || out.Refusal.Code != "needs-server" || !out.Refusal.Absolute {
			t.Errorf("%s out of touch: %+v", what, out.Refusal)
		}
	}
	s.panelParts()
	id := s.weldPanel()
	s.until(id, "weld-inspect")
	w, at := s.work(id)
	s.bring(id, at)
	refused("weld release", offline(w, at, "P18"))
	s.until(id, "coat")
	w, at = s.work(id)
	s.bring(id, at)
	refused("coat start", offline(core.Begin{Pallet: w.Pallet, Stage: "coat"}, at, "P21"))
	e := s.must(core.PlaceHold{Scope: core.HoldLot, Ref: string(id), Reason: "doubt"}, "", "P03")
	refused("hold release", offline(core.LiftHold{Hold: e.Effects[0].HoldPut.ID, Reason: "looked"}, "", "P03"))
	s.must(core.LiftHold{Hold: e.Effects[0].HoldPut.ID, Reason: "looked"}, "", "P03")

	// A coat that was sprayed all the same is a claim to be dealt with.
	out := offline(w, at, "P21")
	if out.Refusal != nil || out.Events[0].Kind != core.EvClaimed || out.Notices[0].Code != "needs-server" {
		t.Fatalf("a coat sprayed out of touch: %+v", out)
	}
	same(t, "coated", s.state.Lots[id].Facts.At(core.Fact{Name: core.Coated, Of: "outside"}, s.now), core.Unsure)

	other := s.weldPanel()
	s.finish(other)
	load := s.must(core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: []core.PalletCode{core.PalletCode(s.state.Lots[other].Place.Ref)}}, "DOCK-1", "P25")
	refused("ship", offline(core.Ship{Consignment: core.ConsignmentCode(load.Ref), Vehicle: "HA26 ULR"}, "DOCK-1", "P25"))
	s.agrees()
}

// A disposition lets a face be coated over once, not for ever; taking the coat
// back gives the leave back.
func TestOvercoatIsLetOnce(t *testing.T) {
	s := newShop(t)
	s.nest("T-20", sheet5005, trays, core.Component{Item: tray, Qty: 2})
	id := s.separate("T-20")[0].ID
	s.until(id, "coat-inspect")
	over := core.Route{RouteRef: core.RouteRef{Name: "OVERCOAT", Version: 1}, Rework: true, Steps: []core.Step{
		{No: 10, Stage: "key-and-clean"}, {No: 20, Stage: "coat"}, {No: 30, Stage: "cure"},
		{No: 40, Stage: "key-and-clean"}, {No: 50, Stage: "coat"}}}
	s.book.Routes[over.RouteRef] = over
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 2, What: "thin coat", Stay: true}, s.state.Pallets[code].Station, "P20")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "coat over", Route: over.RouteRef,
		Rejoin: core.NextSteps(s.book, s.state.Lots[id])[0].No, Overcoat: []core.Face{"all"}}, "", "P03")
	s.step(id)
	s.step(id)
	same(t, "leave used", len(s.state.Lots[id].Overcoat), 0)
	s.must(core.Correct{Event: s.events[len(s.events)-1].ID, Reason: "wrong pallet"}, "", "P21")
	same(t, "leave given back", len(s.state.Lots[id].Overcoat), 1)
	for range 3 {
		s.step(id)
	}
	w, at := s.work(id)
	s.bring(id, at)
	s.refused("face-coated", w, at, "P21")
	s.agrees()
}
