package core_test

import (
	"slices"
	"testing"
	"time"

	"tagalong/internal/core"
)

var (
	sheet5005 = core.ItemRev{Item: "SH-5005-3", Rev: "1"}
	bar       = core.ItemRev{Item: "BAR-L40", Rev: "1"}
	panel     = core.ItemRev{Item: "WP-2400", Rev: "D"}
	skin      = core.ItemRev{Item: "SK-1200", Rev: "D"}
	stiffener = core.ItemRev{Item: "ST-1900", Rev: "B"}
	post      = core.ItemRev{Item: "PO-1900", Rev: "A"}
	tray      = core.ItemRev{Item: "RT-2400", Rev: "C"}
	cover     = core.ItemRev{Item: "SC-COVER", Rev: "A"}
	cableTray = core.ItemRev{Item: "CT-2400", Rev: "A"}
	hinge     = core.ItemRev{Item: "HP-80", Rev: "B"}
	panels    = core.Owner{Order: "O-4105", Line: 1} // two wall panels
	trays     = core.Owner{Order: "O-4111", Line: 1}
	plates    = core.Owner{Order: "O-4112", Line: 2}
)

// panelParts makes the components of two wall panels, each at the end of its
// route, and returns their pallets.
func (s *shop) panelParts() {
	s.t.Helper()
	s.nest("T-1", sheet5005, panels, core.Component{Item: skin, Qty: 4}, core.Component{Item: stiffener, Qty: 6})
	s.nest("T-2", bar, panels, core.Component{Item: post, Qty: 4})
	for _, l := range append(s.separate("T-1"), s.separate("T-2")...) {
		s.finish(l.ID)
		s.must(core.TakeIn{Pallet: core.PalletCode(l.Place.Ref)}, "WELD-1")
	}
}

// weldPanel gathers and welds one wall panel and returns its lot.
func (s *shop) weldPanel() core.LotID {
	s.t.Helper()
	e := s.must(core.Gather{Item: panel, Owner: panels}, "WELD-1")
	step := s.book.Routes[s.book.Items[panel].Route].Steps[0]
	e = s.must(core.Assemble{Build: core.BuildCode(e.Ref), Inputs: []string{"FA-121"}, Checks: checks(s.book, step)}, "WELD-1", "P13")
	for _, f := range e.Effects {
		if f.BuildPut != nil {
			return f.BuildPut.Lot
		}
	}
	s.t.Fatal("nothing was welded")
	return ""
}

func TestTwoColourPanelFromSheetToTruck(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	for range 2 {
		id := s.weldPanel()
		s.finish(id)
		l := s.state.Lots[id]
		for _, f := range []core.Fact{{Name: core.EdgesRounded}, {Name: core.WeldAccepted}, {Name: core.IsPacked},
			{Name: core.CoatAccepted, Of: "inside"}, {Name: core.CoatAccepted, Of: "outside"}} {
			if l.Facts.At(f, s.now) != core.Yes {
				t.Errorf("the packed panel is not %s", f)
			}
		}
		same(t, "bakes", l.Bakes, 2)
		same(t, "colours", l.Facts[core.Fact{Name: core.Coated, Of: "outside"}].Note, "basalt, batch PB-2610")
	}
	s.refused("build-enough", core.Gather{Item: panel, Owner: panels}, "WELD-1")

	var packed []core.PalletCode
	for _, l := range s.state.Lots {
		if l.Item == panel {
			packed = append(packed, core.PalletCode(l.Place.Ref))
		}
	}
	slices.Sort(packed)
	e := s.must(core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: packed}, "DOCK-1", "P25")
	con := core.ConsignmentCode(e.Ref)
	r := s.refused("order-short", core.Ship{Consignment: con, Vehicle: "KV26 RNE"}, "DOCK-1", "P25")
	if !r.Ask {
		t.Error("a part shipment is no question")
	}
	s.refused("role-missing", core.Ship{Consignment: con, Vehicle: "KV26 RNE"}, "DOCK-1", "P21")
	out := s.sendOff(con, "KV26 RNE", "the panels are fitted first")
	if out.Refusal != nil {
		t.Fatalf("a part shipment its customer agreed to was refused: %v", out.Refusal)
	}
	s.must(core.ReceiveAtSite{Consignment: con}, "SITE-LARKFIELD", "P27")
	s.refused("consignment-received", core.ReceiveAtSite{Consignment: con}, "SITE-LARKFIELD", "P27")
	s.agrees()
}

