package core_test

import (
	"maps"
	"reflect"
	"slices"
	"testing"
	"time"

	"tagalong/internal/core"
)

// likes is a way in which one of two lots differs from the other.
type likes struct {
	name   string
	differ func(*core.State, *core.Lot)
	// fuses: nothing tells them apart all the same. Else a fusion is refused with
	// the code, or lots-differ, which goes on as a declared mix.
	fuses bool
	code  string
	// becomes looks at what the two are fused to, or mixed.
	becomes func(testing.TB, core.Lot)
}

// likeLots is a pallet with two lots that nothing tells apart but their names:
// coated covers of one heat, waiting to be cured.
func likeLots(t testing.TB) (*core.Book, *core.State, core.Lot) {
	t.Helper()
	book, bundle := sampleBook(t)
	s := core.NewState()
	for _, o := range bundle.Orders {
		s.Orders[o.No] = o
	}
	s.Pallets["P1"] = core.PalletRow{Code: "P1", Kind: core.PalletCarrier, Station: "BENCH-1", Version: 1}
	s.Pallets["P2"] = core.PalletRow{Code: "P2", Kind: core.PalletCarrier, Station: "BENCH-1", Version: 1}
	l := core.Lot{ID: "a", Item: cover, Owner: panels, Place: core.On("P1"), Qty: 2, Route: book.Items[cover].Route,
		Done: []int{10, 20}, Heats: []string{"H-1"}, Sheets: []string{"S-1"}, Batches: []string{"PB-2610"}, Nest: "N-1",
		Promised: "2026-12-04", Arrived: wednesday,
		Facts: core.Facts{
			{Name: core.EdgesRounded}:                {Value: core.Yes, By: "e1"},
			{Name: core.Pretreated}:                  {Value: core.Yes, By: "e2", Lapses: wednesday.Add(time.Hour)},
			{Name: core.Coated, Of: "outside"}:       {Value: core.Yes, By: "e3", Note: "slate, batch PB-2610"},
			{Name: core.CoatAccepted, Of: "outside"}: {Value: core.Unsure, By: "e4"},
		}}
	s.Lots["a"] = l
	return book, s, l
}

func fact(f core.Fact, change func(*core.Standing)) func(*core.State, *core.Lot) {
	return func(_ *core.State, l *core.Lot) {
		l.Facts = maps.Clone(l.Facts)
		x := l.Facts[f]
		change(&x)
		l.Facts[f] = x
	}
}

func stopped(scope core.HoldScope, ref string) func(*core.State, *core.Lot) {
	return func(s *core.State, _ *core.Lot) {
		s.Holds["h"] = core.Hold{ID: "h", Scope: scope, Ref: ref, Reason: "doubt", At: wednesday}
	}
}

func onRework(both core.Rework, change func(*core.Rework)) func(*core.State, *core.Lot) {
	return func(s *core.State, l *core.Lot) {
		a, r := s.Lots["a"], both
		a.Rework = &both
		s.Lots["a"] = a
		change(&r)
		l.Rework = &r
	}
}

var weldRepair = core.Rework{Route: core.RouteRef{Name: "WELD-REPAIR", Version: 1}, Done: []int{10}, Rejoin: 30, Problem: "q1"}

