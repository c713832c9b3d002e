package app

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// finishes a drawing may ask, by name.
var finishes = map[string]TypedFinish{
	"bare":               {},
	"one colour":         {Asked: true, Colour: "slate"},
	"one, with places":   {Asked: true, Colour: "slate", Places: []string{"threads M6", "earth point"}},
	"outside only":       {Asked: true, EachFace: true, Outside: "slate"},
	"inside only":        {Asked: true, EachFace: true, Inside: "slate", Places: []string{"earth point"}},
	"two colours":        {Asked: true, EachFace: true, Outside: "slate", Inside: "chalk"},
	"two, covered":       {Asked: true, EachFace: true, Outside: "slate", Inside: "chalk", Cover: true, Places: []string{"threads M6"}},
	"the same both ways": {Asked: true, EachFace: true, Outside: "slate", Inside: "slate"},
}

// TestEveryDrawingsRouteCanBeWorked: what is proposed for any finish, edges,
// folds, welds and hardware goes through the rules to its end, is stored as it
// was shown, and read back makes the same route again. Only edges as cut on a
// coated part are refused, whatever is ticked.
func TestEveryDrawingsRouteCanBeWorked(t *testing.T) {
	b := newBook()
	if slips := read(t, b, typed("P-0", false, false, false, false, false)); len(slips) > 0 {
		t.Fatal(slips)
	}
	n := 0
	for name, finish := range finishes {
		for _, edges := range []EdgeWork{EdgesRound, EdgesFoldFirst, EdgesAsCut} {
			for bits := range 16 {
				bit := func(i int) bool { return bits>>i&1 == 1 }
				assembly, fold, weld, drill := bit(0), bit(1), bit(2), bit(3)
				n++
				item := typed(fmt.Sprint("Q-", n), assembly, fold, weld, false, true)
				item.Finish, item.Edges = finish, edges
				item.Steps = ProposeRoute(item.Chosen(fold, weld, true))
				if drill {
					item.Steps = append(item.Steps, "drill")
				}
				what := fmt.Sprintf("%s, edges %q, assembly %v fold %v weld %v drill %v", name, edges, assembly, fold, weld, drill)
				shown := item.walk(b)
				slips := read(t, b, item)
				if finish.Asked && item.asCut() {
					if len(slips) == 0 || len(shown.Wrong) == 0 {
						t.Errorf("%s: a coat on edges as cut is let through: %v, shown %v", what, slips, shown.Wrong)
					}
					continue
				}
				if len(slips) > 0 || len(shown.Wrong) > 0 {
					t.Errorf("%s: %v, shown %v", what, slips, shown.Wrong)
					continue
				}
				stored := b.Items[core.ItemRev{Item: core.ItemID(item.Item), Rev: "A"}].Route
				if stored != shown.Route.RouteRef || !sameSteps(b.Routes[stored], shown.Route) {
					t.Errorf("%s: stored %v\nshown %v", what, b.Routes[stored], shown.Route)
				}
				if again, known := item.route(b); !known || again.RouteRef != stored {
					t.Errorf("%s: typed again it is route %v, known %v, and not %v", what, again.RouteRef, known, stored)
				}
			}
		}
	}
}

// TestTwoColoursAreTwoCoats in the order common practice has it (no source): the
// first cured before the second, the other face covered each time, the named
// places masked before the first bath and free before the coat is judged.
func TestTwoColoursAreTwoCoats(t *testing.T) {
	item := typed("P-2", false, true, false, true, true)
	item.Finish = finishes["two, covered"]
	var got []string
	for _, s := range item.walk(newBook()).Route.Steps {
		got = append(got, strings.Trim(fmt.Sprintf("%s %s %s", s.Stage, s.Face, s.Place), " "))
	}
	want := []string{"cut", "separate", "edge-round", "fold", "mask  threads M6", "pretreat", "mask inside inside", "coat outside", "cure",
		"unmask inside inside", "key-and-clean", "mask outside outside", "coat inside", "cure", "unmask outside outside",
		"unmask  threads M6", "coat-inspect", "pack"}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	// Without the masking the rules would say so: it is not for show.
	b := newBook()
	route := item.walk(b).Route
	route.Steps = slices.DeleteFunc(route.Steps, func(s core.Step) bool { return s.Stage == "mask" && s.Face == "inside" })
	v := core.Revision{ItemRev: core.ItemRev{Item: "X", Rev: "A"}, Kind: core.PartItem, Name: "panel", Finish: item.Finish.faces(), Route: route.RouteRef}
	slips := walkTyped(b, intake.Bundle{Routes: []core.Route{route}, Items: []core.Revision{v}})
	if len(slips) == 0 || !strings.Contains(slips[0].Text, "The step “Coat” would be refused") {
		t.Errorf("unmasked, the walk says %v", slips)
	}
}

