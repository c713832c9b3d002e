package core_test

import (
	"slices"
	"strings"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

// packedPanels are so many packed panels of order O-4105, each on its pallet.
func (s *shop) packedPanels(n int) []core.PalletCode {
	s.t.Helper()
	s.panelParts()
	var out []core.PalletCode
	for range n {
		id := s.weldPanel()
		s.finish(id)
		out = append(out, core.PalletCode(s.state.Lots[id].Place.Ref))
	}
	return out
}

func (s *shop) loaded(pallets ...core.PalletCode) core.ConsignmentCode {
	s.t.Helper()
	return core.ConsignmentCode(s.must(core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: pallets}, "DOCK-1", "P25").Ref)
}

// A truck leaves an order short only by its customer's leave, for that order,
// and the record says whose, by what means and why.
func TestAPartShipmentTakesTheCustomersConsent(t *testing.T) {
	s := newShop(t)
	truck := s.loaded(s.packedPanels(1)...)
	ship := core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: core.SignedOnPaper}
	yes := func(b core.Ship) core.Outcome {
		return s.send(core.Command{Body: b, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25")
	}
	r := s.refused("order-short", ship, "DOCK-1", "P25")
	if !r.Ask || !strings.Contains(r.Params["missing"], "1 × "+s.book.Items[panel].Name) {
		t.Errorf("the question: %+v", r)
	}
	if out := s.send(core.Command{Body: ship, Station: "DOCK-1", Waive: []core.Waiver{{Code: "order-short", Reason: "hurry"}}}, "P25", "P03"); out.Refusal == nil || out.Refusal.Code != "order-short" {
		t.Error("a concession stood for the customer's consent")
	}
	full := core.Consent{Order: panels.Order, Who: "site management", Means: "e-mail of 24 November", Reason: "one bay is ready"}
	for _, c := range [][]core.Consent{nil, {{Order: "O-4101", Who: full.Who, Means: full.Means, Reason: full.Reason}},
		{{Order: full.Order, Means: full.Means, Reason: full.Reason}}, {{Order: full.Order, Who: " ", Means: full.Means, Reason: full.Reason}},
		{{Order: full.Order, Who: full.Who, Reason: full.Reason}}, {{Order: full.Order, Who: full.Who, Means: full.Means}}} {
		ship.Consents = c
		if out := yes(ship); out.Refusal == nil || out.Refusal.Code != "consent-missing" || out.Refusal.Params["orders"] != panels.Order {
			t.Errorf("%+v went on: %v", c, out.Refusal)
		}
	}
	ship.Consents = []core.Consent{full}
	s.refused("order-short", ship, "DOCK-1", "P25") // nobody was asked whether it may
	out := yes(ship)
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	got := s.state.Consignments[truck].Consents
	if len(got) != 1 || got[0].Who != full.Who || got[0].Standing || !strings.Contains(got[0].Missing, "1 × "+s.book.Items[panel].Name) {
		t.Errorf("on record: %+v", got)
	}
	s.agrees()
}

// An order whose customer takes part shipments asks nothing, and what it lacked
// is on record all the same.
func TestAStandingConsentIsRecorded(t *testing.T) {
	s := newShop(t)
	o := s.state.Orders[panels.Order]
	o.Consent = true
	s.must(core.Enlist{Orders: []core.Order{o}, Source: "again"}, "")
	truck := s.loaded(s.packedPanels(1)...)
	s.must(core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: core.SignedOnPaper}, "DOCK-1", "P25")
	got := s.state.Consignments[truck].Consents
	if len(got) != 1 || !got[0].Standing || got[0].Missing == "" || got[0].Who != "" {
		t.Errorf("on record: %+v", got)
	}
	s.agrees()
}

