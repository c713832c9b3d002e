package core_test

import (
	"os"
	"slices"
	"testing"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// sampleBook is the invented shop of testdata/samples.
func sampleBook(t testing.TB) (*core.Book, intake.Bundle) {
	t.Helper()
	table := core.DefaultStages()
	bundle, faults := intake.Read(os.DirFS("../../testdata/samples"), intake.Known{Book: &core.Book{Table: table}})
	if len(faults) > 0 {
		t.Fatalf("the samples have faults: %v", faults[0])
	}
	b := &core.Book{Version: 1, Zone: time.UTC, Shop: "Corrie Sheetworks (invented)", Table: table,
		Routes: map[core.RouteRef]core.Route{}, Items: map[core.ItemRev]core.Revision{}, Stations: map[core.StationID]core.Station{},
		People: map[core.PersonID]core.Person{}, Instruments: map[string]core.Instrument{}, Batches: map[string]core.Batch{}}
	for _, x := range bundle.Routes {
		b.Routes[x.RouteRef] = x
	}
	for _, x := range bundle.Items {
		b.Items[x.ItemRev] = x
	}
	for _, x := range bundle.Stations {
		b.Stations[x.ID] = x
	}
	for _, x := range bundle.People {
		b.People[x.ID] = x
	}
	for _, x := range bundle.Instruments {
		b.Instruments[x.ID] = x
	}
	for _, x := range bundle.Batches {
		b.Batches[x.Batch] = x
	}
	return b, bundle
}

func TestEveryRouteOfTheSamplesCanBeWorkedToItsEnd(t *testing.T) {
	b, _ := sampleBook(t)
	n, findings := core.WalkAll(b)
	if n < 40 {
		t.Fatalf("only %d items walked", n)
	}
	for _, f := range findings {
		t.Errorf("%s on %s, step %d %s: %s %v", f.Item, f.Route, f.Step.No, f.Step.Stage, f.Refusal.Code, f.Refusal.Params)
	}
}

// A route drawn in the wrong order of work is found, whichever rule it breaks.
func TestWalkFindsRoutesDrawnWrong(t *testing.T) {
	b, _ := sampleBook(t)
	item := core.ItemRev{Item: "X", Rev: "A"}
	all := []core.Finish{{Face: "all", Colour: "basalt"}}
	cases := []struct {
		name   string
		finish []core.Finish
		asCut  bool
		steps  []core.StageName
		want   string
	}{
		{"coat without rounding", all, false, []core.StageName{"cut", "separate", "pretreat", "coat"}, "edges-not-rounded"},
		{"coat without pretreatment", all, false, []core.StageName{"cut", "separate", "edge-round", "coat"}, "not-pretreated"},
		{"round after folding", nil, false, []core.StageName{"cut", "separate", "edge-round", "fold", "edge-round"}, "already-folded"},
		{"cure without coat", nil, false, []core.StageName{"cut", "separate", "edge-round", "cure"}, "nothing-coated"},
		{"fold after coat", all, false, []core.StageName{"cut", "separate", "edge-round", "pretreat", "coat", "cure", "fold"}, "already-coated"},
		{"tap after coat undeclared", all, false, []core.StageName{"cut", "separate", "edge-round", "pretreat", "coat", "cure", "coat-inspect", "tap"}, "already-coated"},
		{"pack without inspection", all, false, []core.StageName{"cut", "separate", "edge-round", "pretreat", "coat", "cure", "pack"}, "coat-not-accepted"},
		{"pack bare without check", nil, false, []core.StageName{"cut", "separate", "edge-round", "pack"}, "not-final-checked"},
		{"pretreat past the weld hold", all, false, []core.StageName{"cut", "separate", "edge-round", "weld", "pretreat"}, "hold-not-released"},
		{"weld with sharp edges", nil, false, []core.StageName{"cut", "separate", "weld"}, "edges-not-rounded"},
		{"edges as cut without their label", nil, true, []core.StageName{"cut", "separate", "final-check", "pack"}, "check-not-drawn"},
		{"edges as cut, coated", all, true, []core.StageName{"cut", "separate", "edge-round", "pretreat", "coat", "cure", "coat-inspect", "pack"}, "route-edges-as-cut"},
		{"second coat over pretreatment gone", all, false, []core.StageName{"cut", "separate", "edge-round", "pretreat", "coat", "cure", "coat"}, "not-pretreated"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			route := core.Route{RouteRef: core.RouteRef{Name: "X", Version: 1}}
			for i, s := range c.steps {
				route.Steps = append(route.Steps, core.Step{No: 10 * (i + 1), Stage: s})
			}
			b.Routes[route.RouteRef] = route
			b.Items[item] = core.Revision{ItemRev: item, Kind: core.PartItem, Name: "plate", Metal: core.Aluminium, Thickness: 3,
				Finish: c.finish, EdgesAsCut: c.asCut, Route: route.RouteRef}
			found := core.Walk(b, item)
			if !slices.ContainsFunc(found, func(f core.WalkFinding) bool { return f.Refusal.Code == c.want }) {
				t.Fatalf("found %v, want %s", found, c.want)
			}
		})
	}
}

