package postgres_test

import (
	"errors"
	"maps"
	"reflect"
	"slices"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
)

// Two wall panels go from sheet to fitting site, worked by the real core on the
// real database. On the way the screens' questions are asked, and at the end
// record, state and a rebuild must agree.
func TestPanelsFromSheetToSite(t *testing.T) {
	s := newFloor(t)
	s.panelParts()
	short := must(s.LoadOrder(t.Context(), panels.Order))(t)
	if len(short.State.Orders) == 0 || len(short.State.Lots) < 3 {
		t.Fatalf("the order brings %d lots", len(short.State.Lots))
	}
	standing, err := s.AtStation(t.Context(), "WELD-1", app.Part{})
	here := standing.Here
	if err != nil || len(here) != 3 || here[0].Customer == "" || here[0].Parts == 0 || len(here[0].Names) != 1 {
		t.Fatalf("at the weld bench: %+v, %v", here, err)
	}

	ids := []core.LotID{s.weldPanel(), s.weldPanel()}
	s.refused("build-enough", core.Gather{Item: panel, Owner: panels}, "WELD-1")
	wall := must(s.Wall(t.Context()))(t)
	dress := wall.Groups[slices.IndexFunc(wall.Groups, func(g app.WallGroup) bool { return g.Pallets > 0 })]
	if dress.Pallets != 2 || len(dress.Ages) != 2 || dress.Oldest.IsZero() || wall.Today.Signed == 0 {
		t.Errorf("the wall: %+v", wall)
	}
	var pallets []core.PalletCode
	for _, id := range ids {
		s.until(id, "")
		pallets = append(pallets, core.PalletCode(s.lot(id).Place.Ref))
	}
	card := s.orderCard(panels.Order)
	if card.Made < 2 || card.Packed != 2 || card.Shipped != 0 {
		t.Errorf("docket before the truck: %+v", card)
	}
	s.verified(t)
	s.ordersAgree(t)
	s.must(core.PrintTraveller{Pallet: pallets[0]}, s.pallet(pallets[0]).State.Pallets[pallets[0]].Station)

	truck := core.ConsignmentCode(s.must(core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: pallets}, "DOCK-1", "P25").Ref)
	s.refused("order-short", core.Ship{Consignment: truck, Vehicle: "KV26 RNE"}, "DOCK-1", "P25")
	ship := core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: core.SignedOnPaper, Carriers: []core.CarrierCount{{Kind: core.ReturnStillage, Count: 2}},
		Consents: []core.Consent{{Order: panels.Order, Who: "site management", Means: "e-mail of today", Reason: "the panels are fitted first"}}}
	if a := s.send(core.Command{Body: ship, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25"); a.Refusal != nil {
		t.Fatalf("a part shipment its customer agreed to was refused: %v", a.Refusal)
	}
	s.ordersAgree(t)
	s.must(core.ReceiveAtSite{Consignment: truck}, "SITE-LARKFIELD", "P27")
	s.ordersAgree(t)
	s.snagged(truck)
	s.sentOn(truck, ids, pallets)
	if card := s.orderCard(panels.Order); card.Shipped != 2 {
		t.Errorf("docket after the truck: %+v", card)
	}
	wall = must(s.Wall(t.Context()))(t)
	if wall.Today.Shipped != 2 || wall.Today.Packed != 2 || wall.Today.Refused < 2 || wall.Today.Parts == 0 {
		t.Errorf("the day: %+v", wall.Today)
	}

	s.historiesOf(ids[0], pallets[0])
	report := s.verified(t)
	if i := slices.IndexFunc(report.Short, func(x postgres.Shortage) bool { return x.Owner == panels && x.Item == panel.Item }); i >= 0 {
		t.Errorf("both panels are at the site, and the report says %+v", report.Short[i])
	}
	before := s.dump()
	events, err := postgres.Rebuild(t.Context(), s.db.OwnerURL)
	if err != nil || events != report.Events {
		t.Fatalf("rebuilt from %d events of %d: %v", events, report.Events, err)
	}
	if after := s.dump(); before != after {
		t.Errorf("a rebuild changed the rows:\n%s\n%s", before, after)
	}
	s.must(core.ReportProblem{Lot: ids[0], Qty: 1, What: "dented"}, "SITE-LARKFIELD", "P27")
	if s.ordersAgree(t); len(must(s.OrderSnags(t.Context(), panels.Order, 500))(t)) == 0 {
		t.Error("what was found at the site is no snag of its order")
	}
	s.verified(t)
	s.steppedBack(t, "texts_as_written")
	s.steppedBack(t, "event_order", "event_order")
}