// alikeBy decides, for every field of a lot, whether two lots that differ in it
// alone are fused. A field without a line here fails the test.
var alikeBy = map[string][]likes{
	"ID":    {{name: "the name", differ: func(*core.State, *core.Lot) {}, fuses: true}},
	"Place": {{name: "the pallet", differ: func(_ *core.State, l *core.Lot) { l.Place = core.On("P2") }, code: "lot-not-here"}},
	"Item": {
		{name: "the metal", differ: func(_ *core.State, l *core.Lot) { l.Item = core.ItemRev{Item: "LIKE-STEEL", Rev: "A"} }, code: "fuse-metals"},
		{name: "the grade", differ: func(_ *core.State, l *core.Lot) { l.Item = core.ItemRev{Item: "LIKE-GRADE", Rev: "A"} }, code: "fuse-metals"},
		{name: "the item", differ: func(_ *core.State, l *core.Lot) { l.Item = core.ItemRev{Item: "LIKE-OTHER", Rev: "A"} }, code: "fuse-items"},
		{name: "the revision", differ: func(_ *core.State, l *core.Lot) { l.Item.Rev = "Z" }, code: "fuse-items"},
	},
	"Owner": {
		{name: "the order", differ: func(_ *core.State, l *core.Lot) { l.Owner = trays }, code: "fuse-owners"},
		{name: "the line", differ: func(_ *core.State, l *core.Lot) { l.Owner.Line++ }, code: "fuse-owners"},
		{name: "stock", differ: func(_ *core.State, l *core.Lot) { l.Owner = core.Owner{} }, code: "fuse-owners"},
	},
	"Route": {{name: "the route's version", differ: func(_ *core.State, l *core.Lot) { l.Route.Version++ }, code: "fuse-routes"}},
	"Rework": {
		{name: "being on rework", differ: func(_ *core.State, l *core.Lot) { l.Rework = &weldRepair }, code: "fuse-routes"},
		{name: "the rework's route", differ: onRework(weldRepair, func(r *core.Rework) { r.Route.Name = "ROUND-AGAIN" }), code: "fuse-routes"},
		{name: "how far the rework is", differ: onRework(weldRepair, func(r *core.Rework) { r.Done = []int{10, 20} }), code: "lots-differ",
			becomes: func(t testing.TB, l core.Lot) { same(t, "done by both", l.Rework.Done, []int{10}) }},
		{name: "where it rejoins", differ: onRework(weldRepair, func(r *core.Rework) { r.Rejoin = 20 }), code: "lots-differ",
			becomes: func(t testing.TB, l core.Lot) { same(t, "rejoins at the earlier step", l.Rework.Rejoin, 20) }},
		{name: "what is to be changed", differ: onRework(weldRepair, func(r *core.Rework) { r.Change = []core.Pick{{Lot: "c", Qty: 1}} }), code: "lots-differ"},
		{name: "the problem behind it", differ: onRework(weldRepair, func(r *core.Rework) { r.Problem = "q2" }), code: "lots-differ"},
	},
	"Done": {{name: "a step done", differ: func(_ *core.State, l *core.Lot) { l.Done = []int{10, 20, 30} }, code: "lots-differ",
		becomes: func(t testing.TB, l core.Lot) { same(t, "done by both", l.Done, []int{10, 20}) }}},
	"Facts": {
		{name: "a fact not given", differ: func(_ *core.State, l *core.Lot) {
			l.Facts = maps.Clone(l.Facts)
			delete(l.Facts, core.Fact{Name: core.EdgesRounded})
		}, code: "lots-differ", becomes: unsure(core.Fact{Name: core.EdgesRounded})},
		{name: "one fact for another", differ: func(_ *core.State, l *core.Lot) {
			l.Facts = maps.Clone(l.Facts)
			delete(l.Facts, core.Fact{Name: core.EdgesRounded})
			l.Facts[core.Fact{Name: core.Folded}] = core.Standing{Value: core.Yes}
		}, code: "lots-differ", becomes: unsure(core.Fact{Name: core.Folded})},
		{name: "a fact's value", differ: fact(core.Fact{Name: core.EdgesRounded}, func(x *core.Standing) { x.Value = core.Unsure }), code: "lots-differ",
			becomes: unsure(core.Fact{Name: core.EdgesRounded})},
		{name: "when a fact lapses", differ: fact(core.Fact{Name: core.Pretreated}, func(x *core.Standing) { x.Lapses = wednesday.Add(time.Minute) }), code: "lots-differ",
			becomes: func(t testing.TB, l core.Lot) {
				same(t, "lapses first", l.Facts[core.Fact{Name: core.Pretreated}].Lapses, wednesday.Add(time.Minute))
			}},
		{name: "the face coated", differ: func(_ *core.State, l *core.Lot) {
			l.Facts = maps.Clone(l.Facts)
			l.Facts[core.Fact{Name: core.Coated, Of: "inside"}] = l.Facts[core.Fact{Name: core.Coated, Of: "outside"}]
		}, code: "fuse-finishes"},
		{name: "the colour", differ: fact(core.Fact{Name: core.Coated, Of: "outside"}, func(x *core.Standing) { x.Note = "chalk, batch PB-2610" }), code: "fuse-finishes"},
		{name: "which event gave a fact", differ: fact(core.Fact{Name: core.EdgesRounded}, func(x *core.Standing) { x.By = "e9" }), fuses: true},
		{name: "what a fact relied on", differ: fact(core.Fact{Name: core.EdgesRounded}, func(x *core.Standing) { x.Relied = []core.Fact{{Name: core.Folded}} }), fuses: true,
			becomes: func(t testing.TB, l core.Lot) {
				same(t, "relied on", l.Facts[core.Fact{Name: core.EdgesRounded}].Relied, []core.Fact{{Name: core.Folded}})
			}},
	},
	"Heats":   {{name: "the heat", differ: func(_ *core.State, l *core.Lot) { l.Heats = []string{"H-2"} }, code: "lots-differ", becomes: func(t testing.TB, l core.Lot) { same(t, "heats", l.Heats, []string{"H-1", "H-2"}) }}},
	"Batches": {{name: "the powder's batch", differ: func(_ *core.State, l *core.Lot) { l.Batches = []string{"PC-2609"} }, code: "lots-differ", becomes: func(t testing.TB, l core.Lot) { same(t, "batches", l.Batches, []string{"PB-2610", "PC-2609"}) }}},
	"Bakes":   {{name: "how often it was baked", differ: func(_ *core.State, l *core.Lot) { l.Bakes = 1 }, code: "lots-differ", becomes: func(t testing.TB, l core.Lot) { same(t, "bakes", l.Bakes, 1) }}},
	"Overcoat": {{name: "leave to be coated over", differ: func(_ *core.State, l *core.Lot) { l.Overcoat = []core.Face{"outside"} }, code: "lots-differ",
		becomes: func(t testing.TB, l core.Lot) { same(t, "leave for both", len(l.Overcoat), 0) }}},
	"Expires": {{name: "the day it expires", differ: func(_ *core.State, l *core.Lot) { l.Expires = "2027-01-31" }, code: "lots-differ",
		becomes: func(t testing.TB, l core.Lot) { same(t, "expires", l.Expires, core.Date("2027-01-31")) }}},
	"Started":   {{name: "being begun", differ: func(_ *core.State, l *core.Lot) { l.Started = &core.Started{Step: 30, By: "P21"} }, code: "lots-differ", becomes: func(t testing.TB, l core.Lot) { same(t, "begun", l.Started == nil, true) }}},
	"Remake":    {{name: "what it replaces", differ: func(_ *core.State, l *core.Lot) { l.Remake = "q1" }, code: "lots-differ"}},
	"For":       {{name: "the unit it is kept for", differ: func(_ *core.State, l *core.Lot) { l.For = "U1" }, code: "fuse-kept"}},
	"Unit":      {{name: "being a unit", differ: func(_ *core.State, l *core.Lot) { l.Unit = "U1" }, code: "fuse-units"}},
	"Presented": {{name: "waiting for a sample", differ: func(_ *core.State, l *core.Lot) { l.Presented = &core.Presented{Size: 1, Of: 2} }, code: "sample-waits"}},

	"Qty":      {{name: "the count", differ: func(_ *core.State, l *core.Lot) { l.Qty = 7 }, fuses: true}},
	"Lost":     {{name: "how many are missed", differ: func(_ *core.State, l *core.Lot) { l.Lost = 1 }, fuses: true, becomes: func(t testing.TB, l core.Lot) { same(t, "missed", l.Lost, 0) }}},
	"Sheets":   {{name: "the sheet", differ: func(_ *core.State, l *core.Lot) { l.Sheets = []string{"S-2"} }, fuses: true, becomes: func(t testing.TB, l core.Lot) { same(t, "sheets", l.Sheets, []string{"S-1", "S-2"}) }}},
	"Nest":     {{name: "the nest", differ: func(_ *core.State, l *core.Lot) { l.Nest = "N-2" }, fuses: true, becomes: func(t testing.TB, l core.Lot) { same(t, "cut in neither alone", l.Nest, "") }}},
	"Parents":  {{name: "descent", differ: func(_ *core.State, l *core.Lot) { l.Parents = []core.LotID{"x"} }, fuses: true, becomes: func(t testing.TB, l core.Lot) { same(t, "parents", l.Parents, []core.LotID{"a", "b", "x"}) }}},
	"Promised": {{name: "the promised date", differ: func(_ *core.State, l *core.Lot) { l.Promised = "2026-12-01" }, fuses: true, becomes: func(t testing.TB, l core.Lot) { same(t, "promised", l.Promised, core.Date("2026-12-01")) }}},
	"Arrived":  {{name: "since when it waits", differ: func(_ *core.State, l *core.Lot) { l.Arrived = wednesday.Add(-time.Hour) }, fuses: true, becomes: func(t testing.TB, l core.Lot) { same(t, "waits since", l.Arrived, wednesday.Add(-time.Hour)) }}},
	"Mixed":    {{name: "having been mixed before", differ: func(_ *core.State, l *core.Lot) { l.Mixed = true }, fuses: true, becomes: func(t testing.TB, l core.Lot) { same(t, "mixed", l.Mixed, true) }}},
	"Box":      {{name: "the box it once left in", differ: func(_ *core.State, l *core.Lot) { l.Box = "P9" }, fuses: true}},
	"Makers": {{name: "who made it", differ: func(_ *core.State, l *core.Lot) { l.Makers = map[string][]core.PersonID{"weld": {"P14"}} }, fuses: true,
		becomes: func(t testing.TB, l core.Lot) { same(t, "makers", l.Makers["weld"], []core.PersonID{"P14"}) }}},
	"Gauges": {{name: "what measured it", differ: func(_ *core.State, l *core.Lot) { l.Gauges = map[string]time.Time{"G-1": wednesday} }, fuses: true,
		becomes: func(t testing.TB, l core.Lot) { same(t, "measured", l.Gauges["G-1"], wednesday) }}},

	// No field of the lot, and what stops one of them all the same.
	"a hold": {
		{name: "a hold on one", differ: stopped(core.HoldLot, "b"), code: "fuse-held"},
		{name: "a hold on both", differ: stopped(core.HoldPallet, "P1"), fuses: true},
		{name: "a hold on their heat", differ: stopped(core.HoldHeat, "H-1"), fuses: true},
	},
}

