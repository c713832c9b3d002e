package core

import (
	"cmp"
	"slices"
)

// Stowed is a carrier as it is to be placed on a truck.
type Stowed struct {
	Pallet PalletCode
	Kind   CarrierKind
	Drop   int     // unloaded as the first, the second, …
	Mass   float64 // kg, of the parts on it; 0: not known
}

// LoadOrder is the order in which carriers are placed on a truck: what is
// unloaded last goes on first; of one drop, pallets before boxes, which stack
// on them; of those the heaviest first, so that it stands low; what has no known
// mass after what has, to be weighed before anything is set on it. Codes decide
// between equals. Common practice, no source; how the load is spread and lashed
// is the driver's and the site rules' to say.
func LoadOrder(carriers []Stowed) []Stowed {
	out := slices.Clone(carriers)
	slices.SortFunc(out, func(a, b Stowed) int {
		return cmp.Or(cmp.Compare(b.Drop, a.Drop), cmp.Compare(stacks(a), stacks(b)),
			cmp.Compare(b.Mass, a.Mass), cmp.Compare(a.Pallet, b.Pallet))
	})
	return out
}

// stacks is 0 for what stands on the floor of the truck, 1 for what is set on it.
func stacks(s Stowed) int {
	if s.Kind == BoxCarrier {
		return 1
	}
	return 0
}