func TestCoatingUnroundedEdgesIsRefusedAlsoBesideRoundedOnes(t *testing.T) {
	s := newShop(t)
	s.nest("T-3", sheet5005, trays, core.Component{Item: tray, Qty: 2}, core.Component{Item: cableTray, Qty: 3})
	lots := s.separate("T-3")
	rounded, sharp := lots[0].ID, lots[1].ID
	s.until(rounded, "coat")
	s.must(core.Divide{From: core.PalletCode(lots[1].Place.Ref), To: core.PalletCode(lots[0].Place.Ref),
		Picks: []core.Pick{{Lot: sharp, Qty: 3}}}, "PRETREAT-1")
	s.must(core.TakeIn{Pallet: core.PalletCode(lots[0].Place.Ref)}, "BOOTH-1")
	both := core.SignOff{Pallet: core.PalletCode(lots[0].Place.Ref), Stage: "coat", Inputs: []string{"PB-2610"},
		Lots: []core.LotWork{{Lot: rounded, Good: 2, Checks: s.checksOf(rounded, "coat")}, {Lot: sharp, Good: 3, Checks: s.checksOf(sharp, "coat")}}}
	r := s.refused("edges-not-rounded", both, "BOOTH-1", "P21")
	if !r.Absolute || !slices.Equal(r.Lots, []core.LotID{sharp}) || !slices.Equal(r.Others, []core.LotID{rounded}) {
		t.Fatalf("the refusal does not say who may go on: %+v", r)
	}
	out := s.send(core.Command{Body: both, Station: "BOOTH-1", Waive: []core.Waiver{{Code: "edges-not-rounded", Reason: "hurry"}}}, "P21", "P03")
	if out.Refusal == nil || out.Refusal.Code != "edges-not-rounded" {
		t.Fatal("an absolute rule was set aside by concession")
	}
	both.Lots = both.Lots[:1]
	s.must(both, "BOOTH-1", "P21")
	s.agrees()
}

// checksOf answers the checks of a lot's step that does a stage.
func (s *shop) checksOf(id core.LotID, stage core.StageName) []core.CheckReading {
	for _, st := range s.book.Routes[s.state.Lots[id].Route].Steps {
		if st.Stage == stage {
			return checks(s.book, st)
		}
	}
	return nil
}

