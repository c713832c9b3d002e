package postgres_test

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
)

// What a name brings: a lot its pallet and what else is on it, a pallet its
// consignment and the other pallets of the truck, an order its open builds, a
// problem its lot, an event all it touched.
func TestWhatNamesBring(t *testing.T) {
	f := newFixture(t)
	owner := core.Owner{Order: "O-1", Line: 1}
	a, lot := f.bear(t, "one", 5, owner)
	b, other := f.bear(t, "two", 5, core.Owner{})
	f.do(t, "both", on(a, b), split("both", a, b, 2))
	var truck core.ConsignmentCode
	var build core.BuildCode
	f.do(t, "rows", core.Names{Pallets: []core.PalletCode{a, b}, Orders: []string{"O-1"}}, func(w core.World) core.Outcome {
		truck, build = w.Codes.Consignments[0], w.Codes.Builds[0]
		pa, pb := w.State.Pallets[a], w.State.Pallets[b]
		pa.Consignment, pb.Consignment = truck, truck
		pb.Bound = "paint"
		return happen("rows", w, core.EvLoaded,
			core.Effect{PalletPut: &pa}, core.Effect{PalletPut: &pb},
			core.Effect{ConsignmentPut: &core.Consignment{Code: truck, Site: "S", Pallets: []core.PalletCode{a, b}}},
			core.Effect{BuildPut: &core.Build{Code: build, Item: bracket, Owner: owner, Unit: 1}},
			core.Effect{OrderPut: &core.Order{No: "O-1", Customer: "Invented Ltd", Lines: []core.OrderLine{{Owner: owner, Item: bracket, Qty: 9}}}},
			core.Effect{ProblemPut: &core.Problem{ID: "Q1", Lot: lot, At: w.Now, What: "bent"}},
			core.Effect{HoldPut: &core.Hold{ID: "H1", Scope: core.HoldPallet, Ref: "PELSE", At: w.Now}},
			core.Effect{NestPut: &core.Nest{ID: "N1", Parts: []core.NestPart{{No: 1, Item: bracket, Owner: owner, Qty: 1}}}})
	})
	for what, c := range map[string]struct {
		n       core.Names
		station core.StationID
	}{
		"lot":         {n: core.Names{Lots: []core.LotID{lot}}},
		"pallet":      {n: on(b)},
		"consignment": {n: core.Names{Consignments: []core.ConsignmentCode{truck}}},
		"problem":     {n: core.Names{Problems: []core.ProblemID{"Q1"}}},
		"event":       {n: core.Names{Events: []core.EventID{"both.1"}}},
		"near":        {core.Names{Near: true}, "paint"},
	} {
		w := must(f.Load(t.Context(), c.n, c.station))(t)
		s := w.State
		if len(s.Lots) != 3 || len(s.Pallets) != 2 || len(s.Consignments) != 1 || s.Orders["O-1"].Customer == "" || len(s.Holds) != 1 || len(s.Problems) != 1 {
			t.Errorf("a %s brings %d lots, %d pallets, %d consignments, %d orders, %d holds, %d problems", what,
				len(s.Lots), len(s.Pallets), len(s.Consignments), len(s.Orders), len(s.Holds), len(s.Problems))
		}
		if s.Lots[other].Qty != 5 {
			t.Errorf("a %s brings the lot as %+v", what, s.Lots[other])
		}
		if what == "event" && (len(w.Past) != 1 || w.Past[0].ID != "both.1") {
			t.Errorf("the event brings %d of the past", len(w.Past))
		}
	}
	if s := must(f.Load(t.Context(), core.Names{Orders: []string{"O-1"}}, ""))(t).State; len(s.Builds) != 1 || len(s.Orders) != 1 || len(s.Lots) != 0 {
		t.Errorf("an order brings %d builds, %d orders, %d lots", len(s.Builds), len(s.Orders), len(s.Lots))
	}
	if s := must(f.Load(t.Context(), core.Names{Nests: []string{"N1"}}, ""))(t).State; len(s.Nests) != 1 || len(s.Orders) != 1 {
		t.Errorf("a nest brings %d nests, %d orders", len(s.Nests), len(s.Orders))
	}
	if s := must(f.Load(t.Context(), core.Names{Builds: []core.BuildCode{build}}, ""))(t).State; len(s.Builds) != 1 || len(s.Orders) != 1 {
		t.Errorf("a build brings %d builds, %d orders", len(s.Builds), len(s.Orders))
	}
	if s := must(f.LoadOrder(t.Context(), "O-1"))(t).State; len(s.Lots) != 3 || len(s.Pallets) != 2 || len(s.Builds) != 1 {
		t.Errorf("the order's own: %d lots, %d pallets, %d builds", len(s.Lots), len(s.Pallets), len(s.Builds))
	}
	if _, err := f.LoadOrder(t.Context(), "O-2"); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("an unknown order: %v", err)
	}
	if s := must(f.Load(t.Context(), core.Names{Pallets: []core.PalletCode{"PNONE"}, Lots: []core.LotID{"none"}, Events: []core.EventID{"none.1"}}, ""))(t).State; len(s.Pallets)+len(s.Lots) != 0 {
		t.Errorf("unknown names bring %+v", s)
	}
	f.verified(t)
}