func TestADriverSignsForTheLoad(t *testing.T) {
	s := newShop(t)
	truck := s.loaded(s.packedPanels(1)...)
	ship := core.Ship{Consignment: truck, Vehicle: "KV26 RNE", Consents: crowd.Consents(s.state, truck, "one bay is ready")}
	for _, how := range []core.Proof{"", "nodded"} {
		ship.HandedTo = how
		out := s.send(core.Command{Body: ship, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25")
		if out.Refusal == nil || out.Refusal.Code != "driver-not-signed" {
			t.Errorf("%q: %v", how, out.Refusal)
		}
	}
	ship.HandedTo = core.SignedOnGlass
	if out := s.send(core.Command{Body: ship, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25"); out.Refusal == nil || out.Refusal.Code != "driver-not-signed" {
		t.Errorf("on glass, with nothing drawn: %v", out.Refusal)
	}
	if out := s.sendOff(truck, "KV26 RNE", "one bay is ready"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	same(t, "handed over", s.state.Consignments[truck].HandedTo, core.SignedOnPaper)
	same(t, "picture of a signature on paper", s.state.Consignments[truck].Signature, "")
}

// The picture a driver drew stays with the consignment and with the event.
func TestADriverSignsOnGlass(t *testing.T) {
	s := newShop(t)
	truck := s.loaded(s.packedPanels(1)...)
	picture := strings.Repeat("5e", 32)
	ship := core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: core.SignedOnGlass, Photos: []string{picture}, Consents: crowd.Consents(s.state, truck, "one bay is ready")}
	out := s.send(core.Command{Body: ship, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	c := s.state.Consignments[truck]
	same(t, "handed over", c.HandedTo, core.SignedOnGlass)
	same(t, "signature", c.Signature, picture)
	if e := out.Events[0]; !slices.Equal(e.Photos, []string{picture}) {
		t.Errorf("photos of the event: %v", e.Photos)
	}
	s.agrees()
}

// Pallets of several orders leave on one truck: each order is asked for apart,
// and what is loaded with them is received with them.
func TestAConsignmentOfSeveralOrders(t *testing.T) {
	s := newShop(t)
	pallets := s.packedPanels(1)
	spare := core.Owner{Order: "O-4104", Line: 1}
	id := s.weldPanel()
	s.finish(id)
	other := core.PalletCode(s.state.Lots[id].Place.Ref)
	s.must(core.ChangeOwner{Pallet: other, Lot: id, Qty: 1, To: spare, Reason: "goes with their box"}, "", "P02")
	truck := s.loaded(append(pallets, other)...)
	ship := core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: core.SignedOnPaper, Consents: crowd.Consents(s.state, truck, "one bay is ready")[:1]}
	out := s.send(core.Command{Body: ship, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25")
	if out.Refusal == nil || out.Refusal.Code != "consent-missing" || out.Refusal.Params["orders"] != spare.Order {
		t.Fatalf("one customer's consent sent another's order short: %v", out.Refusal)
	}
	if out := s.sendOff(truck, "KV26 RNE", "one bay is ready"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	var orders []string
	for _, c := range s.state.Consignments[truck].Consents {
		orders = append(orders, c.Order)
	}
	if !slices.Equal(orders, []string{spare.Order, panels.Order}) {
		t.Errorf("consents of %v", orders)
	}
	e := s.must(core.ReceiveAtSite{Consignment: truck}, "SITE-LARKFIELD", "P27")
	same(t, "lots received", len(e.Lots), 2)
	s.agrees()
}

// A part, a kit or a finish that is missing stops packing.
func TestPackingStopsAtWhatIsMissing(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	s.until(id, "coat")
	pack := func(id core.LotID) core.SignOff {
		l := s.state.Lots[id]
		row := s.state.Pallets[core.PalletCode(l.Place.Ref)]
		row.Station, row.Bound = "DOCK-1", "" // pushed there without a scan
		s.state.Pallets[row.Code] = row
		s.pushed = append(s.pushed, row.Code)
		return core.SignOff{Pallet: core.PalletCode(l.Place.Ref), Stage: "pack", Lots: []core.LotWork{{Lot: id, Good: l.Qty, Checks: s.packChecks(l)}}}
	}
	s.refused("step-skipped", pack(id), "DOCK-1", "P26")
	forced := s.send(core.Command{Body: pack(id), Station: "DOCK-1", Waive: []core.Waiver{{Code: "step-skipped", Reason: "hurry"}}}, "P26", "P03")
	if forced.Refusal == nil || forced.Refusal.Code != "coat-not-accepted" {
		t.Errorf("a panel without its coat: %v", forced.Refusal)
	}

	e := s.must(core.ReceiveGoods{Item: kit, Qty: 1, Identified: true, Owner: hospital}, "GOODS-1", "P06")
	bag := s.lotOn(e.Pallets[0])
	s.refused("step-skipped", pack(bag), "DOCK-1", "P26")
	forced = s.send(core.Command{Body: pack(bag), Station: "DOCK-1", Waive: []core.Waiver{{Code: "step-skipped", Reason: "hurry"}}}, "P26", "P03")
	if forced.Refusal == nil || forced.Refusal.Code != "kit-not-checked" {
		t.Errorf("a kit nobody checked: %v", forced.Refusal)
	}

	// A unit that lacks a part is not made, so there is nothing to pack.
	e = s.must(core.Gather{Item: panel, Owner: panels}, "WELD-1")
	build := core.BuildCode(e.Ref)
	in := s.state.LotsAt(core.Place{Kind: core.InBuild, Ref: string(build)})
	s.must(core.PutBack{Build: build, Picks: []core.Pick{{Lot: in[0].ID, Qty: 1}}}, "WELD-1")
	step := s.book.Routes[s.book.Items[panel].Route].Steps[0]
	s.refused("build-short", core.Assemble{Build: build, Inputs: []string{"FA-121"}, Checks: checks(s.book, step)}, "WELD-1", "P13")
	s.agrees()
}

func (s *shop) packChecks(l core.Lot) []core.CheckReading {
	for _, st := range s.book.Routes[l.Route].Steps {
		if st.Stage == "pack" {
			return checks(s.book, s.asked(l, st))
		}
	}
	return nil
}

// A hold or a nonconformity on what is loaded stops the truck, whatever anybody
// signs; the good parts beside a remake leave.
func TestATruckWaitsForHoldsAndTheGoodLeaveBesideARemake(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.finish(id)
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	site := s.state.Orders[trays.Order].Site
	truck := core.ConsignmentCode(s.must(core.Load{Site: site, Day: "2026-11-26", Pallets: []core.PalletCode{code}}, "DOCK-1", "P25").Ref)
	anyhow := func(what string) {
		t.Helper()
		out := s.send(core.Command{Body: core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: core.SignedOnPaper, Consents: crowd.Consents(s.state, truck, "hurry")},
			Station: "DOCK-1", Confirm: []string{"order-short"}, Waive: []core.Waiver{{Code: "lot-held", Reason: "hurry"}, {Code: "open-problem", Reason: "hurry"}, {Code: "open-hold", Reason: "hurry"}}}, "P25", "P03")
		if out.Refusal == nil || !out.Refusal.Absolute {
			t.Errorf("%s left the shop: %+v", what, out.Refusal)
		}
	}
	h := s.must(core.PlaceHold{Scope: core.HoldPallet, Ref: string(code), Reason: "doubt"}, "", "P03")
	anyhow("a held pallet")
	s.must(core.LiftHold{Hold: h.Effects[0].HoldPut.ID, Reason: "looked"}, "", "P03")

	e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 4, What: "scratched", Stay: true}, "DOCK-1", "P26")
	anyhow("an open nonconformity")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeUseAsIs, Reason: "hidden once fitted"}, "", "P03", "P18")

	e = s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 1, What: "bent corner"}, "DOCK-1", "P26")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRemake, Reason: "too far bent"}, "", "P03")
	if out := s.sendOff(truck, "KV26 RNE", "the fourth is made again"); out.Refusal != nil {
		t.Fatalf("three good trays beside a remake: %v", out.Refusal)
	}
	same(t, "left", s.qty(id), 3)
	s.agrees()
}

// What runs out first goes into a kit first, whichever came first.
func TestAKitTakesWhatRunsOutFirst(t *testing.T) {
	s := newShop(t)
	s.bag(sealant, 2, "SL-LATER", "2027-06-30")
	s.bag(sealant, 2, "SL-NEVER", "")
	s.bag(sealant, 2, "SL-SOON", "2026-12-31")
	build := core.BuildCode(s.must(core.Gather{Item: kit, Owner: hospital}, "DOCK-1").Ref)
	took := map[string]int{}
	for _, l := range s.state.LotsAt(core.Place{Kind: core.InBuild, Ref: string(build)}) {
		took[l.Heats[0]] += l.Qty
	}
	same(t, "soonest, all", took["SL-SOON"], 2)
	same(t, "later, the rest", took["SL-LATER"], 1)
	same(t, "what keeps", took["SL-NEVER"], 0)
}
