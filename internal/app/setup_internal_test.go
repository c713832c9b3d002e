package app

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// newBook is a shop that has laid down its stages and one part.
func newBook() *core.Book {
	return &core.Book{Table: core.DefaultStages(), Items: map[core.ItemRev]core.Revision{}, Routes: map[core.RouteRef]core.Route{},
		Stations: map[core.StationID]core.Station{}, People: map[core.PersonID]core.Person{}}
}

// TestKindsAndStepsAreOfTheTable: whatever is offered, the shop's rules know.
func TestKindsAndStepsAreOfTheTable(t *testing.T) {
	table := core.DefaultStages()
	known := func(what string, n core.StageName) {
		if _, ok := table.Stage(n); !ok {
			t.Errorf("%s names the stage %s, which there is not", what, n)
		}
	}
	keys := map[string]bool{}
	for _, k := range StationKinds {
		for _, n := range k.Stages {
			known(k.Name, n)
			if st, _ := table.Stage(n); st.Abrades && k.Belt == "" {
				t.Errorf("%s does %s, which abrades, with nothing mounted", k.Name, n)
			}
		}
		if keys[k.Key] {
			t.Errorf("kind %s twice", k.Key)
		}
		keys[k.Key] = true
	}
	for _, s := range RouteSteps {
		known("a route", s.Stage)
		if !slices.ContainsFunc(StationKinds, func(k StationKind) bool { return slices.Contains(k.Stages, s.Stage) }) {
			t.Errorf("no kind of station does %s", s.Stage)
		}
	}
}

// typed is an item as a person could choose it.
func typed(name string, assembly, fold, weld, coat, own bool) TypedItem {
	item := TypedItem{Item: name, Rev: "A", Name: "hinge bracket", Metal: "aluminium", Grade: "5005-H32", Thickness: "3",
		Length: "160", Width: "60", Assembly: assembly}
	if coat {
		item.Finish = TypedFinish{Asked: true, Colour: "slate"}
	}
	if assembly {
		item.Bill = []TypedComponent{{"P-0|A", "2"}}
	}
	item.Steps = ProposeRoute(item.Chosen(fold, weld, own))
	return item
}

// read judges a typed item as AddItem does, and adds it to the book.
func read(t *testing.T, b *core.Book, item TypedItem) Slips {
	t.Helper()
	rows, slips := item.rows(b)
	if len(slips) > 0 {
		return slips
	}
	folder, err := rows.Folder()
	if err != nil {
		t.Fatal(err)
	}
	bundle, faults := intake.Read(folder, intake.Known{Book: b})
	if len(faults) > 0 {
		route, _ := item.route(b)
		return item.asTyped(slipsOf(faults), route)
	}
	if slips := walkTyped(b, bundle); len(slips) > 0 {
		return slips
	}
	for _, r := range bundle.Routes {
		b.Routes[r.RouteRef] = r
	}
	for _, v := range bundle.Items {
		b.Items[v.ItemRev] = v
	}
	return nil
}

// TestEveryProposedRouteCanBeWorked: whatever is chosen, what is proposed goes
// through the rules to its end; and the same steps are the same route.
func TestEveryProposedRouteCanBeWorked(t *testing.T) {
	b := newBook()
	if slips := read(t, b, typed("P-0", false, false, false, false, false)); len(slips) > 0 {
		t.Fatal(slips)
	}
	routes := map[string]core.RouteRef{}
	for n := range 32 {
		bit := func(i int) bool { return n>>i&1 == 1 }
		item := typed(fmt.Sprint("P-", n+1), bit(0), bit(1), bit(2), bit(3), bit(4))
		if slips := read(t, b, item); len(slips) > 0 {
			t.Errorf("chosen %v: %v", item.Chosen(bit(1), bit(2), bit(4)), slips)
			continue
		}
		ref := b.Items[core.ItemRev{Item: core.ItemID(item.Item), Rev: "A"}].Route
		steps := fmt.Sprint(item.Steps)
		if was, ok := routes[steps]; ok && was != ref {
			t.Errorf("the steps %s are route %s and route %s", steps, was, ref)
		}
		routes[steps] = ref
		if ref.Version != 1 {
			t.Errorf("route %s of %s: two routes of one name", ref, steps)
		}
	}
}

// TestTheRulesSayWhatIsWrongWithARoute in words that lack nothing.
func TestTheRulesSayWhatIsWrongWithARoute(t *testing.T) {
	for left, want := range map[core.StageName]string{
		"edge-round":   "The step “Fold” would be refused: 1 hinge bracket may not go on: its edges were never rounded.",
		"weld-inspect": "The step “Pretreat” would be refused:",
		"pretreat":     "The step “Coat” would be refused:",
		"cure":         "The step “Inspect the coat” would be refused:",
		"coat-inspect": "The step “Pack” would be refused:",
		"coat":         "Found the route PART-ROUND-FOLD-WELD-INSPECT-PACK v1, which does not coat, for an item with a finish; wanted a route with a coat step",
	} {
		item := typed("P-1", false, true, true, true, true)
		item.Steps = slices.DeleteFunc(item.Steps, func(n core.StageName) bool { return n == left })
		slips := read(t, newBook(), item)
		got := ""
		for _, s := range slips {
			got += s.Text + "\n"
		}
		if len(slips) == 0 || strings.Contains(got, "(not known)") || !strings.HasPrefix(got, want) {
			t.Errorf("without %s: %q, want %q", left, got, want)
		}
	}
}

func TestStationsAreProposedUnderFreeNumbers(t *testing.T) {
	b := newBook()
	b.Stations["LASER-2"] = core.Station{ID: "LASER-2", Name: "old laser", Order: 70}
	got := ProposeStations(b, map[string]int{"laser": 2, "round": 1, "weld": 1}, core.Stainless)
	var out []string
	for _, st := range got {
		out = append(out, fmt.Sprintf("%s %q %d %s %s", st.ID, st.Name, st.Order, st.Abrasive, st.Metal))
	}
	want := []string{
		`LASER-1 "laser 1" 80  `, `LASER-3 "laser 3" 90  `, `ROUND-1 "edge rounding line" 100 BELT-1 stainless`, `WELD-1 "weld bench" 110 DISC-W-1 stainless`,
	}
	if !slices.Equal(out, want) {
		t.Errorf("got  %q\nwant %q", out, want)
	}
}