// snagged reports a snag of the order and closes it: it is listed under its order
// and told in that order's history, though no part is concerned.
func (s *floor) snagged(truck core.ConsignmentCode) {
	s.t.Helper()
	e := s.must(core.ReportSnag{Order: panels.Order, Consignment: truck, What: "wall scratched"}, "SITE-LARKFIELD", "P27")
	s.refused("snag-unknown", core.CloseSnag{Snag: "G-none", Done: "x"}, "SITE-LARKFIELD", "P27")
	s.must(core.PutRightSnag{Snag: core.SnagID(e.Ref), Done: "filled"}, "SITE-LARKFIELD", "P27")
	if got := must(s.SnagsOf(s.t.Context(), []string{panels.Order}, 10))(s.t); len(got) != 1 || !got[0].Open() || got[0].PutRight == nil || got[0].PutRight.Done != "filled" {
		s.t.Errorf("said to be put right: %+v", got)
	}
	s.must(core.CloseSnag{Snag: core.SnagID(e.Ref), Done: "painted"}, "SITE-LARKFIELD", "P27")
	s.refused("snag-closed", core.CloseSnag{Snag: core.SnagID(e.Ref), Done: "again"}, "SITE-LARKFIELD", "P27")
	got := must(s.SnagsOf(s.t.Context(), []string{panels.Order, "O-none"}, 10))(s.t)
	if len(got) != 1 || got[0].What != "wall scratched" || got[0].Done != "painted" || got[0].Closer != "P27" {
		s.t.Errorf("snags of the order: %+v", got)
	}
	if none := must(s.SnagsOf(s.t.Context(), []string{"O-none"}, 10))(s.t); len(none) > 0 {
		s.t.Errorf("of another order: %+v", none)
	}
	told := must(s.History(s.t.Context(), app.HistoryQuery{Order: panels.Order}))(s.t)
	for _, kind := range []core.EventKind{core.EvSnagReported, core.EvSnagPutRight, core.EvSnagClosed, core.EvShipped} {
		n := 0
		for _, e := range told {
			if e.Kind == kind {
				n++
			}
		}
		if n != 1 {
			s.t.Errorf("the order's history tells of %s %d times", kind, n)
		}
	}
	last := must(s.History(s.t.Context(), app.HistoryQuery{Order: panels.Order, Limit: 2}))(s.t)
	if len(last) != 2 || last[0].Kind != core.EvSnagPutRight || last[1].Kind != core.EvSnagClosed {
		s.t.Errorf("the latest two of the order: %+v", last)
	}
	if of := must(s.History(s.t.Context(), app.HistoryQuery{Order: panels.Order, Kind: core.EvSnagClosed}))(s.t); len(of) != 1 {
		s.t.Errorf("of one kind: %+v", of)
	}
}

