package shopgen

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// unitDeed gathers or makes the next unit of an order whose components are all
// at its bench.
func (h *hands) unitDeed(o core.Order) deed {
	for _, code := range slices.Sorted(maps.Keys(h.state.Builds)) {
		b := h.state.Builds[code]
		if b.Owner.Order != o.No || b.Lot != "" || len(core.BuildShort(h.state, h.book, b)) > 0 || h.strange(b) {
			continue
		}
		return deed{about: string(code), do: func() error { return h.makeUnit(b) }}
	}
	for _, line := range o.Lines {
		asked := core.Asked(h.book, o, line.Line)
		for _, item := range sortedItems(asked) {
			at := h.bench(item, o.No)
			if at == "" || h.begun(line.Owner, item) >= asked[item] || !h.allThere(at, line.Owner, item) {
				continue
			}
			return deed{about: line.Owner.String() + item.Key(), do: func() error {
				h.pass(4, 10)
				_, err := h.do(at, core.Gather{Item: item, Owner: line.Owner})
				return err
			}}
		}
	}
	return deed{}
}

// kitDeed takes in the next bought item that an order's kits are to hold.
func (h *hands) kitDeed(o core.Order) deed {
	if !slices.Contains(h.cutting, o.No) {
		return deed{}
	}
	for _, line := range o.Lines {
		asked := core.Asked(h.book, o, line.Line)
		for _, item := range sortedItems(asked) {
			if h.book.Items[item].Kind != core.BoughtItem {
				continue
			}
			there := 0
			for _, l := range h.lotsOf(o.No) {
				if l.Owner == line.Owner && l.Item == item {
					there += l.Qty
				}
			}
			if lacks := asked[item] - there; lacks > 0 {
				return deed{about: line.Owner.String() + item.Key(), do: func() error { return h.goods(item, lacks, line.Owner) }}
			}
		}
	}
	return deed{}
}

// makeUnit signs a gathered unit, onto a pallet with its like where one stands
// at the bench.
func (h *hands) makeUnit(b core.Build) error {
	step, stage := h.firstStep(b.Item)
	who, err := h.who(b.Station, stage, step, []core.Lot{{Item: b.Item}})
	if err != nil {
		return err
	}
	inputs, err := h.inputs(stage, "")
	if err != nil {
		return err
	}
	h.pass(15, 30)
	_, err = h.do(b.Station, core.Assemble{Build: b.Code, To: h.like(b), Checks: h.readings(step), Inputs: inputs}, who)
	return err
}

// like is a pallet at a build's bench with units of the same item and order on
// it that are no further, and room for one more.
func (h *hands) like(b core.Build) core.PalletCode {
	for _, code := range h.palletsOf(b.Owner.Order) {
		row, lots := h.state.Pallets[code], h.lots(code)
		if row.Kind == core.PalletCarrier && row.Station == b.Station && row.Bound == "" && len(lots) < 2 &&
			!slices.ContainsFunc(lots, func(l core.Lot) bool { return l.Item != b.Item || l.Owner.Order != b.Owner.Order || len(l.Done) > 1 }) {
			return code
		}
	}
	return ""
}

// begun counts the units of an order line's item that were begun.
func (h *hands) begun(owner core.Owner, item core.ItemRev) int {
	n := 0
	for _, b := range h.state.Builds {
		if b.Owner == owner && b.Item == item {
			n++
		}
	}
	return n
}

// allThere reports whether everything a unit is made of lies finished at a
// station.
func (h *hands) allThere(at core.StationID, owner core.Owner, item core.ItemRev) bool {
	for _, c := range h.book.Items[item].Bill {
		n := 0
		for _, l := range h.lotsOf(owner.Order) {
			if l.Owner != owner || l.Item != c.Item || l.Place.Kind != core.OnPallet || h.unfinished(l) {
				continue
			}
			row := h.state.Pallets[core.PalletCode(l.Place.Ref)]
			if _, held := core.HeldBy(h.state, l); !held && row.Station == at && row.Bound == "" && !h.apart(row.Code) {
				n += l.Qty
			}
		}
		if n < c.Qty {
			return false
		}
	}
	return true
}

// bench is where an item is put together for an order; empty where it is not
// put together in the shop. Each order has one bench of those that do the work.
func (h *hands) bench(item core.ItemRev, no string) core.StationID {
	rev := h.book.Items[item]
	steps := h.book.Routes[rev.Route].Steps
	if len(rev.Bill) == 0 || len(steps) == 0 {
		return ""
	}
	if stage, ok := h.book.Table.Stage(steps[0].Stage); !ok || !slices.Contains(stage.Predicates, core.BuildComplete) {
		return ""
	}
	return h.benchFor(steps[0].Stage, no)
}

// benchFor is the bench of an order for a stage: the story has the first half
// of the weld benches, the others share the rest. What is not welded goes to
// the last station that does it.
func (h *hands) benchFor(stage core.StageName, no string) core.StationID {
	var all []core.Station
	for _, st := range h.book.Stations {
		if st.Does(stage) {
			all = append(all, st)
		}
	}
	slices.SortFunc(all, func(a, b core.Station) int {
		return cmp.Or(a.Order-b.Order, strings.Compare(string(a.ID), string(b.ID)))
	})
	switch {
	case len(all) == 0:
		return ""
	case stage != "weld":
		return all[len(all)-1].ID
	}
	rest := all[len(all)/2:]
	sum := 0
	for _, r := range no {
		sum += int(r)
	}
	return rest[sum%len(rest)].ID
}

// benchOf is the bench that a finished component goes to.
func (h *hands) benchOf(l core.Lot) core.StationID {
	if l.Owner.Stock() {
		return ""
	}
	stage, joins := h.joinedBy(l.Item)
	if !joins {
		return ""
	}
	return h.benchFor(stage, l.Owner.Order)
}

func sortedItems(m map[core.ItemRev]int) []core.ItemRev {
	return slices.SortedFunc(maps.Keys(m), func(a, b core.ItemRev) int { return strings.Compare(a.Key(), b.Key()) })
}
