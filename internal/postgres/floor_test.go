package postgres_test

import (
	"fmt"
	"os"
	"reflect"
	"slices"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/crowd"
	"tagalong/internal/intake"
)

// floor is the sample shop on a real database, worked by the real core.
type floor struct {
	*fixture
	t    testing.TB
	book *core.Book
	n    int
}

// newFloor imports the samples without their nests, which the tests make to
// measure.
func newFloor(t testing.TB) *floor {
	t.Helper()
	return newFloorOn(t, newFixture(t))
}

func newFloorOn(t testing.TB, f *fixture) *floor {
	t.Helper()
	s, bundle := furnished(t, f, nil, nil)
	s.must(core.Enlist{Orders: bundle.Orders, Source: "samples"}, "")
	return s
}

// furnished has the catalogue of the samples, and routes and items more, and no
// orders.
func furnished(t testing.TB, f *fixture, routes []core.Route, items []core.Revision) (*floor, intake.Bundle) {
	t.Helper()
	bundle, faults := intake.Read(os.DirFS("../../testdata/samples"), intake.Known{Book: &core.Book{Table: core.DefaultStages()}})
	if len(faults) > 0 {
		t.Fatalf("the samples have faults: %v", faults[0])
	}
	rows := app.BookRows{Shop: &app.Shop{Name: "Corrie Sheetworks (invented)", Zone: "Europe/London", Demo: true},
		Routes: append(bundle.Routes, routes...), Items: append(bundle.Items, items...), Stations: bundle.Stations, People: bundle.People,
		Instruments: bundle.Instruments, Batches: bundle.Batches}
	if _, _, err := f.SaveBook(t.Context(), "P01", "samples", rows); err != nil {
		t.Fatal(err)
	}
	return &floor{fixture: f, t: t, book: must(f.Book(t.Context()))(t)}, bundle
}

func (s *floor) send(c core.Command, signers ...core.PersonID) app.Answer {
	s.t.Helper()
	s.n++
	c.ID, c.Happened = core.CommandID(fmt.Sprintf("c%05d", s.n)), s.clock.Now()
	for _, p := range signers {
		c.Signers = append(c.Signers, core.Signature{Person: p, At: c.Happened, Tablet: "tablet-1"})
	}
	a, err := s.Execute(s.t.Context(), c, shaOf(string(c.ID)), func(w core.World) core.Outcome { return core.Decide(w, c) })
	if err != nil {
		s.t.Fatal(err)
	}
	return a
}

// must does what has to work.
func (s *floor) must(body core.Body, at core.StationID, signers ...core.PersonID) app.Recorded {
	s.t.Helper()
	a := s.send(core.Command{Body: body, Station: at}, signers...)
	if a.Refusal != nil {
		s.t.Fatalf("%s at %s: refused %s %v", body.Kind(), at, a.Refusal.Code, a.Refusal.Params)
	}
	return a.Events[0]
}

// refused does what must be refused, with this code.
func (s *floor) refused(code string, body core.Body, at core.StationID, signers ...core.PersonID) {
	s.t.Helper()
	a := s.send(core.Command{Body: body, Station: at}, signers...)
	if a.Refusal == nil || a.Refusal.Code != code {
		s.t.Fatalf("%s at %s: %+v, want a refusal with %s", body.Kind(), at, a.Refusal, code)
	}
}

func (s *floor) lot(id core.LotID) core.Lot {
	s.t.Helper()
	lots := must(s.Lots(s.t.Context(), []core.LotID{id}))(s.t)
	if len(lots) != 1 {
		s.t.Fatalf("lot %s isn't there", id)
	}
	return lots[0]
}

func (s *floor) pallet(code core.PalletCode) core.World {
	s.t.Helper()
	return must(s.Load(s.t.Context(), on(code), ""))(s.t)
}

// step takes a lot through its next step.
func (s *floor) step(id core.LotID) {
	s.t.Helper()
	l := s.lot(id)
	step := core.NextSteps(s.book, l)[0]
	code, at := core.PalletCode(l.Place.Ref), crowd.StationFor(s.book, step.Stage, s.book.Items[l.Item].Metal)
	if s.pallet(code).State.Pallets[code].Station != at {
		s.must(core.TakeIn{Pallet: code}, at)
	}
	work, at := crowd.Work(s.book, s.pallet(code).State, id)
	if plan, sampled := core.PlanOf(s.lot(id), step); sampled {
		work.Lots[0].Looked = plan.Size
	}
	s.must(work, at, crowd.Hand(step.Stage))
}

// until works a lot until its next step is the stage named, or to its end.
func (s *floor) until(id core.LotID, stage core.StageName) {
	s.t.Helper()
	for range 40 {
		next := core.NextSteps(s.book, s.lot(id))
		if len(next) == 0 || next[0].Stage == stage {
			return
		}
		s.step(id)
	}
	s.t.Fatalf("lot %s never came to %s", id, stage)
}

// nest enlists a nest for an order line.
func (s *floor) nest(id string, material core.ItemRev, owner core.Owner, parts ...core.Component) {
	s.t.Helper()
	n := core.Nest{ID: id, Material: material}
	for i, p := range parts {
		n.Parts = append(n.Parts, core.NestPart{No: i + 1, Item: p.Item, Owner: owner, Qty: p.Qty})
	}
	s.must(core.Enlist{Nests: []core.Nest{n}, Source: "test"}, "")
}

