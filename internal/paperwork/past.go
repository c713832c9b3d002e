package paperwork

import (
	"slices"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// past is who signed what on a lot and on those it descends from.
type past struct {
	lot    core.Lot
	events []app.Recorded // that did work, not taken back, oldest first
	waived []app.Recorded // with a rule set aside under concession
}

func newPast(l core.Lot, all []app.Recorded) past {
	p := past{lot: l}
	taken := map[core.EventID]bool{}
	for _, e := range all {
		if e.Corrects != "" {
			taken[e.Corrects] = true
		}
	}
	for _, e := range all {
		if taken[e.ID] {
			continue
		}
		switch e.Kind {
		case core.EvSigned, core.EvAssembled, core.EvSeparated, core.EvGoodsReceived:
			p.events = append(p.events, e)
		}
		if len(e.Waived) > 0 {
			if _, ours := p.count(e, true); ours {
				p.waived = append(p.waived, e)
			}
		}
	}
	return p
}

// signed is the last event that did a step on the lot, with how it fared. The
// stages before a part is born were done on its sheet, so they are found by
// their name; the others also by the step's number.
func (p past) signed(s core.Step) (app.Recorded, core.LotCount, bool) {
	onSheet := s.Stage == "goods-in" || s.Stage == "cut" || s.Stage == "separate"
	for _, e := range slices.Backward(p.events) {
		if e.Stage != s.Stage || !onSheet && e.Step != s.No {
			continue
		}
		if c, ours := p.count(e, !onSheet); ours {
			return e, c, true
		}
	}
	return app.Recorded{}, core.LotCount{}, false
}

// count is what an event says of the lot, or of one it descends from. Components
// have steps of their own: with sameItem they are not meant.
func (p past) count(e app.Recorded, sameItem bool) (core.LotCount, bool) {
	var found core.LotCount
	ours := false
	for _, c := range e.Lots {
		if c.Lot != p.lot.ID && !slices.Contains(p.lot.Parents, c.Lot) || sameItem && c.Item != p.lot.Item {
			continue
		}
		if c.Lot == p.lot.ID {
			return c, true
		}
		found, ours = c, true
	}
	return found, ours
}
