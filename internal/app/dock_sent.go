package app

import (
	"context"
	"slices"
	"time"

	"tagalong/internal/core"
)

// sending is what a consignment took along when it left, as its event says: the
// state only knows where the parts are now.
type sending struct {
	Event       core.EventID
	Consignment core.ConsignmentCode
	At          time.Time
	Lots        []sentLot
}

// sentLot is so many of a lot on the pallet they left on.
type sentLot struct {
	Pallet core.PalletCode
	Lot    core.LotID
	Qty    int
}

func newSending(e core.Event) sending {
	out := sending{Event: e.ID, Consignment: core.ConsignmentCode(e.Ref), At: e.Happened}
	for _, f := range e.Effects {
		if m := f.Moved; m != nil && m.From.Kind == core.OnPallet && m.To.Kind == core.InConsignment {
			out.Lots = append(out.Lots, sentLot{core.PalletCode(m.From.Ref), m.Lot, m.Qty})
		}
	}
	return out
}

func (s sending) lots() []core.LotID {
	var out []core.LotID
	for _, l := range s.Lots {
		out = append(out, l.Lot)
	}
	return out
}

// sendings reads what consignments took along, and what the events named did,
// oldest first.
func (s *Service) sendings(ctx context.Context, codes []core.ConsignmentCode, events []core.EventID) ([]sending, error) {
	found, err := s.Store.Sent(ctx, codes, events)
	if err != nil {
		return nil, err
	}
	var out []sending
	for _, e := range found {
		out = append(out, newSending(e.Event))
	}
	return out, nil
}

// ordersSent lists the orders of what was sent, in the order of the list.
func (s *Service) ordersSent(ctx context.Context, sent []sending) ([]string, error) {
	var ids []core.LotID
	for _, x := range sent {
		ids = append(ids, x.lots()...)
	}
	if len(ids) == 0 {
		return nil, nil
	}
	lots, err := s.Store.Lots(ctx, ids)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, l := range lots {
		if no := l.Owner.Order; no != "" && !slices.Contains(out, no) {
			out = append(out, no)
		}
	}
	slices.Sort(out)
	return out, nil
}

// sentBy is the event that sent a lot off; its fact keeps it, also where the
// lot was split since.
func sentBy(l core.Lot) core.EventID { return l.Facts[core.Fact{Name: core.IsShipped}].By }

// cameOn finds how a lot came to where it is, itself or as part of another.
func cameOn(all []sending, l core.Lot) (sending, sentLot) {
	i := slices.IndexFunc(all, func(s sending) bool { return s.Event == sentBy(l) })
	if i < 0 {
		return sending{}, sentLot{}
	}
	for _, x := range all[i].Lots {
		if x.Lot == l.ID || slices.Contains(l.Parents, x.Lot) {
			return all[i], x
		}
	}
	return all[i], sentLot{}
}

// consignment reads one consignment with its pallets; ErrNotFound where its
// code is not known. What has left is told as it left, whatever has become of
// the parts and the pallets since.
func (s *Service) consignment(ctx context.Context, c core.ConsignmentCode) (*ConsignmentView, error) {
	w, err := s.look(ctx, core.Names{Consignments: []core.ConsignmentCode{c}})
	if err != nil {
		return nil, err
	}
	if w.State == nil || w.State.Consignments[c].Code == "" {
		return nil, ErrNotFound
	}
	v := ConsignmentView{Consignment: w.State.Consignments[c]}
	v.SiteName = siteName(w.Book, v.Site)
	if v.Gone.IsZero() {
		for _, p := range v.Consignment.Pallets {
			v.Pallets = append(v.Pallets, newPalletView(w, p).OrderPallet)
		}
		return &v, nil
	}
	sent, err := s.sendings(ctx, []core.ConsignmentCode{c}, nil)
	if err != nil {
		return nil, err
	}
	for _, x := range sent {
		if v.Pallets, err = s.palletsSent(ctx, w, v.Consignment, x); err != nil {
			return nil, err
		}
	}
	return &v, nil
}

// siteName is a fitting site's name; a text that names no station stands for
// itself.
func siteName(b *core.Book, site string) string { return stationName(b, core.StationID(site)) }

// palletsSent are a consignment's pallets with what was on each when it left.
func (s *Service) palletsSent(ctx context.Context, w core.World, c core.Consignment, sent sending) ([]OrderPallet, error) {
	lots, err := s.Store.Lots(ctx, sent.lots())
	if err != nil {
		return nil, err
	}
	now := inZone(w.Now, w.Book)
	reach := Shipped
	if !c.Received.IsZero() {
		reach = Received
	}
	var out []OrderPallet
	for _, code := range c.Pallets {
		p := OrderPallet{PalletRow: core.PalletRow{Code: code, Kind: w.State.Pallets[code].Kind}, Gone: c.Gone, Reach: reach}
		p.Consignment, p.Place = c.Code, consignmentPlace(w.Book, c, now)
		for _, x := range sent.Lots {
			i := slices.IndexFunc(lots, func(l core.Lot) bool { return l.ID == x.Lot })
			if x.Pallet != code || i < 0 {
				continue
			}
			l := lots[i]
			l.Qty = x.Qty
			ol := orderLot(w, l)
			ol.Reach, ol.Held, ol.Next, ol.Stage = reach, false, nil, core.Stage{}
			p.Lots = append(p.Lots, ol)
		}
		out = append(out, p)
	}
	return out, nil
}