// sheet receives and cuts a sheet and takes it to the bench.
func (s *floor) sheet(nest string, material core.ItemRev) core.PalletCode {
	s.t.Helper()
	e := s.must(core.ReceiveGoods{Item: material, Qty: 1, Heat: "H" + nest, Label: "sheet " + nest, Identified: true}, "GOODS-1", "P06")
	code := e.Pallets[0]
	s.until(s.pallet(code).State.LotsAt(core.On(code))[0].ID, "separate")
	s.must(core.TakeIn{Pallet: code}, "BENCH-1")
	return code
}

// separate breaks a nest out whole, every line on a pallet of its own.
func (s *floor) separate(nest string, material core.ItemRev) []core.Lot {
	s.t.Helper()
	b := core.Separate{Sheet: s.sheet(nest, material), Nest: nest}
	for _, p := range must(s.Load(s.t.Context(), core.Names{Nests: []string{nest}}, ""))(s.t).State.Nests[nest].Parts {
		b.Ticks = append(b.Ticks, core.PartTick{Line: p.No, Good: p.Qty, To: core.PalletCode(fmt.Sprintf("new:%d", p.No))})
	}
	var out []core.Lot
	for _, c := range s.must(b, "BENCH-1", "P06").Lots {
		if l := s.lot(c.Lot); l.Qty > 0 && l.Place.Kind == core.OnPallet {
			out = append(out, l)
		}
	}
	return out
}

var (
	sheet5005 = core.ItemRev{Item: "SH-5005-3", Rev: "1"}
	bar       = core.ItemRev{Item: "BAR-L40", Rev: "1"}
	panel     = core.ItemRev{Item: "WP-2400", Rev: "D"}
	skin      = core.ItemRev{Item: "SK-1200", Rev: "D"}
	stiffener = core.ItemRev{Item: "ST-1900", Rev: "B"}
	post      = core.ItemRev{Item: "PO-1900", Rev: "A"}
	panels    = core.Owner{Order: "O-4105", Line: 1} // two wall panels
)

// panelParts makes the components of two wall panels, at the weld bench.
func (s *floor) panelParts() {
	s.t.Helper()
	s.nest("T-1", sheet5005, panels, core.Component{Item: skin, Qty: 4}, core.Component{Item: stiffener, Qty: 6})
	s.nest("T-2", bar, panels, core.Component{Item: post, Qty: 4})
	for _, l := range append(s.separate("T-1", sheet5005), s.separate("T-2", bar)...) {
		s.until(l.ID, "")
		s.must(core.TakeIn{Pallet: core.PalletCode(s.lot(l.ID).Place.Ref)}, "WELD-1")
	}
}

// weldPanel gathers and welds one wall panel and returns its lot.
func (s *floor) weldPanel() core.LotID {
	s.t.Helper()
	build := core.BuildCode(s.must(core.Gather{Item: panel, Owner: panels}, "WELD-1").Ref)
	w := must(s.Load(s.t.Context(), core.Names{Builds: []core.BuildCode{build}}, ""))(s.t)
	s.must(crowd.Assembly(s.book, w.State, build), "WELD-1", "P13")
	return must(s.Load(s.t.Context(), core.Names{Builds: []core.BuildCode{build}}, ""))(s.t).State.Builds[build].Lot
}

// A part of what stands at a station is the list from there on, tells how many
// there are in all, and has the pallet one looks at, wherever that stands.
func TestAPartOfWhatStandsAtAStation(t *testing.T) {
	s := newFloor(t)
	var codes []core.PalletCode
	for i := range 5 {
		codes = append(codes, s.heap(fmt.Sprint("part", i), 1, 1))
	}
	s.must(core.PrintTraveller{Pallet: codes[4]}, "BENCH-1", "P06")
	s.must(core.HandOver{Pallet: codes[4], To: "STORE-1"}, "BENCH-1")
	for _, c := range []struct {
		at   core.StationID
		part app.Part
		want []core.PalletCode
		all  int
	}{
		{"BENCH-1", app.Part{}, codes[:4], 4},
		{"BENCH-1", app.Part{Most: 2}, codes[:2], 4},
		{"BENCH-1", app.Part{From: 1, Most: 2}, codes[1:3], 4},
		{"BENCH-1", app.Part{From: 3, Most: 2}, codes[3:4], 4},
		{"BENCH-1", app.Part{Most: 2, With: codes[1]}, codes[:2], 4},
		{"BENCH-1", app.Part{Most: 1, With: codes[2]}, []core.PalletCode{codes[0], codes[2]}, 4},
		{"BENCH-1", app.Part{Most: 2, With: codes[4]}, codes[:2], 4},
		{"STORE-1", app.Part{Most: 2}, nil, 0},
	} {
		got := must(s.AtStation(t.Context(), c.at, c.part))(t)
		var here []core.PalletCode
		for _, x := range got.Here {
			here = append(here, x.Code)
		}
		if !slices.Equal(here, c.want) || got.HereAll != c.all {
			t.Errorf("%+v at %s: %v of %d, want %v of %d", c.part, c.at, here, got.HereAll, c.want, c.all)
		}
		if whole := must(s.AtStation(t.Context(), c.at, app.Part{}))(t).Part(c.part); !reflect.DeepEqual(whole.Here, got.Here) && len(got.Here) > 0 {
			t.Errorf("%+v of the whole list is %v", c.part, whole.Here)
		}
	}
	if got := must(s.AtStation(t.Context(), "STORE-1", app.Part{From: 7, Most: 1}))(t); got.ComingAll != 1 || got.Coming[0].Code != codes[4] {
		t.Errorf("on its way: %+v", got)
	}
}
