package shopgen

import (
	"fmt"

	"tagalong/internal/core"
)

// allOf is a sign-off of everything on a pallet, whatever it waits for: what
// somebody in a hurry sends.
func (f *floor) allOf(p core.PalletCode, name core.StageName) core.SignOff {
	c := core.SignOff{Pallet: p, Stage: name, PrintSeen: lastPrint(f.state.Pallets[p])}
	for _, l := range f.lots(p) {
		c.Lots = append(c.Lots, core.LotWork{Lot: l.ID, Good: l.Qty})
	}
	return c
}

// report reports one part of a lot; it goes to a quarantine pallet. Both
// travellers are printed.
func (f *floor) report(at core.StationID, l core.Lot, what string, who core.PersonID) error {
	from := core.PalletCode(l.Place.Ref)
	e, err := f.do(at, core.ReportProblem{Pallet: from, Lot: l.ID, Qty: 1, What: what}, who)
	if err != nil {
		return err
	}
	for _, code := range e.Pallets {
		if len(f.lots(code)) == 0 {
			continue
		}
		if err := f.print(code, at); err != nil {
			return err
		}
	}
	return nil
}

// splitOff moves every lot of an item from a pallet to a fresh one.
func (f *floor) splitOff(p core.PalletCode, at core.StationID, item core.ItemID) (core.PalletCode, error) {
	c := core.Divide{From: p, PrintSeen: lastPrint(f.state.Pallets[p])}
	for _, l := range f.lots(p) {
		if l.Item.Item == item {
			c.Picks = append(c.Picks, core.Pick{Lot: l.ID, Qty: l.Qty})
		}
	}
	f.pass(4, 8)
	e, err := f.do(at, c)
	if err != nil {
		return "", err
	}
	for _, code := range e.Pallets {
		if code != p {
			if err := f.print(p, at); err != nil {
				return "", err
			}
			return code, f.print(code, at)
		}
	}
	return "", fmt.Errorf("splitting %s made no pallet", p)
}
