package shopgen

import (
	"maps"
	"slices"

	"tagalong/internal/core"
)

// flaws makes a weld or a fold turn out bad now and then.
func (h *hands) flaws(code core.PalletCode, step core.Step) []flaw {
	why := map[core.StageName]string{"weld-inspect": "undercut along the inside seam", "fold": "flange out by more than a millimetre"}[step.Stage]
	often := map[core.StageName]int{"weld-inspect": h.flawed, "fold": h.flawed / 10}[step.Stage]
	if why == "" {
		return nil
	}
	chance := h.rng.IntN(1000) < often
	for _, l := range h.lots(code) {
		if step.Stage == "fold" && l.Item.Item == h.spoils {
			h.spoils = ""
			return []flaw{{l.Item.Item, 1, why}}
		}
		if !chance {
			continue
		}
		if _, waits := h.waitsFor(l, step.Stage); waits && (step.Stage == "fold") == (l.Qty > 1) {
			return []flaw{{l.Item.Item, 1, why}}
		}
	}
	return nil
}

// problemDeeds says what becomes of what was found on an order: a weld is made
// again, a part is cut again.
func (h *hands) problemDeeds(no string) []deed {
	var out []deed
	for _, id := range slices.Sorted(maps.Keys(h.state.Problems)) {
		p := h.state.Problems[id]
		l := h.state.Lots[p.Lot]
		if !p.Open() || l.Owner.Order != no || l.Place.Kind == core.OnPallet && h.apart(core.PalletCode(l.Place.Ref)) {
			continue
		}
		c, ok := h.disposition(p, l)
		if !ok {
			continue
		}
		out = append(out, deed{about: string(p.ID), do: func() error {
			h.pass(10, 25)
			_, err := h.do("INSPECT-1", c, quality)
			return err
		}})
	}
	return out
}

// quality says what becomes of what is not as it should be.
const quality core.PersonID = "P03"

func (h *hands) disposition(p core.Problem, l core.Lot) (core.Dispose, bool) {
	if p.Stage != "weld-inspect" {
		return core.Dispose{Problem: p.ID, Disposition: core.DisposeRemake, Reason: "not to be put right: cut it again"}, p.Stage == "fold"
	}
	for _, s := range h.book.Routes[l.Route].Steps {
		if s.Stage == "weld-inspect" {
			return core.Dispose{Problem: p.ID, Disposition: core.DisposeRework, Reason: "grind out and weld again, WPS 12",
				Route: core.RouteRef{Name: "WELD-REPAIR", Version: 1}, Rejoin: s.No}, true
		}
	}
	return core.Dispose{}, false
}
