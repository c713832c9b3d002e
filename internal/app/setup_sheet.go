package app

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// TypedSheet is a sheet as it came in, typed.
type TypedSheet struct {
	No, Heat, Certificate, Slot string
	Material                    string // an [ItemKey] of the shop; empty: the one typed below
	Metal, Grade, Thickness     string // mm
	Length, Width               string // mm
	Identified                  bool   // the mark on the metal was read and agrees with its certificate
}

// FreeSheet is a sheet number that was never received.
func (s *Service) FreeSheet(ctx context.Context) (string, error) {
	for n := 1; ; n++ {
		no := "M-" + strconv.Itoa(n)
		came, err := s.sheetCame(ctx, no)
		if err != nil {
			return "", err
		}
		if !came {
			return no, nil
		}
	}
}

// sheetCame reports whether a sheet of this number was received, typed or
// imported: its number makes the receiving command's id, and that its lot's.
func (s *Service) sheetCame(ctx context.Context, no string) (bool, error) {
	lots, err := s.Store.Lots(ctx, []core.LotID{core.LotID(string(sheetID(no)) + "/1")})
	if err != nil {
		return false, fmt.Errorf("look for sheet %s: %w", no, err)
	}
	return len(lots) > 0, nil
}

// ReceiveSheet takes a typed sheet in, with its material where that is new.
func (s *Service) ReceiveSheet(ctx context.Context, by Caller, t TypedSheet) (Slips, error) {
	if err := officeOnly(by); err != nil {
		return nil, err
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the catalogue: %w", err)
	}
	no := strings.TrimSpace(t.No)
	came, err := s.sheetCame(ctx, no)
	switch {
	case err != nil:
		return nil, err
	case came:
		return Slips{typedSlip("sheets.csv", 0, "sheet", "sheet "+no+", which was received before", "a number of its own")}, nil
	case !t.Identified:
		return Slips{typedSlip("sheets.csv", 0, "identified", "a mark that nobody has read",
			"the mark on the metal read and held against its certificate; a sheet nobody knows is never cut")}, nil
	}
	material := itemOfKey(t.Material)
	rows := intake.Typed{}
	if t.Material == "" {
		material = t.addMaterial(book, rows)
	}
	rows["sheets.csv"] = []map[string]string{{"sheet": t.No, "material": string(material.Item), "material_rev": material.Rev,
		"heat": t.Heat, "slot": t.Slot, "certificate": t.Certificate}}
	return s.storeTyped(ctx, by, "sheets page", rows)
}

// addMaterial adds the lines of a typed sheet material, and of its route where
// the shop has none. Its number says what it is: SH-5005-3-3000X1500.
func (t TypedSheet) addMaterial(b *core.Book, rows intake.Typed) core.ItemRev {
	tight := func(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), "")) }
	ref := core.ItemRev{Item: core.ItemID(fmt.Sprintf("SH-%s-%s-%sX%s", tight(t.Grade), tight(t.Thickness), tight(t.Length), tight(t.Width))), Rev: "1"}
	if _, there := b.Items[ref]; there {
		return ref
	}
	route, known := versioned(b, core.Route{RouteRef: core.RouteRef{Name: "SHEET"}, Steps: []core.Step{
		{No: 10, Stage: "goods-in", Look: "Mark on the metal agrees with the paper: grade, size, heat"},
		{No: 20, Stage: "cut", Look: "Nest number on the screen is the nest on the sheet's paper"},
		{No: 30, Stage: "separate", Look: "One sheet at a time"},
	}})
	if !known {
		rows["routes.csv"] = routeRows(route)
	}
	rows["items.csv"] = []map[string]string{{
		"item": string(ref.Item), "rev": ref.Rev, "kind": string(core.SheetItem),
		"name":  fmt.Sprintf("sheet %s, %s mm, %s x %s", t.Grade, t.Thickness, t.Length, t.Width),
		"grade": t.Grade, "metal": t.Metal, "thickness_mm": t.Thickness, "length_mm": t.Length, "width_mm": t.Width,
		"route": route.Name, "route_version": strconv.Itoa(route.Version),
	}}
	return ref
}