// A correction sees the event and all that happened to its lots since.
func TestThePastOfACorrection(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "one", 9, core.Owner{})
	b, _ := f.bear(t, "two", 1, core.Owner{})
	for i := range 3 {
		id := name("cut", i)
		f.do(t, id, on(a, b), split(id, a, b, 1))
	}
	var ids []core.EventID
	for _, e := range must(f.Load(t.Context(), core.Names{Events: []core.EventID{"cut-1.1"}}, ""))(t).Past {
		ids = append(ids, e.ID)
	}
	if !slices.Equal(ids, []core.EventID{"cut-1.1", "cut-2.1"}) {
		t.Errorf("the past is %v", ids)
	}
}

// Two servers that draw the same codes: the second finds them in use, and draws
// on.
func TestACodeInUseIsDrawnAgain(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "one", 5, core.Owner{})
	seed := make([]byte, 4096)
	for i := range seed {
		seed[i] = byte(i * 7)
	}
	open := func() *fixture {
		s, err := postgres.Open(t.Context(), f.db.AppURL, postgres.Options{Clock: f.clock.Now, Random: bytes.NewReader(append(slices.Clone(seed), seed[100:]...))})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(s.Close)
		return &fixture{s, f.db, f.clock}
	}
	first, _ := open().bear(t, "two", 5, core.Owner{})
	second, _ := open().bear(t, "three", 5, core.Owner{})
	if first == second || first == a {
		t.Errorf("code %s was given twice", first)
	}
	if f.parts(t, first) != 5 || f.parts(t, second) != 5 {
		t.Error("a pallet was written over")
	}
	f.verified(t)
}

// A command of very many names keeps everybody else out instead of filling the
// server's lock table.
func TestACommandOfVeryManyNames(t *testing.T) {
	f := newFixture(t)
	n := core.Names{}
	var effects []core.Effect
	for i := range 3000 {
		no := fmt.Sprintf("O-%d", i)
		n.Orders = append(n.Orders, no)
		effects = append(effects, core.Effect{OrderPut: &core.Order{No: no, Customer: "Invented Ltd", Promised: "2026-12-01",
			Lines: []core.OrderLine{{Owner: core.Owner{Order: no, Line: 1}, Item: bracket, Qty: 1}}}})
	}
	f.do(t, "year", n, func(w core.World) core.Outcome { return happen("year", w, core.EvImported, effects...) })
	if cards := must(f.Docket(t.Context(), 5000))(t); len(cards) != 3000 || cards[0].Asked != 1 || cards[0].Late {
		t.Errorf("%d orders on the docket", len(cards))
	}
	f.verified(t)
}
