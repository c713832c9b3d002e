package postgres

import (
	"slices"

	"tagalong/internal/core"
)

// lends are the kinds of event that take parts from one owner to another: by
// themselves, or by taking back one that did.
var lends = []core.EventKind{core.EvOwnerChanged, core.EvGathered, core.EvJoinedLate, core.EvTakenApart, core.EvReceived, core.EvTurnedUp, core.EvCorrected}

// owners checks that parts which become another lot stay their owner's, unless
// the event is one that lends them. What is beyond an owner's need goes to stock
// where it is cut or counted, which is no descent.
func (v *verification) owners(e core.Event) {
	if v.broken || slices.Contains(lends, e.Kind) {
		return
	}
	type share struct {
		item  core.ItemRev
		owner core.Owner
	}
	sums := map[share]int{}
	born := map[core.LotID]core.Owner{}
	ownerOf := func(id core.LotID) core.Owner {
		if owner, fresh := born[id]; fresh {
			return owner
		}
		return v.state.Lots[id].Owner
	}
	var order []share
	for _, f := range e.Effects {
		if f.LotBorn != nil {
			born[f.LotBorn.ID] = f.LotBorn.Owner
		}
		if x := f.LotSplit; x != nil {
			born[x.Lot] = ownerOf(x.Of)
		}
		m := f.Moved
		if m == nil || m.From.Kind != core.Descent && m.To.Kind != core.Descent {
			continue
		}
		s := share{m.Item, ownerOf(m.Lot)}
		if !slices.Contains(order, s) {
			order = append(order, s)
		}
		if m.From.Kind == core.Descent {
			sums[s] += m.Qty
		} else {
			sums[s] -= m.Qty
		}
	}
	for _, s := range order {
		if sums[s] != 0 {
			v.fault(FaultOwner, string(e.ID), "%+d of %s for %s, in an event of kind %s that lends nothing", sums[s], s.item, s.owner, e.Kind)
		}
	}
}
