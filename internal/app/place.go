package app

import (
	"context"
	"strings"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

// Place is what a sign names, found in this shop.
type Place struct {
	Station core.Station
	Slot    string // of a store; empty: the station itself
}

// Named is the place as a sentence has it: "weld bench 1", "slot C4 of the
// pallet store".
func (p Place) Named() string {
	if p.Slot != "" {
		return "slot " + p.Slot + " of " + placeName(p.Station.Name)
	}
	return placeName(p.Station.Name)
}

// ReadPlace finds what a text names that is no code: a sign's address, a
// station's own id, or at a store the name of one of its slots. Found is false
// for any other text. The error is a *Refused for a sign of no place here.
func (s *Service) ReadPlace(ctx context.Context, at core.StationID, text string) (p Place, found bool, err error) {
	b, err := s.Store.Book(ctx)
	if err != nil {
		return p, false, err
	}
	signs := code.ReadPlaces(text)
	for _, sign := range signs {
		st, ok := stationNamed(b, sign.Station)
		switch {
		case !ok:
		case sign.Slot == "" || st.Store():
			return Place{st, core.SlotName(sign.Slot)}, true, nil
		default:
			return p, false, Refuse("sign-no-slot", "station", st.Name, "slot", Shorten(sign.Slot, 40))
		}
	}
	if len(signs) > 0 {
		return p, false, Refuse("sign-unknown", "sign", Shorten(signs[0].Station, 40))
	}
	if st, ok := stationNamed(b, strings.TrimSpace(text)); ok {
		return Place{Station: st}, true, nil
	}
	name, ok := code.PlaceName(text)
	if st := b.Stations[at]; ok && st.ID != "" && st.Store() {
		return Place{st, core.SlotName(name)}, true, nil
	}
	return p, false, nil
}

// stationNamed finds a station by its id, whatever the case: signs are printed
// in capitals.
func stationNamed(b *core.Book, id string) (core.Station, bool) {
	if st, ok := b.Stations[core.StationID(id)]; ok {
		return st, true
	}
	for _, st := range b.Stations {
		if strings.EqualFold(string(st.ID), id) {
			return st, true
		}
	}
	return core.Station{}, false
}

// PlacePage is what stands at a station, or in one slot of it.
type PlacePage struct {
	Place
	Standing
	Book *core.Book
}

// PlacePage reads what stands at a place. The error is ErrNotFound for a
// station that there is not.
func (s *Service) PlacePage(ctx context.Context, id core.StationID, slot string) (PlacePage, error) {
	b, err := s.Store.Book(ctx)
	if err != nil {
		return PlacePage{}, err
	}
	st, ok := b.Stations[id]
	if !ok {
		return PlacePage{}, ErrNotFound
	}
	p := PlacePage{Place: Place{st, core.SlotName(slot)}, Book: b}
	if p.Slot != "" {
		p.Here, err = s.Store.InSlot(ctx, id, p.Slot)
		p.HereAll = len(p.Here)
	} else {
		p.Standing, err = s.Store.AtStation(ctx, id, Part{})
	}
	return p, err
}

// HandOver is what handing a pallet over from the caller's station to another
// would be refused with; nil where it may go. Questions are left to be asked
// when it is done.
func (s *Service) HandOver(ctx context.Context, caller Caller, pallet core.PalletCode, to core.StationID) (*core.Refusal, error) {
	body := core.HandOver{Pallet: pallet, To: to}
	w, err := s.World(ctx, body.Names(), caller.Station)
	if err != nil {
		return nil, err
	}
	r := core.Decide(w, core.Command{Station: caller.Station, Happened: w.Now, Body: body}).Refusal
	if r != nil && r.Ask {
		return nil, nil
	}
	return r, nil
}