func TestWeldHoldPoint(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	s.until(id, "weld-inspect")
	code := core.PalletCode(s.state.Lots[id].Place.Ref)

	// Nobody passes: neither to pretreatment nor, past it, to the booth.
	s.bring(id, "INSPECT-1")
	s.refused("hold-not-released", core.TakeIn{Pallet: code}, "PRETREAT-1")
	s.refused("nothing-to-do", core.TakeIn{Pallet: code}, "BRAKE-1")
	s.refused("not-taken-in", core.SignOff{Pallet: code, Stage: "pretreat", Lots: []core.LotWork{{Lot: id, Good: 1}}}, "PRETREAT-1", "P21")
	bay := s.book.Stations["INSPECT-1"]
	bay.Stages = append(slices.Clone(bay.Stages), "pretreat", "coat")
	s.book.Stations["INSPECT-1"] = bay
	for stage, in := range map[core.StageName]string{"pretreat": "BT-48", "coat": "PB-2610"} {
		r := s.refused("hold-not-released", core.SignOff{Pallet: code, Stage: stage, Inputs: []string{in}, Lots: []core.LotWork{{Lot: id, Good: 1}}}, "INSPECT-1", "P21")
		if stage == "pretreat" && !r.Absolute {
			t.Error("a hold point can be set aside")
		}
	}

	release, _ := s.work(id)
	s.refused("role-missing", release, "INSPECT-1", "P22")
	s.refused("qualification-missing", release, "INSPECT-1", "P20")
	welder := s.book.People["P13"]
	welder.Roles = append(slices.Clone(welder.Roles), core.Inspector)
	welder.Qualifications = append(slices.Clone(welder.Qualifications), core.Qualification{Process: "weld-inspection", ValidTo: "2030-01-01"})
	s.book.People["P13"] = welder
	r := s.refused("maker-may-not-release", release, "INSPECT-1", "P13")
	if !r.Absolute {
		t.Error("a welder may release by concession")
	}

	// Refused once, ground out, rewelded, released by somebody else.
	bad := release
	bad.Lots = []core.LotWork{{Lot: id, Bad: 1, Why: "undercut at the top seam"}}
	e := s.must(bad, "INSPECT-1", "P18")
	same(t, "meaning", e.Signed[0].Meaning, core.MeantInspected)
	s.refused("lot-held", release, "INSPECT-1", "P18")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "grind out and weld again",
		Route: core.RouteRef{Name: "WELD-REPAIR", Version: 1}, Rejoin: 30}, "", "P18")
	var did []core.StageName
	for s.state.Lots[id].Rework != nil {
		did = append(did, s.step(id))
	}
	same(t, "rework", did, []core.StageName{"grind-out", "weld", "weld-dress", "hand-round"})
	next := core.NextSteps(s.book, s.state.Lots[id])
	same(t, "back at", next[0].Stage, core.StageName("weld-inspect"))
	e = s.must(mustWork(s, id), "INSPECT-1", "P18")
	same(t, "meaning", e.Signed[0].Meaning, core.MeantReleased)
	s.finish(id)
	s.agrees()
}

func mustWork(s *shop, id core.LotID) core.SignOff {
	s.t.Helper()
	w, at := s.work(id)
	s.bring(id, at)
	return w
}

func TestOrderOfWork(t *testing.T) {
	s := newShop(t)
	s.nest("T-4", sheet5005, trays, core.Component{Item: tray, Qty: 4})
	id := s.separate("T-4")[0].ID
	code := core.PalletCode(s.state.Lots[id].Place.Ref)

	s.bring(id, "ROUND-AL")
	rounding := mustWork(s, id)
	s.refused("signature-missing", rounding, "ROUND-AL")
	s.refused("wrong-station", core.SignOff{Pallet: code, Stage: "fold", Lots: []core.LotWork{{Lot: id, Good: 4}}}, "ROUND-AL", "P21")
	short := rounding
	short.Lots = []core.LotWork{{Lot: id, Good: 3, Checks: rounding.Lots[0].Checks}}
	s.refused("numbers-dont-sum", short, "ROUND-AL", "P21")
	short.Lots = []core.LotWork{{Lot: id, Good: 3, Bad: 1, Checks: rounding.Lots[0].Checks}}
	s.refused("why-missing", short, "ROUND-AL", "P21")
	short.Lots = []core.LotWork{{Lot: id, Good: 4}}
	s.refused("check-missing", short, "ROUND-AL", "P21")
	s.refused("pallet-unknown", core.TakeIn{Pallet: "PNONE"}, "ROUND-AL")
	s.refused("person-left", rounding, "ROUND-AL", "P30")
	s.must(rounding, "ROUND-AL", "P21")
	s.refused("step-done", rounding, "ROUND-AL", "P21")

	// Folding is signed in two halves: eight of twelve is a fact, not a worry.
	s.bring(id, "BRAKE-1")
	half := mustWork(s, id)
	half.Lots[0].Good, half.Lots[0].NotDone = 1, 3
	s.must(half, "BRAKE-1", "P21")
	lots := s.state.LotsAt(core.On(code))
	same(t, "lots after a half", len(lots), 2)
	s.refused("step-skipped", core.SignOff{Pallet: code, Stage: "pretreat", Inputs: []string{"BT-48"}, Lots: []core.LotWork{{Lot: id, Good: 3}}},
		s.taken(code, "PRETREAT-1"), "P21")
	s.agrees()
}

