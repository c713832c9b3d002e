package crowd

import (
	"fmt"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// printing books what a pallet carried when its newest traveller was printed.
func (k *Books) printing(e core.Event) {
	if e.Kind != core.EvPrinted {
		return
	}
	for _, p := range e.Pallets {
		k.prints[p] = k.carries(p)
	}
}

// carries counts the lots that rest on a pallet.
func (k *Books) carries(p core.PalletCode) map[core.LotID]int {
	out := map[core.LotID]int{}
	for id, l := range k.lots {
		if l.qty > 0 && l.at == core.On(p) {
			out[id] = l.qty
		}
	}
	return out
}

// Printed: a traveller is called out of date once its pallet carries something
// else, and not before; a lot's route may change where it lies.
func (k *Books) Printed(s *core.State) error {
	stale := core.StalePrints(s, k.book)
	for p, was := range k.prints {
		is := k.carries(p)
		changed := len(is) != len(was)
		for id, n := range was {
			changed = changed || is[id] != n
		}
		said := slices.DeleteFunc(slices.Clone(stale[p]), func(c string) bool { return strings.HasSuffix(c, ": its route changed") })
		if changed != (len(said) > 0) {
			return fmt.Errorf("the traveller of %s says %v, there is %v, and of changes %q is told", p, was, is, said)
		}
	}
	return nil
}

func (w *Walk) print() {
	l := w.lot(nil)
	code := core.PalletCode(l.Place.Ref)
	w.at("print", core.PrintTraveller{Pallet: code}, w.State().Pallets[code].Station)
}

// handOver sends a pallet on to where its next step is done, or anywhere.
func (w *Walk) handOver() {
	l := w.lot(nil)
	code := core.PalletCode(l.Place.Ref)
	to := one(w, keys(w.Book.Stations), "to")
	if next := core.NextSteps(w.Book, l); len(next) > 0 && w.now("where its next step is done") {
		to = StationFor(w.Book, next[0].Stage, w.Book.Items[l.Item].Metal)
	}
	if w.UpTo(3, "without a print") < 3 {
		w.at("print", core.PrintTraveller{Pallet: code}, w.State().Pallets[code].Station)
	}
	w.at("hand-over", core.HandOver{Pallet: code, To: to}, w.State().Pallets[code].Station)
}
