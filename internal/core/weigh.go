package core

import (
	"slices"
	"strconv"
	"strings"
)

// GrossMass is what a carrier weighs as it stands: parts, carrier and packaging.
type GrossMass struct {
	Pallet PalletCode `json:"pallet"`
	Kg     float64    `json:"kg"`
}

// mostGross is more than a fork-lift truck of a shop like this lifts, kg.
// Common practice, no source: it catches a slip of the finger.
const mostGross = 10_000

// GrossOf is what one of its carriers weighed, kg; 0 where it was not weighed,
// or something was put on it or taken off since.
func (c Consignment) GrossOf(p PalletCode) float64 {
	i := slices.IndexFunc(c.Gross, func(g GrossMass) bool { return g.Pallet == p })
	if i < 0 {
		return 0
	}
	return c.Gross[i].Kg
}

// weigh notes what carriers of a consignment that has not left weigh.
func (d *deciding) weigh(b Weigh) *Refusal {
	c, ok := d.s.Consignments[b.Consignment]
	switch {
	case !ok:
		return refuse("consignment-unknown", "consignment", string(b.Consignment))
	case !c.Gone.IsZero():
		return refuse("consignment-gone", "consignment", string(c.Code))
	case len(b.Gross) == 0:
		return refuse("gross-none", "consignment", string(c.Code))
	}
	var said []string
	for _, g := range b.Gross {
		kg := strconv.FormatFloat(g.Kg, 'f', -1, 64)
		switch {
		case !slices.Contains(c.Pallets, g.Pallet):
			return refuse("box-not-listed", "pallet", string(g.Pallet), "consignment", string(c.Code))
		case !(g.Kg > 0 && g.Kg <= mostGross):
			return refuse("gross-wrong", "pallet", string(g.Pallet), "kg", kg, "most", strconv.Itoa(mostGross))
		}
		c.Gross = append(ungross(c.Gross, g.Pallet), g)
		d.ev.Pallets = union(d.ev.Pallets, g.Pallet)
		said = append(said, string(g.Pallet)+" "+kg+" kg")
	}
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvWeighed, string(c.Code), strings.Join(said, ", ")
	d.emit(Effect{ConsignmentPut: &c})
	return nil
}

// changedLoad takes back what a carrier weighed once parts are put on it or taken
// off it, by whatever event, before it leaves.
func (d *deciding) changedLoad(m Move) {
	if m.To.Kind == InConsignment {
		return // it leaves as it was weighed
	}
	for _, at := range []Place{m.From, m.To} {
		code := PalletCode(at.Ref)
		c := d.s.Consignments[d.s.Pallets[code].Consignment]
		if at.Kind == OnPallet && c.GrossOf(code) != 0 && c.Gone.IsZero() {
			c.Gross = ungross(c.Gross, code)
			d.emit(Effect{ConsignmentPut: &c})
		}
	}
}

func ungross(all []GrossMass, p PalletCode) []GrossMass {
	return slices.DeleteFunc(slices.Clone(all), func(g GrossMass) bool { return g.Pallet == p })
}