// A component's last step signed twice: nothing comes next on its route, and the refusal says so.
func TestLastStepSignedTwice(t *testing.T) {
	s := newShop(t)
	s.nest("T-1", sheet5005, panels, core.Component{Item: stiffener, Qty: 4})
	id := s.separate("T-1")[0].ID
	var last core.SignOff
	var at core.StationID
	for len(core.NextSteps(s.book, s.state.Lots[id])) > 0 {
		last, at = s.work(id)
		s.step(id)
	}
	same(t, "next", s.refused("step-done", last, at, hand(last.Stage)).Params["next"], "the end of the route")
}

// taken takes a pallet in and returns the station.
func (s *shop) taken(code core.PalletCode, at core.StationID) core.StationID {
	s.t.Helper()
	s.must(core.TakeIn{Pallet: code}, at)
	return at
}

func TestAbrasivesKeepEveryMetalForLife(t *testing.T) {
	s := newShop(t)
	s.nest("T-5", core.ItemRev{Item: "SH-304-2", Rev: "1"}, plates, core.Component{Item: hinge, Qty: 6})
	id := s.separate("T-5")[0].ID
	w, _ := s.work(id)
	s.bring(id, "ROUND-AL")
	r := s.refused("abrasive-kept", w, "ROUND-AL", "P21")
	if !r.Absolute {
		t.Error("steel on an aluminium belt by concession")
	}
	s.bring(id, "ROUND-SS")
	s.must(w, "ROUND-SS", "P21")
	same(t, "belt", s.state.Abrasives["BELT-SS-1"].Touched, []core.Metal{core.Stainless})

	// Mounted elsewhere and renamed to aluminium, the belt still remembers.
	line := s.book.Stations["ROUND-AL"]
	line.Abrasive = "BELT-SS-1"
	s.book.Stations["ROUND-AL"] = line
	s.nest("T-6", sheet5005, trays, core.Component{Item: tray, Qty: 1})
	al := s.separate("T-6")[0].ID
	s.bring(al, "ROUND-AL")
	s.refused("abrasive-touched", mustWork(s, al), "ROUND-AL", "P21")
}

func TestPretreatmentLapsesBeforeCoatStarts(t *testing.T) {
	s := newShop(t)
	s.nest("T-7", sheet5005, trays, core.Component{Item: tray, Qty: 1})
	id := s.separate("T-7")[0].ID
	s.until(id, "coat")
	s.bring(id, "BOOTH-1")
	w := mustWork(s, id)
	code := w.Pallet

	// Begun in time, signed late: what counts is when coating started.
	s.now = s.now.Add(15 * time.Hour)
	s.must(core.Begin{Pallet: code, Stage: "coat"}, "BOOTH-1", "P21")
	s.now = s.now.Add(3 * time.Hour)
	s.must(w, "BOOTH-1", "P21")

	s.nest("T-8", sheet5005, trays, core.Component{Item: tray, Qty: 1})
	late := s.separate("T-8")[0].ID
	s.until(late, "coat")
	s.bring(late, "BOOTH-1")
	w = mustWork(s, late)
	s.now = s.now.Add(17 * time.Hour)
	s.refused("pretreat-lapsed", w, "BOOTH-1", "P21")
	s.refused("pretreat-lapsed", core.Begin{Pallet: w.Pallet, Stage: "coat"}, "BOOTH-1")

	// What the refusal asks can be done: back to the line, again, and coated then.
	s.refused("nothing-to-do", core.TakeIn{Pallet: w.Pallet}, "BRAKE-1")
	s.must(core.PrintTraveller{Pallet: w.Pallet}, "BOOTH-1")
	s.must(core.HandOver{Pallet: w.Pallet, To: "PRETREAT-1"}, "BOOTH-1")
	s.must(core.TakeIn{Pallet: w.Pallet}, "PRETREAT-1")
	world := core.World{Now: s.now, Book: s.book, State: s.state}
	if p := core.Look(world, "PRETREAT-1", w.Pallet)[0]; p.Step.Stage != "pretreat" || !p.Here || p.Refusal != nil {
		t.Errorf("the pretreat line is offered %+v", p)
	}
	again := core.SignOff{Pallet: w.Pallet, Stage: "pretreat", Inputs: []string{"BT-48"}, Lots: []core.LotWork{{Lot: late, Good: 1,
		Checks: s.checksOf(late, "pretreat")}}}
	s.must(again, "PRETREAT-1", "P21")
	s.refused("step-done", again, "PRETREAT-1", "P21")
	s.bring(late, "BOOTH-1")
	s.must(w, "BOOTH-1", "P21")
	s.agrees()
}

