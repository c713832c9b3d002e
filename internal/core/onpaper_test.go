package core_test

import (
	"testing"
	"time"

	"tagalong/internal/core"
)

// A traveller signed with a pen while the power was out is entered afterwards:
// marked, by two, at the time that stands on it.
func TestSignaturesFromPaper(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.bring(id, "ROUND-AL")
	w := mustWork(s, id)
	w.OnPaper = s.now.Add(-3 * time.Hour)
	r := s.refused("paper-needs-two", w, "ROUND-AL", "P21")
	if !r.Absolute {
		t.Error("one may enter paper alone by concession")
	}
	s.refused("paper-needs-two", w, "ROUND-AL", "P21", "P21")
	later, old := w, w
	later.OnPaper, old.OnPaper = s.now.Add(time.Hour), s.now.AddDate(0, 0, -40)
	s.refused("paper-time", later, "ROUND-AL", "P21", "P22")
	s.refused("paper-time", old, "ROUND-AL", "P21", "P22")
	e := s.must(w, "ROUND-AL", "P21", "P22")
	same(t, "marked", e.OnPaper, true)
	same(t, "when", e.Happened, w.OnPaper)
	same(t, "who did it", e.Signed[0].Meaning, core.MeantMade)
	same(t, "who compared", e.Signed[1].Meaning, core.MeantApproved)
	if !e.Signed[0].At.After(w.OnPaper) {
		t.Error("the signature does not say when it was entered")
	}
}

// Paper passes no rule that a tablet would not let pass, and a person who was
// qualified then is judged by then.
func TestPaperIsJudgedLikeATablet(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.until(id, "coat")
	s.bring(id, "BOOTH-1")
	w := mustWork(s, id)
	w.OnPaper = s.now.Add(-time.Minute)
	l := s.state.Lots[id]
	l.Facts[core.Fact{Name: core.EdgesRounded}] = core.Standing{Value: core.No}
	s.refused("edges-not-rounded", w, "BOOTH-1", "P21", "P22")
}

// A welder qualified for flat and horizontal welds signs no vertical one.
func TestWeldingPosition(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	ref := s.book.Items[panel].Route
	route := s.book.Routes[ref]
	route.Steps = append([]core.Step{}, route.Steps...)
	route.Steps[0].Position = "PF"
	s.book.Routes[ref] = route
	welder := s.book.People["P13"]
	welder.Qualifications = append([]core.Qualification{}, welder.Qualifications...)
	for i := range welder.Qualifications {
		welder.Qualifications[i].Positions = []string{"PA", "PB"}
	}
	s.book.People["P13"] = welder
	e := s.must(core.Gather{Item: panel, Owner: panels}, "WELD-1")
	weld := core.Assemble{Build: core.BuildCode(e.Ref), Inputs: []string{"FA-121"}, Checks: checks(s.book, route.Steps[0])}
	r := s.refused("qualification-position", weld, "WELD-1", "P13")
	same(t, "positions", r.Params["positions"], "PA, PB")
	route.Steps[0].Position = "PB"
	s.must(weld, "WELD-1", "P13")
}

// Nobody takes another's signature back but who answers for the record.
func TestCorrectingAnothersSignature(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.bring(id, "ROUND-AL")
	e := s.must(mustWork(s, id), "ROUND-AL", "P21")
	c := core.Correct{Event: e.ID, Reason: "wrong pallet"}
	s.refused("correction-not-yours", c, "", "P22")
	s.must(c, "", "P03")
}

// The checks drawn on a part's own cut and separate steps are asked of who
// separates it, and those of the sheet's step too.
func TestSeparationAsksThePartsOwnChecks(t *testing.T) {
	s := newShop(t)
	ref := s.book.Items[tray].Route
	route := s.book.Routes[ref]
	route.Steps = append([]core.Step{}, route.Steps...)
	route.Steps[0].Checks = []core.Characteristic{{ID: "dross", Text: "No dross on the lower edge", Kind: core.Tick}}
	low, high := 599.0, 601.0
	route.Steps[1].Checks = []core.Characteristic{{ID: "length", Text: "Length of the first part off", Kind: core.Measure, Lower: &low, Upper: &high, Unit: "mm", Instrument: "caliper"}}
	s.book.Routes[ref] = route
	same(t, "no findings", len(core.Walk(s.book, tray)), 0)
	s.nest("T-own", sheet5005, trays, core.Component{Item: tray, Qty: 4})
	b := core.Separate{Sheet: s.sheet("T-own"), Nest: "T-own", Ticks: []core.PartTick{{Line: 1, Good: 3, Damaged: 1}}}
	r := s.refused("check-missing", b, "BENCH-1", "P06")
	if len(r.Lots) > 0 {
		t.Errorf("it names lots that were never made: %v", r.Lots)
	}
	measured := 602.0
	b.Ticks[0].Checks = []core.CheckReading{{Characteristic: "dross", Met: true}, {Characteristic: "length", Value: &measured, Instrument: "CA-01"}}
	s.refused("reading-outside", b, "BENCH-1", "P06")
	measured = 600.2
	e := s.must(b, "BENCH-1", "P06")
	same(t, "read", len(e.Checks), 2)
	if _, there := s.state.Lots[e.Checks[0].Lot].Gauges["CA-01"]; !there {
		t.Error("a hold on the gauge would not find the parts")
	}

	// Parts that are all spoilt are not measured.
	s.nest("T-none", sheet5005, trays, core.Component{Item: tray, Qty: 1})
	s.must(core.Separate{Sheet: s.sheet("T-none"), Nest: "T-none", Ticks: []core.PartTick{{Line: 1, Damaged: 1}}}, "BENCH-1", "P06")
	s.agrees()
}
