package app

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/intake"
	"tagalong/internal/words"
)

// TypedItem is an item as it was typed, every number still a text.
type TypedItem struct {
	Item, Rev, Name         string
	Assembly                bool
	Metal, Grade, Thickness string // mm
	Length, Width           string // mm, of the blank
	Colour                  string // of every face; empty: bare
	Bill                    []TypedComponent
	Steps                   []core.StageName // ticked
}

// TypedComponent is a line of the bill. A line without an item is not read.
type TypedComponent struct{ Item, Qty string }

// Chosen is what a route is proposed from.
func (t TypedItem) Chosen(fold, weld, own bool) []Choice {
	pick := func(yes bool, a, b Choice) Choice {
		if yes {
			return a
		}
		return b
	}
	out := []Choice{pick(t.Assembly, ChoseAssembly, ChosePart), pick(t.Colour != "", ChoseCoat, ChoseBare)}
	switch {
	case weld:
		out = append(out, ChoseWeld)
	case t.Assembly:
		out = append(out, ChoseBolt)
	}
	if fold {
		out = append(out, ChoseFold)
	}
	if own {
		out = append(out, ChoseOwn)
	}
	return out
}

// FreeItem is an item number the shop has not got.
func FreeItem(b *core.Book) string {
	return freeName("P", 1, func(name string) bool { return hasItem(b, core.ItemID(name)) })
}

func hasItem(b *core.Book, id core.ItemID) bool {
	for ref := range b.Items {
		if ref.Item == id {
			return true
		}
	}
	return false
}

// AddItem stores a typed item with its route. The route is walked first by the
// rules that judge the work, and what they refuse is a slip of its steps.
func (s *Service) AddItem(ctx context.Context, by Caller, t TypedItem) (Slips, error) {
	if err := officeOnly(by); err != nil {
		return nil, err
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the catalogue: %w", err)
	}
	rows, slips := t.rows(book)
	if len(slips) > 0 {
		return slips, nil
	}
	folder, err := rows.Folder()
	if err != nil {
		return nil, fmt.Errorf("items page: %w", err)
	}
	bundle, faults := intake.Read(folder, intake.Known{Book: book})
	if len(faults) > 0 {
		return slipsOf(faults), nil
	}
	if slips := walkTyped(book, bundle); len(slips) > 0 {
		return slips, nil
	}
	return s.storeTyped(ctx, by, "items page", rows)
}

// rows are the lines the item would have in the files.
func (t TypedItem) rows(b *core.Book) (intake.Typed, Slips) {
	rev := core.ItemRev{Item: core.ItemID(strings.TrimSpace(t.Item)), Rev: strings.TrimSpace(t.Rev)}
	if _, there := b.Items[rev]; there {
		return nil, Slips{typedSlip("items.csv", 0, "item", "item "+rev.String()+", which the shop has", "another number, or a new revision")}
	}
	if len(t.Steps) == 0 {
		return nil, Slips{typedSlip("routes.csv", 0, "step", "a route without a step", "at least one step ticked")}
	}
	for _, stage := range t.Steps {
		if !slices.ContainsFunc(RouteSteps, func(s RouteStep) bool { return s.Stage == stage }) {
			return nil, Slips{typedSlip("routes.csv", 0, "step", "the step "+strconv.Quote(string(stage)), "steps of the list")}
		}
	}
	route, known := typedRoute(b, t.Steps)
	item := map[string]string{
		"item": t.Item, "rev": t.Rev, "kind": string(core.PartItem), "name": t.Name, "grade": t.Grade, "metal": t.Metal,
		"thickness_mm": t.Thickness, "length_mm": t.Length, "width_mm": t.Width,
		"route": route.Name, "route_version": strconv.Itoa(route.Version),
	}
	rows := intake.Typed{"items.csv": {item}}
	if !known {
		rows["routes.csv"] = routeRows(route)
	}
	if t.Colour != "" {
		rows["finishes.csv"] = []map[string]string{{"item": t.Item, "rev": t.Rev, "face": "all", "colour": t.Colour}}
	}
	if !t.Assembly {
		return rows, nil
	}
	item["kind"] = string(core.AssemblyItem)
	for _, f := range []string{"grade", "thickness_mm"} { // of its components
		delete(item, f)
	}
	for _, c := range t.Bill {
		of := itemOfKey(c.Item)
		rows["bills.csv"] = append(rows["bills.csv"], map[string]string{
			"item": t.Item, "rev": t.Rev, "component": string(of.Item), "component_rev": of.Rev, "qty": c.Qty})
	}
	if len(t.Bill) == 0 {
		return nil, Slips{typedSlip("bills.csv", 0, "component", "an assembly of nothing", "the items it is put together from")}
	}
	return rows, nil
}

// ItemKey is an item's revision as one value of a list: "P-1|A".
func ItemKey(r core.ItemRev) string { return string(r.Item) + "|" + r.Rev }

func itemOfKey(key string) core.ItemRev {
	item, rev, _ := strings.Cut(key, "|")
	return core.ItemRev{Item: core.ItemID(item), Rev: rev}
}

// walkTyped walks the items of a bundle along their routes, in the book with
// the bundle added to it.
func walkTyped(b *core.Book, add intake.Bundle) Slips {
	with := *b
	with.Items, with.Routes = maps.Clone(b.Items), maps.Clone(b.Routes)
	if with.Items == nil || with.Routes == nil {
		with.Items, with.Routes = map[core.ItemRev]core.Revision{}, map[core.RouteRef]core.Route{}
	}
	for _, r := range add.Routes {
		with.Routes[r.RouteRef] = r
	}
	for _, v := range add.Items {
		with.Items[v.ItemRev] = v
	}
	var out Slips
	for _, v := range add.Items {
		for _, f := range core.Walk(&with, v.ItemRev) {
			out = append(out, Slip{File: "routes.csv", Row: 0, Field: "step", Text: findingText(&with, f)})
		}
	}
	return out
}

// findingText says of a step what the rules would refuse when the work comes to it.
func findingText(b *core.Book, f core.WalkFinding) string {
	params := maps.Clone(f.Refusal.Params)
	if params == nil {
		params = map[string]string{}
	}
	for k, v := range map[string]string{"count": "1", "name": b.Items[f.Item].Name} {
		if params[k] == "" {
			params[k] = v
		}
	}
	said := words.Refusal(f.Refusal.Code, params)
	step := "The route"
	if st, ok := b.Table.Stage(f.Step.Stage); ok {
		step = "The step “" + st.Title + "”"
	}
	return strings.TrimSpace(step + " would be refused: " + said.Title + " " + said.Why)
}

// PartsOf lists the items of some kinds, by number and revision.
func PartsOf(b *core.Book, kinds ...core.ItemKind) []core.Revision {
	var out []core.Revision
	for _, v := range b.Items {
		if slices.Contains(kinds, v.Kind) {
			out = append(out, v)
		}
	}
	slices.SortFunc(out, func(a, b core.Revision) int { return strings.Compare(a.Key(), b.Key()) })
	return out
}