// otherItems are the cover's item but for what is changed here.
var otherItems = map[core.ItemRev]func(*core.Revision){
	{Item: "LIKE-STEEL", Rev: "A"}: func(r *core.Revision) { r.Metal = core.Stainless },
	{Item: "LIKE-GRADE", Rev: "A"}: func(r *core.Revision) { r.Grade = "another" },
	{Item: "LIKE-OTHER", Rev: "A"}: func(*core.Revision) {},
	{Item: cover.Item, Rev: "Z"}:   func(*core.Revision) {},
}

func unsure(f core.Fact) func(testing.TB, core.Lot) {
	return func(t testing.TB, l core.Lot) {
		t.Helper()
		same(t, f.String(), l.Facts[f].Value, core.Unsure)
	}
}

func TestAlikeIsDecidedForEveryFieldOfALot(t *testing.T) {
	fields := reflect.TypeFor[core.Lot]()
	for i := range fields.NumField() {
		if _, decided := alikeBy[fields.Field(i).Name]; !decided {
			t.Errorf("nobody decided whether lots that differ in %s fuse: look at equalLots, fusable and mixed, then say it in alikeBy", fields.Field(i).Name)
		}
	}
	for name := range alikeBy {
		if _, there := fields.FieldByName(name); !there && name != "a hold" {
			t.Errorf("a lot has no field %s", name)
		}
	}
	// sameRework compares each of these, mixed unites each.
	if n := reflect.TypeFor[core.Rework]().NumField(); n != 5 {
		t.Errorf("a rework has %d fields, and five are decided about", n)
	}
}