func TestPeopleGaugesAndBatches(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	e := s.must(core.Gather{Item: panel, Owner: panels}, "WELD-1")
	step := s.book.Routes[s.book.Items[panel].Route].Steps[0]
	weld := core.Assemble{Build: core.BuildCode(e.Ref), Inputs: []string{"FA-121"}, Checks: checks(s.book, step)}
	s.refused("qualification-lapsed", weld, "WELD-1", "P11")
	s.refused("qualification-missing", weld, "WELD-1", "P21")
	weld.Inputs = nil
	s.refused("batch-missing", weld, "WELD-1", "P13")
	weld.Inputs = []string{"FA-NONE"}
	s.refused("batch-unknown", weld, "WELD-1", "P13")

	s.nest("T-9", sheet5005, trays, core.Component{Item: tray, Qty: 1})
	id := s.separate("T-9")[0].ID
	s.until(id, "fold")
	s.bring(id, "BRAKE-1")
	w := mustWork(s, id)
	for i, c := range w.Lots[0].Checks {
		if c.Value != nil {
			w.Lots[0].Checks[i].Instrument = "CA-03"
		}
	}
	out := s.do(w, "BRAKE-1", "P21")
	if out.Refusal == nil || (out.Refusal.Code != "gauge-overdue" && out.Refusal.Code != "gauge-missing") {
		t.Fatalf("an overdue gauge was taken: %+v", out.Refusal)
	}
	w = mustWork(s, id)
	far := 45.0
	for i, c := range w.Lots[0].Checks {
		if c.Value != nil {
			w.Lots[0].Checks[i].Value = &far
		}
	}
	s.refused("reading-outside", w, "BRAKE-1", "P21")
	s.until(id, "pretreat")
	s.bring(id, "PRETREAT-1")
	w = mustWork(s, id)
	w.Inputs = []string{"BT-47"}
	s.refused("batch-expired", w, "PRETREAT-1", "P21")
	s.until(id, "coat")
	s.bring(id, "BOOTH-1")
	w = mustWork(s, id)
	w.Inputs = []string{"PC-2609"}
	s.refused("powder-colour", w, "BOOTH-1", "P21")
}

func TestShortUnitIsRefused(t *testing.T) {
	s := newShop(t)
	s.nest("T-10", sheet5005, panels, core.Component{Item: skin, Qty: 2})
	l := s.separate("T-10")[0]
	s.must(core.TakeIn{Pallet: core.PalletCode(l.Place.Ref)}, "ROUND-AL")
	s.finish(l.ID)
	s.must(core.TakeIn{Pallet: core.PalletCode(l.Place.Ref)}, "WELD-1")
	e := s.must(core.Gather{Item: panel, Owner: panels}, "WELD-1")
	r := s.refused("build-short", core.Assemble{Build: core.BuildCode(e.Ref), Inputs: []string{"FA-121"}}, "WELD-1", "P13")
	if !r.Absolute || r.Params["missing"] == "" {
		t.Fatalf("a short unit says %+v", r)
	}
	s.must(core.PutBack{Build: core.BuildCode(e.Ref), Picks: []core.Pick{{Lot: l.ID, Qty: 1}}}, "WELD-1")
	s.agrees()
}