// sentOn: both lots are at the site, and the record tells what took them there
// and on which pallets, by the consignment's code as by what the lots remember.
func (s *floor) sentOn(truck core.ConsignmentCode, ids []core.LotID, pallets []core.PalletCode) {
	s.t.Helper()
	there := must(s.AtSites(s.t.Context(), []core.StationID{"SITE-LARKFIELD", "SITE-FARNESS"}, 10))(s.t)
	if len(there) != 2 || !slices.Contains(ids, there[0].ID) || !slices.Contains(ids, there[1].ID) {
		s.t.Errorf("at the sites: %+v", there)
	}
	if none := must(s.AtSites(s.t.Context(), []core.StationID{"SITE-FARNESS"}, 10))(s.t); len(none) != 0 {
		s.t.Errorf("at the other site: %+v", none)
	}
	for what, got := range map[string][]app.Recorded{
		"by code":  must(s.Sent(s.t.Context(), []core.ConsignmentCode{truck}, nil))(s.t),
		"by event": must(s.Sent(s.t.Context(), nil, []core.EventID{s.lot(ids[0]).Facts[core.Fact{Name: core.IsShipped}].By}))(s.t),
	} {
		if len(got) != 1 || got[0].Kind != core.EvShipped || got[0].Ref != string(truck) {
			s.t.Errorf("sent, %s: %+v", what, got)
			continue
		}
		for i, id := range ids {
			if !slices.ContainsFunc(got[0].Effects, func(f core.Effect) bool {
				return f.Moved != nil && f.Moved.Lot == id && f.Moved.From == core.On(pallets[i])
			}) {
				s.t.Errorf("sent, %s: %s is not told to have left on %s", what, id, pallets[i])
			}
		}
	}
	if none := must(s.Sent(s.t.Context(), []core.ConsignmentCode{"CZZZZZZZ"}, []core.EventID{"none"}))(s.t); len(none) != 0 {
		s.t.Errorf("sent by nobody: %+v", none)
	}
}

func (s *floor) orderCard(no string) app.OrderCard {
	s.t.Helper()
	cards := must(s.Docket(s.t.Context(), 100))(s.t)
	i := slices.IndexFunc(cards, func(c app.OrderCard) bool { return c.No == no })
	if i < 0 {
		s.t.Fatalf("order %s isn't on the docket", no)
	}
	return cards[i]
}

// historiesOf: a panel's history begins with the sheets its parts were cut from
// and knows nothing of what else became of them.
func (s *floor) historiesOf(id core.LotID, code core.PalletCode) {
	s.t.Helper()
	lot := must(s.History(s.t.Context(), app.HistoryQuery{Lot: id}))(s.t)
	var kinds []core.EventKind
	for i, e := range lot {
		kinds = append(kinds, e.Kind)
		if i > 0 && lot[i-1].Seq >= e.Seq {
			s.t.Errorf("event %d comes after %d", e.Seq, lot[i-1].Seq)
		}
	}
	for _, k := range []core.EventKind{core.EvGoodsReceived, core.EvSeparated, core.EvGathered, core.EvAssembled, core.EvShipped, core.EvReceived} {
		if !slices.Contains(kinds, k) {
			s.t.Errorf("the panel's history lacks %s: %v", k, kinds)
		}
	}
	if n := len(slices.DeleteFunc(slices.Clone(kinds), func(k core.EventKind) bool { return k != core.EvAssembled })); n != 1 {
		s.t.Errorf("the history of one panel tells of %d weldings", n)
	}
	pallet := must(s.History(s.t.Context(), app.HistoryQuery{Pallet: code}))(s.t)
	if len(pallet) < 5 || pallet[0].Kind != core.EvAssembled {
		s.t.Errorf("the pallet's history: %d events", len(pallet))
	}
	order := must(s.History(s.t.Context(), app.HistoryQuery{Order: panels.Order}))(s.t)
	if len(order) < len(lot) {
		s.t.Errorf("the order's history has %d events, one panel's %d", len(order), len(lot))
	}
	last := must(s.History(s.t.Context(), app.HistoryQuery{Lot: id, Limit: 3}))(s.t)
	if len(last) != 3 || last[2].Seq != lot[len(lot)-1].Seq {
		s.t.Errorf("the last three of the history: %d events", len(last))
	}
	var assembled []app.Recorded
	for _, e := range pallet {
		if e.Kind == core.EvAssembled {
			assembled = append(assembled, e)
		}
	}
	if got := must(s.History(s.t.Context(), app.HistoryQuery{Pallet: code, Kind: core.EvAssembled}))(s.t); len(got) == 0 || len(got) == len(pallet) || !reflect.DeepEqual(got, assembled) {
		s.t.Errorf("of the pallet's history only the weldings: %d of %d", len(got), len(pallet))
	}
	s.historiesAgree(panels.Order)
}

