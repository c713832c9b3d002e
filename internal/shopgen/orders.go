package shopgen

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// wish is an order somebody places; the customers are invented.
type wish struct {
	customer, site, reference string
	longHaul                  bool
	lines                     []core.Component
}

// order makes an order of a wish.
func (f *floor) order(no string, promised core.Date, w wish) core.Order {
	o := core.Order{No: no, Customer: w.customer, Site: w.site, Reference: w.reference, Promised: promised, LongHaul: w.longHaul}
	for i, l := range w.lines {
		o.Lines = append(o.Lines, core.OrderLine{Owner: core.Owner{Order: no, Line: i + 1}, Item: f.rev(l.Item.Item), Qty: l.Qty})
	}
	return o
}

// of is so many of an item, at the one revision the demo has of it.
func of(item core.ItemID, qty int) core.Component {
	return core.Component{Item: core.ItemRev{Item: item}, Qty: qty}
}

// yield is how much of a sheet's area the blanks of a nest may take up.
const yield = 0.82

// kerf is what a saw or laser takes off a bar with each piece, mm.
const kerf = 8

// nest lays the parts of an order on sheets and bars, the largest first, each
// on the first that has room. It counts areas and lengths: where the blanks lie
// is for the programmer of the laser.
func nest(b *core.Book, o core.Order) ([]core.Nest, error) {
	type blank struct {
		part, material core.ItemRev
		owner          core.Owner
		size           float64
	}
	var blanks []blank
	for _, line := range o.Lines {
		asked := core.Asked(b, o, line.Line)
		for _, item := range sortedItems(asked) {
			rev := b.Items[item]
			if rev.Kind != core.PartItem {
				continue
			}
			m, ok := materialFor(b, rev)
			if !ok {
				return nil, fmt.Errorf("no material for %s", item)
			}
			for range asked[item] {
				blanks = append(blanks, blank{item, m, line.Owner, sizeOf(b.Items[m], rev)})
			}
		}
	}
	slices.SortStableFunc(blanks, func(x, y blank) int {
		return cmp.Or(strings.Compare(x.material.Key(), y.material.Key()), cmp.Compare(y.size, x.size), strings.Compare(x.part.Key(), y.part.Key()))
	})
	var out []core.Nest
	var free []float64
	for _, x := range blanks {
		i := 0
		for i < len(out) && (out[i].Material != x.material || free[i] < x.size) {
			i++
		}
		if i == len(out) {
			out = append(out, core.Nest{ID: fmt.Sprintf("N-%s-%02d", strings.TrimPrefix(o.No, "O-"), i+1), Material: x.material})
			free = append(free, roomOn(b.Items[x.material]))
		}
		free[i] -= x.size
		n := &out[i]
		j := slices.IndexFunc(n.Parts, func(p core.NestPart) bool { return p.Item == x.part && p.Owner == x.owner })
		if j < 0 {
			n.Parts = append(n.Parts, core.NestPart{No: len(n.Parts) + 1, Item: x.part, Owner: x.owner})
			j = len(n.Parts) - 1
		}
		n.Parts[j].Qty++
	}
	return out, nil
}

// materialFor is the sheet or bar that a part is cut from: of its grade and
// thickness and, for a section, its width.
func materialFor(b *core.Book, part core.Revision) (core.ItemRev, bool) {
	var found []core.ItemRev
	for ref, m := range b.Items {
		if m.Grade != part.Grade || m.Thickness != part.Thickness {
			continue
		}
		if m.Kind == core.SheetItem || m.Kind == core.BarItem && m.Width == part.Width {
			found = append(found, ref)
		}
	}
	if len(found) == 0 {
		return core.ItemRev{}, false
	}
	return slices.MinFunc(found, func(x, y core.ItemRev) int { return strings.Compare(x.Key(), y.Key()) }), true
}

// sizeOf is what a part takes of its material: m² of a sheet, mm of a bar.
func sizeOf(material, part core.Revision) float64 {
	if material.Kind == core.BarItem {
		return part.Length + kerf
	}
	return part.Length * part.Width / 1e6
}

func roomOn(material core.Revision) float64 {
	if material.Kind == core.BarItem {
		return material.Length
	}
	return material.Length * material.Width / 1e6 * yield
}

// office signs somebody in to the office pages, as they do it.
func (f *floor) enlist(who core.PersonID, source string, orders ...core.Order) error {
	c := core.Enlist{Source: source, Orders: orders}
	for _, o := range orders {
		n, err := nest(f.book, o)
		if err != nil {
			return fmt.Errorf("order %s: %w", o.No, err)
		}
		c.Nests = append(c.Nests, n...)
	}
	desk, err := f.desk(who)
	if err != nil {
		return err
	}
	_, err = f.sendAs(desk, c, nil)
	return err
}
