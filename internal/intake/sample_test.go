package intake_test

import (
	"io/fs"
	"os"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

const samples = "../../testdata/samples"

// emptyShop knows the default stages and nothing else.
func emptyShop() intake.Known {
	return intake.Known{Book: &core.Book{Table: core.DefaultStages()}}
}

func readSamples(t testing.TB) intake.Bundle {
	t.Helper()
	b, faults := intake.Read(os.DirFS(samples), emptyShop())
	for _, f := range faults {
		t.Errorf("%v", f)
	}
	if t.Failed() {
		t.FailNow()
	}
	return b
}

// shopOf is a shop that has stored the bundle.
func shopOf(b intake.Bundle) intake.Known {
	book := &core.Book{Table: core.DefaultStages(), Routes: map[core.RouteRef]core.Route{}, Items: map[core.ItemRev]core.Revision{},
		Stations: map[core.StationID]core.Station{}, People: map[core.PersonID]core.Person{},
		Instruments: map[string]core.Instrument{}, Batches: map[string]core.Batch{}}
	for _, x := range b.Routes {
		book.Routes[x.RouteRef] = x
	}
	for _, x := range b.Items {
		book.Items[x.ItemRev] = x
	}
	for _, x := range b.Stations {
		book.Stations[x.ID] = x
	}
	for _, x := range b.People {
		book.People[x.ID] = x
	}
	for _, x := range b.Instruments {
		book.Instruments[x.ID] = x
	}
	for _, x := range b.Batches {
		book.Batches[x.Batch] = x
	}
	return intake.Known{Book: book, Have: intake.Have{
		Orders: find(b.Orders, func(x core.Order) string { return x.No }),
		Nests:  find(b.Nests, func(x core.Nest) string { return x.ID }),
		Sheets: find(b.Sheets, func(x intake.Sheet) string { return x.No }),
		Bought: find(b.Bought, func(x intake.Bought) string { return x.No }),
	}}
}

func find[T any](all []T, key func(T) string) map[string]T {
	m := map[string]T{}
	for _, x := range all {
		m[key(x)] = x
	}
	return m
}

func TestSamplesAreWhole(t *testing.T) {
	b := readSamples(t)
	for _, n := range b.Notes {
		t.Log(n)
	}
	if len(b.Notes) == 0 {
		t.Error("the samples cut more corner brackets than order O-4107 asks for, and no note says so")
	}
	if got := len(b.Orders); got != 12 {
		t.Errorf("%d orders, want 12", got)
	}
	if got := len(b.People); got != 30 {
		t.Errorf("%d people, want 30", got)
	}
	// Every file of the folder is read.
	names, err := fs.Glob(os.DirFS(samples), "*.csv")
	if err != nil || len(names) != 17 {
		t.Errorf("%d sample files (%v), want the 17 there are", len(names), err)
	}
}

// TestSamplesReadTwice holds the promise that the same files twice add nothing.
func TestSamplesReadTwice(t *testing.T) {
	first := readSamples(t)
	known := shopOf(first)
	second, faults := intake.Read(os.DirFS(samples), known)
	if len(faults) > 0 {
		t.Fatalf("read again: %v", faults[0])
	}
	n := second.News(known)
	if k := len(n.Items) + len(n.Routes) + len(n.Orders) + len(n.Nests) + len(n.Sheets) + len(n.Bought) +
		len(n.Stations) + len(n.People) + len(n.Instruments) + len(n.Batches); k != 0 {
		t.Errorf("the same folder twice adds %d things: %+v", k, n)
	}
	if n := first.News(emptyShop()); len(n.Items) != len(first.Items) || len(n.Nests) != len(first.Nests) {
		t.Error("an empty shop must find everything new")
	}
}

// TestSampleRoutes holds the shape of the sample routes: what is cut begins
// with cut and separate, what is put together with its first joint, and parts
// of an assembly end before it.
func TestSampleRoutes(t *testing.T) {
	b := readSamples(t)
	routes := map[core.RouteRef]core.Route{}
	done := map[core.StageName]bool{}
	for _, s := range b.Stations {
		for _, n := range s.Stages {
			done[n] = true
		}
	}
	for _, r := range b.Routes {
		routes[r.RouteRef] = r
		for _, s := range r.Steps {
			if !done[s.Stage] {
				t.Errorf("route %s step %d: no station does %s", r, s.No, s.Stage)
			}
		}
	}
	component := map[core.ItemRev]bool{}
	for _, v := range b.Items {
		if v.Kind == core.AssemblyItem {
			for _, c := range v.Bill {
				component[c.Item] = true
			}
		}
	}
	for _, v := range b.Items {
		if v.Kind == core.ProductItem {
			continue
		}
		steps := routes[v.Route].Steps
		first, last := steps[0].Stage, steps[len(steps)-1].Stage
		want := map[core.ItemKind][]core.StageName{core.PartItem: {"cut"}, core.AssemblyItem: {"weld", "assemble"}, core.KitItem: {"kit-check"},
			core.BoughtItem: {"goods-in"}, core.SheetItem: {"goods-in"}, core.BarItem: {"goods-in"}}[v.Kind]
		ok := false
		for _, w := range want {
			ok = ok || first == w
		}
		if !ok {
			t.Errorf("%s %s begins with %s, want one of %v", v.Kind, v, first, want)
		}
		if material := v.Kind == core.SheetItem || v.Kind == core.BarItem; !material && component[v.ItemRev] == (last == "pack") {
			t.Errorf("%s %s ends with %s; a component ends before the joint, all else with pack", v.Kind, v, last)
		}
	}
}

// TestSampleMasses holds the materials' masses to length × width × thickness ×
// density: 2700 kg/m³ for EN AW-5005 and 2660 for 5083 (Aluminum Association
// nominal densities), 7900 for 304 (EN 10088-1, from memory).
func TestSampleMasses(t *testing.T) {
	density := map[string]float64{"5005-H32": 2700, "5083-H116": 2660, "304": 7900}
	n := 0
	for _, v := range readSamples(t).Items {
		if v.Kind != core.SheetItem {
			continue
		}
		n++
		want := v.Length * v.Width * v.Thickness * density[v.Grade] / 1e9
		if d := v.MassEach - want; d > 0.005 || d < -0.005 {
			t.Errorf("%s: %g kg, want %.3f", v, v.MassEach, want)
		}
	}
	if n != 3 {
		t.Errorf("%d sheets, want 3", n)
	}
}