// historiesAgree: the histories of all an order's lots at once are those of
// each alone, and those of several orders too.
func (s *floor) historiesAgree(no string) {
	s.t.Helper()
	w := must(s.LoadOrder(s.t.Context(), no))(s.t)
	ids := slices.Sorted(maps.Keys(w.State.Lots))
	for _, limit := range []int{2, 1000} {
		all := must(s.LotHistories(s.t.Context(), ids, limit))(s.t)
		events := 0
		for _, id := range ids {
			want := must(s.History(s.t.Context(), app.HistoryQuery{Lot: id, Limit: limit}))(s.t)
			if got := all[id]; !reflect.DeepEqual(got, want) && len(got)+len(want) > 0 {
				s.t.Errorf("at most %d events of %s: %d among others, %d alone", limit, id, len(got), len(want))
			}
			events += len(want)
		}
		if len(ids) < 5 || events < len(ids) {
			s.t.Errorf("%d lots with %d events", len(ids), events)
		}
	}
	if none := must(s.LotHistories(s.t.Context(), nil, 9))(s.t); len(none) != 0 {
		s.t.Errorf("of no lots: %v", none)
	}
}

// ordersAgree: several orders read at once are those read one by one, and what
// they have of each item is what their lots and nests add up to. It returns how
// many counts that were.
func (f *fixture) ordersAgree(t *testing.T) int {
	t.Helper()
	nos := orderNumbers(t, f)
	want := map[app.Provision]int{}
	worlds := must(f.LoadOrders(t.Context(), nos))(t)
	for i, no := range nos {
		w := must(f.LoadOrder(t.Context(), no))(t)
		if !reflect.DeepEqual(worlds[i].State, w.State) {
			t.Errorf("order %s read with others is another", no)
		}
		names := core.Names{Orders: []string{no}}
		for _, l := range w.State.Lots {
			if l.Owner.Order == no {
				names.Lots = append(names.Lots, l.ID)
			}
		}
		followed := must(f.Load(t.Context(), names, ""))(t).State
		followed.Nests = w.State.Nests
		if !reflect.DeepEqual(followed, w.State) {
			t.Errorf("order %s is not what its lots lead to", no)
		}
		f.orderReadAgrees(t, no, w)
		for _, l := range w.State.Lots {
			if l.Owner.Order == no && l.Place.Kind.Holds() && l.Qty > 0 {
				want[app.Provision{Owner: l.Owner, Item: l.Item}] += l.Qty
			}
		}
		for _, n := range w.State.Nests {
			for _, p := range n.Parts {
				if p.Owner.Order == no && !n.Separated {
					want[app.Provision{Owner: p.Owner, Item: p.Item}] += p.Qty
				}
			}
		}
	}
	got := must(f.Provided(t.Context(), nos))(t)
	maps.DeleteFunc(got, func(_ app.Provision, n int) bool { return n == 0 })
	if !maps.Equal(got, want) {
		t.Errorf("the orders have %v, want %v", got, want)
	}
	if few := must(f.Provided(t.Context(), nos[:1]))(t); len(few) >= len(got) {
		t.Errorf("one of %d orders has %d of the %d counts", len(nos), len(few), len(got))
	}
	if _, err := f.LoadOrders(t.Context(), append(nos, "O-0000")); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("an order there is not, among others: %v", err)
	}
	return len(got)
}