func TestWhatTellsTwoLotsApart(t *testing.T) {
	for _, field := range keys(alikeBy) {
		for _, c := range alikeBy[field] {
			t.Run(field+": "+c.name, func(t *testing.T) {
				book, s, b := likeLots(t)
				for id, differ := range otherItems {
					rev := book.Items[cover]
					rev.ItemRev = id
					differ(&rev)
					book.Items[id] = rev
				}
				b.ID = "b"
				c.differ(s, &b)
				s.Lots["b"] = b
				c.judge(t, core.World{Now: wednesday, Book: book, State: s})
			})
		}
	}
}

// judge holds what is offered as alike, and what a fusion comes to in either
// order, against what the table says.
func (c likes) judge(t *testing.T, w core.World) {
	t.Helper()
	groups := core.Alike(w, "P1")
	if offered := len(groups) == 1 && slices.Equal(groups[0], []core.LotID{"a", "b"}); offered != c.fuses {
		t.Errorf("offered as alike: %v", groups)
	}
	for _, ids := range [][]core.LotID{{"a", "b"}, {"b", "a"}} {
		out := core.Decide(w, core.Command{ID: "f", Station: "BENCH-1", Body: core.Fuse{Pallet: "P1", Lots: ids}})
		switch {
		case c.fuses && out.Refusal != nil:
			t.Errorf("%v: refused %v", ids, out.Refusal)
		case !c.fuses && (out.Refusal == nil || out.Refusal.Code != c.code):
			t.Errorf("%v: %v, want a refusal with %s", ids, out.Refusal, c.code)
		}
		if c.code != "" && c.code != "lots-differ" {
			continue
		}
		if out = core.Decide(w, core.Command{ID: "f", Station: "BENCH-1", Body: core.Fuse{Pallet: "P1", Lots: ids, Mix: !c.fuses}}); out.Refusal != nil {
			t.Fatalf("%v: a declared mix is refused: %v", ids, out.Refusal)
		}
		for _, f := range out.Events[0].Effects {
			if f.LotBorn != nil {
				one := *f.LotBorn
				if !c.fuses && !one.Mixed {
					t.Errorf("%v: a mix that does not say so", ids)
				}
				if c.becomes != nil {
					slices.Sort(one.Parents)
					slices.Sort(one.Heats)
					slices.Sort(one.Batches)
					slices.Sort(one.Sheets)
					c.becomes(t, one)
				}
			}
		}
	}
}

func TestALotIsFusedOnce(t *testing.T) {
	book, s, b := likeLots(t)
	b.ID = "b"
	s.Lots["b"] = b
	for _, ids := range [][]core.LotID{{"a", "a"}, {"a", "b", "a"}} {
		out := core.Decide(core.World{Now: wednesday, Book: book, State: s}, core.Command{ID: "f", Station: "BENCH-1", Body: core.Fuse{Pallet: "P1", Lots: ids, Mix: true}})
		if out.Refusal == nil || out.Refusal.Code != "lot-twice" {
			t.Errorf("%v: %v", ids, out.Refusal)
		}
	}
}

// Two holds of one moment: the same one is told each time.
func TestWhichHoldIsToldIsNoChance(t *testing.T) {
	_, s, l := likeLots(t)
	for _, id := range []core.HoldID{"h3", "h1", "h2", "h5", "h4"} {
		s.Holds[id] = core.Hold{ID: id, Scope: core.HoldLot, Ref: string(l.ID), At: wednesday}
	}
	for range 50 {
		if h, _ := core.HeldBy(s, l); h.ID != "h1" {
			t.Fatalf("told of %s", h.ID)
		}
	}
}
