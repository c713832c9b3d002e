package dock

import (
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// packingList is what the packing list of a consignment says.
func packingList(b *core.Book, shop app.Shop, p endpoint.Page, t app.DockTruck) paper.PackingList {
	l := paper.PackingList{
		Code: ui.Spaced(string(t.Code)), Address: code.Address(shop.Address, code.Code(t.Code), 0),
		PrintedAt: p.Now, PrintedBy: p.Caller.Name, Shop: shop.Name, ShipTo: siteName(b, t.Site), Leaves: t.Day.Time(p.Now.Location()),
	}
	if !t.Gone.IsZero() {
		l.Left, l.Vehicle = t.Gone.In(p.Now.Location()), t.Vehicle
		l.Remarks = append(l.Remarks, "Printed after it left: the list is of what left then, and does not tell what was missing.")
	}
	if shop.Demo {
		l.Notice = "Invented data"
	}
	var customers []string
	for _, o := range t.Orders {
		if !slices.Contains(customers, o.Order.Customer) {
			customers = append(customers, o.Order.Customer)
		}
		if day := o.Order.Promised.Time(p.Now.Location()); l.Promised.IsZero() || day.Before(l.Promised) {
			l.Promised = day
		}
		if o.Order.LongHaul {
			l.Packaging = "long haul: corner posts, wrap, straps"
		}
		l.Lines = append(l.Lines, packedLines(o, t)...)
		if went := wentOtherwise(o, t); len(went) > 0 {
			l.Remarks = append(l.Remarks, "Of order "+o.Order.No+", "+ui.List(went...)+" went on other trucks.")
		}
		if !t.Gone.IsZero() {
			continue
		}
		l.Missing = append(l.Missing, missingLines(o)...)
		if !o.Complete() && o.Order.Consent {
			l.Remarks = append(l.Remarks, "The customer of order "+o.Order.No+" agrees to a part shipment.")
		}
	}
	l.Customer = strings.Join(customers, ", ")
	for _, pal := range t.Pallets {
		l.Packages = append(l.Packages, paper.Package{Code: ui.Spaced(string(pal.Code)), Kind: string(pal.Kind), MassKg: massOf(b, pal.Lots), Note: names(pal.Lots)})
	}
	return l
}

// packedLines are what of an order goes along, one line for each item.
func packedLines(o app.DockOrder, t app.DockTruck) []paper.PackedLine {
	type key struct {
		line int
		item core.ItemRev
	}
	var order []key
	lines := map[key]*paper.PackedLine{}
	in := map[key][]string{}
	asked := askedOf(o)
	for _, pal := range t.Pallets {
		for _, l := range pal.Lots {
			if l.Owner.Order != o.Order.No {
				continue
			}
			k := key{l.Owner.Line, l.Item}
			if lines[k] == nil {
				order = append(order, k)
				lines[k] = &paper.PackedLine{
					Order: o.Order.No, Line: strconv.Itoa(k.line), Item: string(l.Item.Item), Name: l.Name, Revision: l.Item.Rev,
					Asked: asked[core.Owner{Order: o.Order.No, Line: k.line}][l.Item],
				}
			}
			lines[k].Packed += l.Qty
			if c := ui.Spaced(string(pal.Code)); !slices.Contains(in[k], c) {
				in[k] = append(in[k], c)
			}
		}
	}
	var out []paper.PackedLine
	for _, k := range order {
		lines[k].In = strings.Join(in[k], ", ")
		out = append(out, *lines[k])
	}
	return out
}

// wentOtherwise lists what of an order is gone that is not on this truck.
func wentOtherwise(o app.DockOrder, t app.DockTruck) []string {
	here := map[core.ItemRev]int{}
	if !t.Gone.IsZero() {
		for _, p := range t.Pallets {
			for _, l := range p.Lots {
				if l.Owner.Order == o.Order.No {
					here[l.Item] += l.Qty
				}
			}
		}
	}
	var out []string
	var walk func(n app.Need)
	walk = func(n app.Need) {
		if n.Delivered {
			for _, p := range n.Parts {
				walk(p)
			}
			return
		}
		took := min(here[n.Item], n.Shipped) // an item may stand on several lines
		here[n.Item] -= took
		if went := n.Shipped - took; went > 0 {
			out = append(out, app.Named(went, n.Name))
		}
	}
	for _, n := range o.Needs {
		walk(n)
	}
	return out
}

// askedOf counts what each line of an order delivers.
func askedOf(o app.DockOrder) map[core.Owner]map[core.ItemRev]int {
	out := map[core.Owner]map[core.ItemRev]int{}
	for _, n := range o.Needs {
		owner := core.Owner{Order: o.Order.No, Line: n.Line}
		out[owner] = map[core.ItemRev]int{}
		var walk func(n app.Need)
		walk = func(n app.Need) {
			if !n.Delivered {
				out[owner][n.Item] += n.Asked
				return
			}
			for _, p := range n.Parts {
				walk(p)
			}
		}
		walk(n)
	}
	return out
}

func missingLines(o app.DockOrder) []paper.MissingLine {
	var out []paper.MissingLine
	for _, m := range o.Missing {
		var where []string
		for _, w := range m.Where {
			where = append(where, w.String())
		}
		out = append(out, paper.MissingLine{Order: o.Order.No, Item: m.Name, Count: m.Count, Where: strings.ReplaceAll(strings.Join(where, "; "), ":; ", ": ")})
	}
	return out
}

// massOf is the mass of lots in kilograms; 0 where one of them is not known.
func massOf(b *core.Book, lots []app.OrderLot) float64 {
	sum := 0.0
	for _, l := range lots {
		each := app.MassOf(b, l.Item)
		if each == 0 {
			return 0
		}
		sum += each * float64(l.Qty)
	}
	return sum
}

func names(lots []app.OrderLot) string {
	var out []string
	for _, l := range lots {
		out = append(out, app.Named(l.Qty, l.Name))
	}
	return strings.Join(out, ", ")
}

func siteName(b *core.Book, site string) string {
	if n := b.Stations[core.StationID(site)].Name; n != "" {
		return n
	}
	return site
}