// orderReadAgrees: an order stands the same whether it is read with all that
// hangs on it or with what is its own, and so do the prints of its pallets.
func (f *fixture) orderReadAgrees(t testing.TB, no string, w core.World) {
	t.Helper()
	read := must(f.ReadOrder(t.Context(), no))(t)
	sheets := must(f.OpenSheets(t.Context()))(t)
	read.Now = w.Now
	for id, l := range w.State.Lots {
		if got, there := read.State.Lots[id]; there != (l.Owner.Order == no) || there && !reflect.DeepEqual(got, l) {
			t.Errorf("order %s: lot %s of %s is read: %v, as %+v; it is %+v", no, id, l.Owner, there, got, l)
		}
	}
	for id, p := range w.State.Problems {
		if got, there := read.State.Problems[id]; there != (w.State.Lots[p.Lot].Owner.Order == no) || there && !reflect.DeepEqual(got, p) {
			t.Errorf("order %s: problem %s of lot %s is read: %v", no, id, p.Lot, there)
		}
	}
	if !reflect.DeepEqual(read.State.Holds, w.State.Holds) || !reflect.DeepEqual(read.State.Nests, w.State.Nests) {
		t.Errorf("order %s is read with %d holds and %d nests, there are %d and %d", no, len(read.State.Holds), len(read.State.Nests), len(w.State.Holds), len(w.State.Nests))
	}
	got, want := must(app.NewOrderView(read, no, sheets))(t), must(app.NewOrderView(w, no, sheets))(t)
	if !reflect.DeepEqual(got, want) {
		t.Errorf("order %s stands otherwise:\n%+v\nread with all that hangs on it:\n%+v", no, got, want)
	}
	var lots []core.LotID
	for id, l := range w.State.Lots {
		if l.Owner.Order == no {
			lots = append(lots, id)
		}
	}
	of, on := must(f.OrderSnags(t.Context(), no, 500))(t), must(f.Snags(t.Context(), lots, time.Time{}, 500))(t)
	if !reflect.DeepEqual(of, on) {
		t.Errorf("order %s has %d snags, its lots have %d", no, len(of), len(on))
	}
	service := &app.Service{Store: f, Clock: f.clock.Now}
	prints := must(service.OrderPrints(t.Context(), no))(t)
	n := 0
	for _, p := range want.Pallets {
		if p.Gone.IsZero() {
			n++
			i := slices.IndexFunc(prints.Pallets, func(x app.PalletPrint) bool { return x.Code == p.Code })
			if i < 0 {
				t.Errorf("order %s: pallet %s is missing among its prints", no, p.Code)
				continue
			}
			var changes []string
			newest := 0
			if k := len(p.Prints); k > 0 {
				newest = p.Prints[k-1].No
				changes, _ = core.StalePrint(w.State, w.Book, p.PalletRow, newest)
			}
			if x := prints.Pallets[i]; x.Newest != newest || !slices.Equal(x.Changes, changes) || x.Place != p.Place {
				t.Errorf("order %s: pallet %s has print %d, %q, %s; want %d, %q, %s", no, p.Code, x.Newest, x.Changes, x.Place, newest, changes, p.Place)
			}
		}
	}
	if n != len(prints.Pallets) {
		t.Errorf("order %s has the prints of %d pallets, want %d", no, len(prints.Pallets), n)
	}
}

// dump is every row of the state as text.
func (s *floor) dump() string {
	s.t.Helper()
	var out string
	conn := connect(s.t, s.db.SuperURL)
	for _, table := range []string{"pallet", "lot", "lot_parent", "lot_heat", "lot_sheet", "lot_batch", "build", "consignment",
		"hold", "problem", "abrasive", "orders", "order_line", "nest", "snag"} {
		var text string
		if err := conn.QueryRow(s.t.Context(), "SELECT coalesce(string_agg(t::text, E'\\n' ORDER BY t::text), '') FROM tagalong."+table+" t").Scan(&text); err != nil {
			s.t.Fatal(err)
		}
		out += table + "\n" + text + "\n"
	}
	return out
}
