package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// A customer who takes less than was ordered leaves a surplus; it is taken to
// stock by somebody before the order asks for less, so that the order never has
// more than it asks for.
func TestAnOrderDoesNotAskForLessThanItHas(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	l := s.state.Lots[id]
	order := s.state.Orders[l.Owner.Order]
	less := func(by int) core.Enlist {
		o := order
		o.Lines = nil
		for _, line := range order.Lines {
			if line.Owner == l.Owner {
				line.Qty = l.Qty - by
			}
			o.Lines = append(o.Lines, line)
		}
		return core.Enlist{Orders: []core.Order{o}, Source: "orders.csv"}
	}
	r := s.refused("order-below-made", less(1), "")
	same(t, "asked", r.Params["asked"], "3")
	same(t, "have", r.Params["have"], "4")
	gone := less(1)
	gone.Orders[0].Lines = nil
	for _, line := range order.Lines {
		if line.Owner != l.Owner {
			gone.Orders[0].Lines = append(gone.Orders[0].Lines, line)
		}
	}
	s.refused("order-below-made", gone, "")

	s.must(core.ChangeOwner{Pallet: core.PalletCode(l.Place.Ref), Lot: id, Qty: 1, To: core.Owner{}, Reason: "the customer takes three"}, "BENCH-1", "P03")
	s.must(less(1), "")
	s.agrees()
}

func TestOrdersAndNestsAreSound(t *testing.T) {
	s := newShop(t)
	line := func(no string, n, qty int, item core.ItemRev) core.OrderLine {
		return core.OrderLine{Owner: core.Owner{Order: no, Line: n}, Item: item, Qty: qty}
	}
	order := func(lines ...core.OrderLine) core.Enlist {
		return core.Enlist{Orders: []core.Order{{No: "O-9", Customer: "Invented", Lines: lines}}}
	}
	nest := func(n core.Nest) core.Enlist { return core.Enlist{Nests: []core.Nest{n}} }
	part := core.NestPart{No: 1, Item: skin, Owner: panels, Qty: 1}
	nobody := core.ItemRev{Item: "NO-SUCH", Rev: "A"}
	with := func(change func(*core.NestPart)) core.NestPart {
		p := part
		change(&p)
		return p
	}
	for _, x := range []struct {
		code string
		body core.Enlist
	}{
		{"order-line-astray", order(line("O-8", 1, 1, skin))},
		{"order-line-astray", order(line("O-9", 1, 1, skin), line("O-9", 1, 2, skin))},
		{"order-line-astray", core.Enlist{Orders: []core.Order{{Lines: []core.OrderLine{line("", 1, 1, skin)}}}}},
		{"line-impossible", order(line("O-9", 1, 0, skin))},
		{"line-impossible", order(line("O-9", 1, -4, skin))},
		{"line-impossible", order(line("O-9", 1, 1<<40, skin))},
		{"item-unknown", order(line("O-9", 1, 1, nobody))},
		{"nest-unnamed", nest(core.Nest{Parts: []core.NestPart{part}})},
		{"item-unknown", nest(core.Nest{ID: "N-9", Material: nobody, Parts: []core.NestPart{part}})},
		{"item-unknown", nest(core.Nest{ID: "N-9", Parts: []core.NestPart{with(func(p *core.NestPart) { p.Item = nobody })}})},
		{"line-impossible", nest(core.Nest{ID: "N-9", Parts: []core.NestPart{part, part}})},
		{"line-impossible", nest(core.Nest{ID: "N-9", Parts: []core.NestPart{with(func(p *core.NestPart) { p.Qty = -1 })}})},
	} {
		s.refused(x.code, x.body, "")
	}
	s.must(order(line("O-9", 1, 1, skin)), "")
	s.must(nest(core.Nest{ID: "N-9", Material: sheet5005, Parts: []core.NestPart{part}}), "")
}