func TestStalePrintWarnsAndAsks(t *testing.T) {
	s := newShop(t)
	s.nest("T-11", sheet5005, trays, core.Component{Item: tray, Qty: 4})
	l := s.separate("T-11")[0]
	code := core.PalletCode(l.Place.Ref)
	s.must(core.PrintTraveller{Pallet: code}, "BENCH-1")
	s.must(core.TakeIn{Pallet: code, PrintSeen: 1}, "ROUND-AL")
	w := mustWork(s, l.ID)
	w.PrintSeen = 1
	s.must(w, "ROUND-AL", "P21") // a signature does not outdate a print
	s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: l.ID, Qty: 1}}}, "ROUND-AL")
	r := s.refused("print-stale", core.TakeIn{Pallet: code, PrintSeen: 1}, "BRAKE-1")
	if !r.Ask {
		t.Error("a stale print asks, it does not stop")
	}
	same(t, "changes", r.Params["changes"], "roof tray 2400: 4 became 3")
	s.refused("reprint-due", core.HandOver{Pallet: code, To: "BRAKE-1"}, "ROUND-AL")
	s.must(core.PrintTraveller{Pallet: code}, "ROUND-AL")
	s.must(core.HandOver{Pallet: code, To: "BRAKE-1"}, "ROUND-AL")
	s.refused("print-stale", core.TakeIn{Pallet: code, PrintSeen: 1}, "BRAKE-1")
	s.must(core.TakeIn{Pallet: code, PrintSeen: 2}, "BRAKE-1")
	s.refused("already-here", core.TakeIn{Pallet: code, PrintSeen: 2}, "BRAKE-1")
	s.refused("print-unknown", core.TakeIn{Pallet: code, PrintSeen: 9}, "STORE-1")
}

func TestWorkDoneOutOfTouchIsAClaimToBeJudged(t *testing.T) {
	s := newShop(t)
	s.nest("T-12", sheet5005, trays, core.Component{Item: tray, Qty: 2})
	id := s.separate("T-12")[0].ID
	s.until(id, "coat")
	s.bring(id, "BOOTH-1")
	w := mustWork(s, id)
	s.now = s.now.Add(20 * time.Hour) // the pretreatment lapsed, and the booth had no network
	out := s.send(core.Command{Body: w, Station: "BOOTH-1", Device: core.Device{Tablet: "T1", Sequence: 7, Offline: true}}, "P21")
	if out.Refusal != nil {
		t.Fatalf("what was done can't be refused away: %v", out.Refusal)
	}
	same(t, "kind", out.Events[0].Kind, core.EvClaimed)
	same(t, "said", out.Notices[0].Code, "pretreat-lapsed")
	l := s.state.Lots[id]
	same(t, "coated", l.Facts.At(core.Fact{Name: core.Coated, Of: "all"}, s.now), core.Unsure)
	same(t, "not a step done", core.NextSteps(s.book, l)[0].Stage, core.StageName("coat"))
	if _, held := core.HeldBy(s.state, l); !held {
		t.Error("the claim is not held")
	}
	same(t, "somebody must deal with it", len(s.state.Problems), 1)

	// A command that says nothing sound stays refused.
	w.Lots[0].Good = 1
	out = s.send(core.Command{Body: w, Station: "BOOTH-1", Device: core.Device{Offline: true}}, "P21")
	if out.Refusal == nil || out.Refusal.Code != "numbers-dont-sum" {
		t.Fatalf("got %+v", out.Refusal)
	}
	s.agrees()
}
