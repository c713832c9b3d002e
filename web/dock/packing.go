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
func packingList(b *core.Book, shop app.Shop, p endpoint.Page, t app.DockTruck, packed map[core.LotID]app.PackedEntry) paper.PackingList {
	l := paper.PackingList{
		Code: ui.Spaced(string(t.Code)), Address: code.Address(shop.Address, code.Code(t.Code), 0),
		PrintedAt: p.Now, PrintedBy: p.Caller.Name, Shop: shop.Name, ShipTo: siteName(b, t.Site), Leaves: t.Day.Time(p.Now.Location()),
	}
	if !t.Gone.IsZero() {
		l.Left, l.Vehicle = t.Gone.In(p.Now.Location()), t.Vehicle
		l.Remarks = append(l.Remarks, leftRemarks(t)...)
	}
	if shop.Demo {
		l.Notice = "Invented data"
	}
	var customers, packaging []string
	for _, o := range t.Orders {
		if !slices.Contains(customers, o.Order.Customer) {
			customers = append(customers, o.Order.Customer)
		}
		if day := o.Order.Promised.Time(p.Now.Location()); l.Promised.IsZero() || day.Before(l.Promised) {
			l.Promised = day
		}
		if text := packedFor(o); text != "" {
			packaging = append(packaging, "Order "+o.Order.No+": "+text)
		}
		l.Lines = append(l.Lines, packedLines(o, t, packed)...)
		if went := wentOtherwise(o, t); len(went) > 0 {
			l.Remarks = append(l.Remarks, "Of order "+o.Order.No+", "+ui.List(went...)+" went on other trucks.")
		}
		if !t.Gone.IsZero() {
			continue
		}
		l.Missing = append(l.Missing, missingLines(o)...)
		if !o.Complete() {
			l.Remarks = append(l.Remarks, partRemark(o))
		}
	}
	l.Customer = strings.Join(customers, ", ")
	if t.Gone.IsZero() {
		l.Remarks = append(l.Remarks, "Of the shop's own, to come back: ______ stillages, ______ pallets, ______ crates.")
	}
	l.Packaging = strings.Join(packaging, ". ")
	for _, pal := range t.Load.Order {
		l.Packages = append(l.Packages, paper.Package{
			No: pal.No, Code: ui.Spaced(string(pal.Code)), Kind: labelled(t, pal), SizeMM: sizeText(pal), MassKg: pal.Mass, GrossKg: pal.Gross, Note: onIt(pal)})
	}
	return l
}

// labelled is what a carrier's label calls it: "pallet 3 of 7".
func labelled(t app.DockTruck, p app.StowedPallet) string {
	i := slices.IndexFunc(t.Pallets, func(x app.OrderPallet) bool { return x.Code == p.Code })
	return string(p.Kind) + " " + strconv.Itoa(i+1) + " of " + strconv.Itoa(len(t.Pallets))
}

// leftRemarks says how a load was handed over and by whose leave it went short.
func leftRemarks(t app.DockTruck) []string {
	out := []string{"Printed after it left: the list is of what left then."}
	for _, c := range t.Consents {
		out = append(out, sentence(app.ConsentText(c)))
	}
	switch t.HandedTo {
	case core.SignedOnPaper:
		out = append(out, "The driver signed the list printed at the dock.")
	case core.SignedOnGlass:
		out = append(out, "The driver signed on the dock’s tablet; the picture below is what was drawn then.")
	}
	if len(t.Out) > 0 {
		out = append(out, "Of the shop's own, to come back: "+core.CarriersText(t.Out)+".")
	}
	return out
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }

// partRemark says on a list printed before the truck leaves that it is a part
// shipment, and leaves room for the customer's word where none was given.
func partRemark(o app.DockOrder) string {
	if o.Order.Consent {
		return "Part shipment of order " + o.Order.No + ", rest to follow: the customer agrees to part shipments with the order."
	}
	return "Part shipment of order " + o.Order.No + ", rest to follow. Leaves only once the customer has agreed; who, by what and why stand in the record."
}

// sizeText is the plan of the largest part on a carrier as it was cut flat, and
// the smallest standard pallet it lies on. Folded parts are smaller.
func sizeText(p app.StowedPallet) string {
	if p.Length <= 0 || p.Width <= 0 {
		return ""
	}
	text := "parts to " + millimetres(p.Length) + " × " + millimetres(p.Width) + " mm flat"
	if on, ok := core.PalletFor(p.Length, p.Width); ok {
		return text + ", lies on " + millimetres(on.Length) + " × " + millimetres(on.Width)
	}
	return text + ", longer than standard pallets"
}

func millimetres(mm float64) string { return strconv.FormatFloat(mm, 'f', 0, 64) }

// packedLines are what of an order goes along, one line for each item.
func packedLines(o app.DockOrder, t app.DockTruck, packed map[core.LotID]app.PackedEntry) []paper.PackedLine {
	type key struct {
		line int
		item core.ItemRev
	}
	var order []key
	lines := map[key]*paper.PackedLine{}
	in, when := map[key][]string{}, map[key][]string{}
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
					Order: o.Order.No, Customer: o.Order.Customer, Line: strconv.Itoa(k.line), Item: string(l.Item.Item), Name: l.Name, Revision: l.Item.Rev,
					Asked: asked[core.Owner{Order: o.Order.No, Line: k.line}][l.Item],
				}
			}
			lines[k].Packed += l.Qty
			if c := ui.Spaced(string(pal.Code)); !slices.Contains(in[k], c) {
				in[k] = append(in[k], c)
			}
			if text := packedText(packed[l.ID]); text != "" && !slices.Contains(when[k], text) {
				when[k] = append(when[k], text)
			}
		}
	}
	var out []paper.PackedLine
	for _, k := range order {
		lines[k].In, lines[k].When = strings.Join(in[k], ", "), strings.Join(when[k], "; ")
		out = append(out, *lines[k])
	}
	return out
}

// packedText is "Tue 24 Nov 14:05 KU".
func packedText(e app.PackedEntry) string {
	if e.At.IsZero() {
		return ""
	}
	return strings.TrimSpace(e.At.Format("Mon 2 Jan 15:04") + " " + e.By)
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

// names says what lots are, those of one name together: units are lots of one.
func names(lots []app.OrderLot) string {
	var order, out []string
	qty := map[string]int{}
	for _, l := range lots {
		if qty[l.Name] == 0 {
			order = append(order, l.Name)
		}
		qty[l.Name] += l.Qty
	}
	for _, name := range order {
		out = append(out, app.Named(qty[name], name))
	}
	return strings.Join(out, ", ")
}

func siteName(b *core.Book, site string) string {
	if n := b.Stations[core.StationID(site)].Name; n != "" {
		return n
	}
	return site
}
