package crowd

import (
	"fmt"
	"slices"

	"tagalong/internal/core"
)

// standsOn is a carrier on a truck.
type standsOn struct {
	truck   core.ConsignmentCode
	carrier core.PalletCode
}

// weighing books what carriers weigh, by the events alone: until the truck has
// left, whatever is put on a carrier or taken off it, and taking the carrier
// itself off, makes what the scale showed untrue.
func (k *Books) weighing(e core.Event) {
	forget := func(untrue func(standsOn) bool) {
		for on := range k.masses {
			if !k.gone[on.truck] && untrue(on) {
				delete(k.masses, on)
			}
		}
	}
	for _, f := range e.Effects {
		if c := f.ConsignmentPut; c != nil && !c.Gone.IsZero() {
			k.gone[c.Code] = true
		}
	}
	for _, f := range e.Effects {
		switch {
		case f.ConsignmentPut != nil && e.Kind == core.EvWeighed:
			for _, p := range e.Pallets {
				k.masses[standsOn{f.ConsignmentPut.Code, p}] = f.ConsignmentPut.GrossOf(p)
			}
		case f.PalletPut != nil:
			forget(func(on standsOn) bool { return on.carrier == f.PalletPut.Code && on.truck != f.PalletPut.Consignment })
		case f.Moved != nil:
			forget(func(on standsOn) bool { at := core.On(on.carrier); return f.Moved.From == at || f.Moved.To == at })
		}
	}
}

// Weighed: a carrier's mass is told as long as it is true, and no longer.
func (k *Books) Weighed(s *core.State) error {
	told := 0
	for _, c := range s.Consignments {
		for _, g := range c.Gross {
			told++
			if kg, so := k.masses[standsOn{c.Code, g.Pallet}]; !so || kg != g.Kg || !slices.Contains(c.Pallets, g.Pallet) {
				return fmt.Errorf("consignment %s says that %s weighs %v kg, the scale says %v", c.Code, g.Pallet, g.Kg, kg)
			}
		}
	}
	if told != len(k.masses) {
		return fmt.Errorf("%d carriers are said to weigh something, %d were weighed as they stand", told, len(k.masses))
	}
	return nil
}

// weigh puts carriers of a truck on the scale.
func (w *Walk) weigh() {
	anyTruck := w.UpTo(9, "any truck") == 9
	c := w.consignment(func(c core.Consignment) bool { return anyTruck || c.Gone.IsZero() && len(c.Pallets) > 0 })
	b := core.Weigh{Consignment: c}
	for range 1 + w.UpTo(1, "carriers") {
		kg := float64(1+w.UpTo(999, "kg")) / 2
		if w.UpTo(9, "misread") == 9 {
			kg = one(w, []float64{0, -kg, 100 * kg, 10_000.5}, "as")
		}
		b.Gross = append(b.Gross, core.GrossMass{Pallet: one(w, w.State().Consignments[c].Pallets, "carrier"), Kg: kg})
	}
	w.at("weigh", b, "DOCK-1", "P25")
}
