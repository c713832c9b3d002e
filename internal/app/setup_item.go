package app

import (
	"cmp"
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
	Hand                    string // left or right, where there is a look-alike
	Mass                    string // kg, where it was weighed
	Bakes                   string // how often its powder may be baked; empty: as usual
	Edges                   EdgeWork
	Finish                  TypedFinish
	Bill                    []TypedComponent
	Steps                   []core.StageName // ticked
	Checks                  []TypedCheck
	Samples                 []TypedSample
}

// EdgeWork is what becomes of a cut part's edges.
type EdgeWork string

// The kinds of edge work.
const (
	EdgesRound     EdgeWork = ""           // rounded before anything else
	EdgesFoldFirst EdgeWork = "fold-first" // the drawing folds first: rounded by hand after
	EdgesAsCut     EdgeWork = "as-cut"     // the drawing leaves them as the laser did
)

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
	out := []Choice{pick(t.Assembly, ChoseAssembly, ChosePart), pick(t.Finish.Asked, ChoseCoat, ChoseBare)}
	switch {
	case weld:
		out = append(out, ChoseWeld)
	case t.Assembly:
		out = append(out, ChoseBolt)
	}
	switch {
	case t.Assembly: // its edges are its components'
	case t.Edges == EdgesFoldFirst:
		out, fold = append(out, ChoseFoldFirst), true
	case t.Edges == EdgesAsCut:
		out = append(out, ChoseAsCut)
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
	route, _ := t.route(book)
	bundle, faults := intake.Read(folder, intake.Known{Book: book})
	if len(faults) > 0 {
		return t.asTyped(slipsOf(faults), route), nil
	}
	if slips := walkTyped(book, bundle); len(slips) > 0 {
		return slips, nil
	}
	slips, err = s.storeTyped(ctx, by, "items page", rows)
	return t.asTyped(slips, route), err
}

// ItemWalk is how a typed item's route looks, and what the rules say of it.
type ItemWalk struct {
	Route core.Route
	Known bool     // the shop has just this route
	Wrong []string // where the rules would refuse, as sentences; none: it can be worked to its end
}

// WalkItem shows a typed item's route and walks it, and stores nothing. What
// else is typed of the item need not be right yet.
func (s *Service) WalkItem(ctx context.Context, by Caller, t TypedItem) (ItemWalk, error) {
	if err := officeOnly(by); err != nil {
		return ItemWalk{}, err
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return ItemWalk{}, fmt.Errorf("read the catalogue: %w", err)
	}
	return t.walk(book), nil
}

func (t TypedItem) walk(b *core.Book) ItemWalk {
	var out ItemWalk
	out.Route, out.Known = t.route(b)
	for _, x := range t.wrong() {
		if x.File == "routes.csv" || x.File == "finishes.csv" {
			out.Wrong = append(out.Wrong, x.Text)
		}
	}
	if len(out.Wrong) > 0 {
		return out
	}
	v := core.Revision{ItemRev: core.ItemRev{Item: "typed", Rev: "typed"}, Kind: core.PartItem, Name: cmp.Or(strings.TrimSpace(t.Name), "part"),
		Metal: core.Metal(t.Metal), Finish: t.Finish.faces(), EdgesAsCut: t.asCut(), FoldsFirst: t.foldsFirst(), Route: out.Route.RouteRef}
	if t.Assembly { // what it is made of makes no difference to its own route
		v.Kind, v.Bill = core.AssemblyItem, []core.Component{{Item: core.ItemRev{Item: "component", Rev: "typed"}, Qty: 1}}
	}
	for _, x := range walkTyped(b, intake.Bundle{Routes: []core.Route{out.Route}, Items: []core.Revision{v}}) {
		out.Wrong = append(out.Wrong, x.Text)
	}
	return out
}

// rows are the lines the item would have in the files.
func (t TypedItem) rows(b *core.Book) (intake.Typed, Slips) {
	rev := core.ItemRev{Item: core.ItemID(strings.TrimSpace(t.Item)), Rev: strings.TrimSpace(t.Rev)}
	if _, there := b.Items[rev]; there {
		return nil, Slips{typedSlip("items.csv", 0, "item", "item "+rev.String()+", which the shop has", "another number, or a new revision")}
	}
	if slips := t.wrong(); len(slips) > 0 {
		return nil, slips
	}
	route, known := t.route(b)
	item := map[string]string{
		"item": t.Item, "rev": t.Rev, "kind": string(core.PartItem), "name": t.Name, "grade": t.Grade, "metal": t.Metal,
		"thickness_mm": t.Thickness, "length_mm": t.Length, "width_mm": t.Width, "hand": t.Hand, "mass_kg": t.Mass, "max_bakes": t.Bakes,
		"edges_as_cut": onlyYes(t.asCut()), "folds_first": onlyYes(t.foldsFirst()),
		"route": route.Name, "route_version": strconv.Itoa(route.Version),
	}
	rows := intake.Typed{"items.csv": {item}}
	if !known {
		rows["routes.csv"] = routeRows(route)
		t.inspectionRows(route, rows)
	}
	for _, f := range t.Finish.faces() {
		rows["finishes.csv"] = append(rows["finishes.csv"], map[string]string{
			"item": t.Item, "rev": t.Rev, "face": string(f.Face), "colour": f.Colour, "protect": onlyYes(f.Protect)})
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
	return rows, nil
}

// wrong is what a folder of files would not show: the page's own slips.
func (t TypedItem) wrong() Slips {
	if len(t.Steps) == 0 {
		return Slips{typedSlip("routes.csv", 0, "step", "a route without a step", "at least one step ticked")}
	}
	for _, stage := range t.Steps {
		if !slices.ContainsFunc(RouteSteps, func(s RouteStep) bool { return s.Stage == stage }) {
			return Slips{typedSlip("routes.csv", 0, "step", "the step "+strconv.Quote(string(stage)), "steps of the list")}
		}
	}
	if t.Assembly && len(t.Bill) == 0 {
		return Slips{typedSlip("bills.csv", 0, "component", "an assembly of nothing", "the items it is put together from")}
	}
	return append(t.Finish.wrong(), t.wrongChecks()...)
}

func (t TypedItem) asCut() bool      { return !t.Assembly && t.Edges == EdgesAsCut }
func (t TypedItem) foldsFirst() bool { return !t.Assembly && t.Edges == EdgesFoldFirst }

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
