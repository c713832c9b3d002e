package crowd

import (
	"fmt"
	"slices"

	"tagalong/internal/core"
)

// hold books a hold placed or lifted; which lots it named is found out when the
// state is next looked at.
func (k *Books) hold(h core.Hold) {
	if k.holds[h.ID] == nil {
		k.holds[h.ID] = &heldParts{}
	}
	k.holds[h.ID].open = h.Open()
}

// descend hands every hold on from the lots parts came from to the one they
// went to.
func (k *Books) descend(from []core.LotID, to core.LotID) {
	for _, h := range k.holds {
		if h.open && slices.ContainsFunc(from, func(id core.LotID) bool { return h.stops[id] }) {
			h.stops[to] = true
		}
	}
}

// Held: no part slips out of a hold, by whatever splits and moves, until
// the hold is lifted.
func (k *Books) Held(s *core.State) error {
	for id, h := range k.holds {
		if !h.open {
			continue
		}
		if h.stops == nil {
			h.stops = map[core.LotID]bool{}
			for _, l := range s.Lots {
				only := core.State{Holds: map[core.HoldID]core.Hold{id: s.Holds[id]}}
				if _, held := core.HeldBy(&only, l); held && l.Qty > 0 {
					h.stops[l.ID] = true
				}
			}
		}
		for lot := range h.stops {
			if l := s.Lots[lot]; l.Live() {
				if _, held := core.HeldBy(s, l); !held {
					return fmt.Errorf("lot %s slipped out of hold %s", lot, id)
				}
			}
		}
	}
	return nil
}