// A step after coat must be drawn with the touching up of its bare edges, and
// not as something one may leave out.
func TestWalkWantsBareEdgesTouchedUp(t *testing.T) {
	b, _ := sampleBook(t)
	route := b.Routes[b.Items[cableTray].Route]
	i := slices.IndexFunc(route.Steps, func(s core.Step) bool { return s.AfterCoat })
	route.Steps = slices.Clone(route.Steps)
	b.Routes[route.RouteRef] = route
	for _, checks := range [][]core.Characteristic{nil, {{ID: "bare-edges-touched-up", Kind: core.Tick, Optional: true}}} {
		route.Steps[i].Checks = checks
		found := core.Walk(b, cableTray)
		if len(found) != 1 || found[0].Refusal.Code != "check-not-drawn" || found[0].Step.No != route.Steps[i].No {
			t.Errorf("with the checks %v: found %v", checks, found)
		}
	}
}

// A face that is to stay bare is masked while the other is coated.
func TestAFaceThatStaysBareIsMasked(t *testing.T) {
	b, _ := sampleBook(t)
	item := core.ItemRev{Item: "X", Rev: "A"}
	for want, stages := range map[string][]core.StageName{
		"face-unprotected": {"cut", "separate", "edge-round", "pretreat", "coat", "cure", "coat-inspect", "pack"},
		"still-masked":     {"cut", "separate", "edge-round", "pretreat", "mask", "coat", "cure", "coat-inspect", "pack"},
		"":                 {"cut", "separate", "edge-round", "pretreat", "mask", "coat", "cure", "unmask", "coat-inspect", "pack"},
	} {
		route := core.Route{RouteRef: core.RouteRef{Name: "X", Version: 1}}
		for i, s := range stages {
			step := core.Step{No: 10 * (i + 1), Stage: s}
			if s == "mask" || s == "unmask" {
				step.Face = "inside"
			}
			route.Steps = append(route.Steps, step)
		}
		b.Routes[route.RouteRef] = route
		b.Items[item] = core.Revision{ItemRev: item, Kind: core.PartItem, Name: "lid", Metal: core.Aluminium, Thickness: 3, Route: route.RouteRef,
			Finish: []core.Finish{{Face: "outside", Colour: "basalt"}, {Face: "inside", Colour: core.Bare}}}
		found := core.Walk(b, item)
		if got := codesOf(found); got != want {
			t.Errorf("%v: found %q, want %q", stages, got, want)
		}
	}
}

func codesOf(found []core.WalkFinding) string {
	out := ""
	for _, f := range found {
		out += f.Refusal.Code
	}
	return out
}

// A rework route is walked from wherever some item can be sent over it.
func TestWalkFindsReworkRoutesDrawnWrong(t *testing.T) {
	for want, stages := range map[string][]core.StageName{
		"not-welded":      {"grind-out", "weld-dress", "weld"},
		"nothing-to-sort": {"sort", "sort"},
		"already-coated":  {"strip", "pretreat", "coat", "hand-round"},
	} {
		b, _ := sampleBook(t)
		route := core.Route{RouteRef: core.RouteRef{Name: "REWORK-X", Version: 1}, Rework: true}
		for i, s := range stages {
			route.Steps = append(route.Steps, core.Step{No: 10 * (i + 1), Stage: s})
		}
		b.Routes[route.RouteRef] = route
		if _, found := core.WalkAll(b); len(found) != 1 || found[0].Refusal.Code != want || found[0].Route != route.RouteRef {
			t.Errorf("%v: found %v, want %s", stages, found, want)
		}
	}
}