// TestChecksAreTypedAsADrawingSaysThem: a tolerance becomes limits, exactly; a
// check of a stage that comes twice is asked each time; slips stand at the row
// that was typed.
func TestChecksAreTypedAsADrawingSaysThem(t *testing.T) {
	item := typed("P-3", false, true, false, true, true)
	item.Finish = finishes["two colours"]
	item.Checks = []TypedCheck{
		{Stage: "fold", Text: "Outside flange", Nominal: "0.3", Tolerance: "0.1", Unit: "mm", Instrument: "caliper", Source: "drawing"},
		{Stage: "fold", Text: "Outside flange", Nominal: "90", Lower: "89.5", Unit: "°"},
		{Stage: "cure", Text: "Oven record in the folder"},
		{Stage: "coat-inspect", Text: "Film thickness", Lower: "60", Upper: "120", Unit: "µm", Instrument: "coating thickness gauge"},
	}
	item.Samples = []TypedSample{{Stage: "coat-inspect", Size: "13", Accept: "1"}, {Stage: "coat-inspect", UpTo: "50", Size: "5"}}
	b := newBook()
	if slips := read(t, b, item); len(slips) > 0 {
		t.Fatal(slips)
	}
	route := b.Routes[core.RouteRef{Name: "P-3", Version: 1}]
	var got []string
	for _, s := range route.Steps {
		for _, c := range s.Checks {
			line := string(s.Stage) + " " + c.ID + " " + string(c.Kind)
			for _, v := range []*float64{c.Nominal, c.Lower, c.Upper} {
				if v == nil {
					line += " –"
				} else {
					line += fmt.Sprint(" ", *v)
				}
			}
			got = append(got, line+" "+c.Unit+" "+c.Instrument)
		}
	}
	want := []string{"fold outside-flange measure 0.3 0.2 0.4 mm caliper", "fold outside-flange-2 measure 90 89.5 – ° ",
		"cure oven-record-in-the-folder tick – – –  ", "cure oven-record-in-the-folder tick – – –  ",
		"coat-inspect film-thickness measure – 60 120 µm coating thickness gauge"}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	at := slices.IndexFunc(route.Steps, func(s core.Step) bool { return s.Stage == "coat-inspect" })
	if x := route.Steps[at].Sampling; len(x) != 2 || x[0] != (core.SampleRow{UpTo: 50, Size: 5}) || x[1] != (core.SampleRow{Size: 13, Accept: 1}) {
		t.Errorf("sampling is %+v", x)
	}

	for what, c := range map[string]struct {
		spoil func(*TypedItem)
		file  string
		row   int
		field string
		says  string
	}{
		"a tolerance of nothing":  {func(i *TypedItem) { i.Checks[0].Nominal = "" }, "checks.csv", 0, "tolerance", "beside a nominal value"},
		"a comma":                 {func(i *TypedItem) { i.Checks[3].Lower = "60,5" }, "checks.csv", 3, "lower", "a point before the decimals"},
		"no unit":                 {func(i *TypedItem) { i.Checks[3].Unit = "" }, "checks.csv", 3, "unit", "the unit its limits are in"},
		"no text":                 {func(i *TypedItem) { i.Checks[2].Text = " " }, "checks.csv", 2, "text", "wanted a text"},
		"limits crossed":          {func(i *TypedItem) { i.Checks[3].Upper = "50" }, "checks.csv", 3, "lower", "a lower limit above the upper one"},
		"a step not on the route": {func(i *TypedItem) { i.Checks[2].Stage = "weld" }, "checks.csv", 2, "step", "not on the route"},
		"a sample that refuses":   {func(i *TypedItem) { i.Samples[0].Accept = "13" }, "sampling.csv", 0, "accept", "which refuses nothing"},
		"a sample of work":        {func(i *TypedItem) { i.Samples[1].Stage = "fold" }, "sampling.csv", 1, "step", "inspects nothing"},
		"half a sample":           {func(i *TypedItem) { i.Samples[0].Size = "half" }, "sampling.csv", 0, "size", "whole number"},
		"no colour at all":        {func(i *TypedItem) { i.Finish.Outside, i.Finish.Inside = "", " " }, "finishes.csv", 0, "face", "two faces and no colour"},
		"a place twice":           {func(i *TypedItem) { i.Finish.Places = []string{"threads", "threads"} }, "routes.csv", 1, "place", "a second time"},
	} {
		spoilt := item
		spoilt.Item = "P-4"
		spoilt.Checks, spoilt.Samples = slices.Clone(item.Checks), slices.Clone(item.Samples)
		c.spoil(&spoilt)
		before := len(b.Items)
		slips := read(t, b, spoilt)
		if !strings.Contains(slips.At(c.file, c.row, c.field), c.says) || len(b.Items) != before {
			t.Errorf("%s: %+v", what, slips)
		}
	}
}
