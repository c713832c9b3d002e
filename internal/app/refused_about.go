package app

import (
	"slices"

	"tagalong/internal/core"
)

// longestFiled is how long, in bytes, a name may be that a refusal is filed under.
// Longer ones, which a refusal may well be about, name nothing.
const longestFiled = 200

// Filed is what a refusal names, each once: what it is found by later, beside
// the owners of the lots and the pallets they are on. None is empty.
type Filed struct {
	Pallets []core.PalletCode
	Lots    []core.LotID
	Orders  []string
}

// Filed is what the refusal is filed under.
func (r RefusalRow) Filed() Filed {
	of := func(param string) string { return r.Refusal.Params[param] }
	return Filed{
		Pallets: names(append(slices.Clone(r.Pallets), core.PalletCode(of("pallet")))),
		Lots:    names(append(slices.Clone(r.Refusal.Lots), core.LotID(of("lot")))),
		Orders:  names([]string{of("order")}),
	}
}

// names sorts, and drops doubles and what can't be the name of anything.
func names[T ~string](in []T) []T {
	in = slices.DeleteFunc(in, func(x T) bool { return x == "" || len(x) > longestFiled })
	slices.Sort(in)
	return slices.Compact(in)
}