// NestChoice is a part that may be cut from a material for somebody.
type NestChoice struct {
	Item  core.Revision
	Owner core.Owner // the zero Owner: stock
	Order core.Order
	Left  int // asked of it and on no nest and no pallet yet
}

// Key names the choice in a form.
func (c NestChoice) Key() string { return ItemKey(c.Item.ItemRev) + "|" + c.Owner.String() }

// mostNested is how many open orders a nest is chosen from.
const mostNested = 100

// NestChoices lists what may be cut from a material: for each open order the
// parts it still wants, oldest promise first, then every such part for stock.
func (s *Service) NestChoices(ctx context.Context, material core.Revision) ([]NestChoice, error) {
	book, err := s.Store.Book(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the catalogue: %w", err)
	}
	orders, err := s.Store.Docket(ctx, mostNested)
	if err != nil {
		return nil, fmt.Errorf("list the orders: %w", err)
	}
	fits := func(v core.Revision) bool {
		return v.Kind == core.PartItem && v.Grade == material.Grade && (v.Thickness == material.Thickness || material.Kind != core.SheetItem)
	}
	nos := make([]string, len(orders))
	for i, o := range orders {
		nos[i] = o.No
	}
	provided, err := s.Store.Provided(ctx, nos)
	if err != nil {
		return nil, fmt.Errorf("count what the orders have: %w", err)
	}
	var out []NestChoice
	for _, o := range orders {
		for _, l := range o.Lines {
			for item, asked := range explode(book, l.Item, l.Qty, 20) {
				if v := book.Items[item]; fits(v) {
					c := NestChoice{Item: v, Owner: l.Owner, Order: o.Order, Left: asked - provided[Provision{l.Owner, item}]}
					if c.Left > 0 {
						out = append(out, c)
					}
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b NestChoice) int {
		return cmp.Or(cmp.Compare(a.Order.Promised, b.Order.Promised), cmp.Compare(a.Key(), b.Key()))
	})
	for _, v := range PartsOf(book, core.PartItem) {
		if fits(v) {
			out = append(out, NestChoice{Item: v})
		}
	}
	return out, nil
}

// explode is how many of each item so many of one take, all levels of the bill.
func explode(b *core.Book, item core.ItemRev, qty, depth int) map[core.ItemRev]int {
	out := map[core.ItemRev]int{item: qty}
	if depth == 0 {
		return out
	}
	for _, c := range b.Items[item].Bill {
		for part, n := range explode(b, c.Item, c.Qty*qty, depth-1) {
			out[part] += n
		}
	}
	return out
}

// TypedPart is one line of a nest: a choice by its key, and how many.
type TypedPart struct{ Key, Qty string }

// AddNest stores a typed nest for a material.
func (s *Service) AddNest(ctx context.Context, by Caller, id string, material core.ItemRev, parts []TypedPart) (Slips, error) {
	if err := officeOnly(by); err != nil {
		return nil, err
	}
	no := strings.TrimSpace(id)
	w, err := s.Store.Load(ctx, core.Names{Nests: []string{no}}, "")
	if err != nil {
		return nil, fmt.Errorf("look for nest %s: %w", no, err)
	}
	if _, there := w.State.Nests[no]; there {
		return Slips{typedSlip("nests.csv", 0, "nest", "nest "+no+", which the shop has", "a number of its own")}, nil
	}
	if len(parts) == 0 {
		return Slips{typedSlip("nests.csv", 0, "qty", "a nest of nothing", "how many of at least one part")}, nil
	}
	rows := intake.Typed{}
	for i, p := range parts {
		item, rest, _ := strings.Cut(p.Key, "|")
		rev, owned, _ := strings.Cut(rest, "|")
		owner, err := core.ParseOwner(owned)
		if err != nil {
			return Slips{typedSlip("nests.csv", i, "order", "the owner "+strconv.Quote(owned), "an order line, or stock")}, nil
		}
		rows["nests.csv"] = append(rows["nests.csv"], map[string]string{
			"nest": id, "material": string(material.Item), "material_rev": material.Rev, "part": strconv.Itoa(i + 1),
			"item": item, "rev": rev, "order": owner.Order, "line": someNumber(owner.Line), "qty": p.Qty})
	}
	return s.storeTyped(ctx, by, "nests page", rows)
}
