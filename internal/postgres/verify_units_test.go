package postgres_test

import (
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/postgres"
)

// A unit whose parts are counted twice, and a consignment received twice: each
// is planted, found, and taken out again.
func TestVerifyFindsFaultsOfUnitsAndConsignments(t *testing.T) {
	s := newFloor(t)
	s.panelParts()
	unit := s.weldPanel()
	s.until(unit, "")
	code := core.PalletCode(s.lot(unit).Place.Ref)
	truck := core.ConsignmentCode(s.must(core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: []core.PalletCode{code}}, "DOCK-1", "P25").Ref)
	ship := core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: "paper", Consents: []core.Consent{
		{Order: panels.Order, Who: "site management", Means: "telephone", Reason: "the first"}}}
	if a := s.send(core.Command{Body: ship, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25"); a.Refusal != nil {
		t.Fatal(a.Refusal)
	}
	s.must(core.ReceiveAtSite{Consignment: truck}, "SITE-LARKFIELD", "P27")
	s.verified(t)
	part := string(s.inUnit(unit).ID)
	for _, c := range []struct {
		what, plant, undo string
		kind              postgres.FaultKind
		about             string
	}{
		{"a component counted twice, by its move",
			"INSERT INTO move SELECT seq, 99, lot, item, rev, from_kind, from_ref, to_kind, to_ref, qty FROM move WHERE to_kind = 'inside' AND lot = '" + part + "'",
			"DELETE FROM move WHERE n = 99", postgres.FaultCount, part},
		{"a component counted twice, in its row",
			"UPDATE lot SET qty = qty * 2, body = jsonb_set(body::jsonb, '{qty}', to_jsonb(qty * 2)) WHERE id = '" + part + "'",
			"UPDATE lot SET qty = qty / 2, body = jsonb_set(body::jsonb, '{qty}', to_jsonb(qty / 2)) WHERE id = '" + part + "'", postgres.FaultCount, part},
		{"a consignment received twice, by its moves",
			"INSERT INTO move SELECT seq, 99, lot, item, rev, from_kind, from_ref, to_kind, to_ref, qty FROM move WHERE from_kind = 'consignment'",
			"DELETE FROM move WHERE n = 99", postgres.FaultCount, string(unit)},
		{"a consignment received twice, by its event",
			`INSERT INTO event (seq, id, command_id, kind, v, happened_at, recorded_at, parts, device, payload, pallets, lots)
				SELECT seq + 100000, id || '.again', command_id, kind, v, happened_at, recorded_at, parts, device, jsonb_set(payload::jsonb, '{id}', to_jsonb(id || '.again')), pallets, lots
				FROM event WHERE kind = 'received'`,
			"DELETE FROM event WHERE seq > 100000", postgres.FaultEvent, ".again"},
		{"a consignment said not to have come yet",
			"UPDATE consignment SET body = body - 'received' - 'came'", "", postgres.FaultRow, string(truck)},
	} {
		t.Run(c.what, func(t *testing.T) {
			s.plant(t, c.plant)
			s.found(t, c.kind, c.about)
			if c.undo != "" {
				s.plant(t, c.undo)
				s.verified(t)
			}
		})
	}
}

// inUnit is a component inside a unit.
func (s *floor) inUnit(unit core.LotID) core.Lot {
	s.t.Helper()
	w := must(s.Load(s.t.Context(), core.Names{Lots: []core.LotID{unit}, Inside: []core.LotID{unit}}, ""))(s.t)
	for _, l := range core.Components(w.State, s.lot(unit)) {
		return l
	}
	s.t.Fatalf("nothing is inside %s", unit)
	return core.Lot{}
}

// What is inside a unit that was lent is its new owner's, and what was lost and
// replaced since is short no more.
func TestVerifyAddsUpUnitsThatWereLent(t *testing.T) {
	s := newFloor(t)
	s.panelParts()
	unit := s.lot(s.weldPanel())
	s.must(core.ChangeOwner{Pallet: core.PalletCode(unit.Place.Ref), Lot: unit.ID, Qty: 1,
		To: core.Owner{Order: "O-4101", Line: 1}, Reason: "they leave first"}, "", "P02")
	short := map[string]postgres.Shortage{}
	for _, x := range s.verified(t).Short {
		short[x.Owner.String()+" "+string(x.Item)] = x
	}
	same := func(what string, want postgres.Shortage) {
		t.Helper()
		got := short[what]
		got.Owner, got.Item = core.Owner{}, ""
		if got != want {
			t.Errorf("%s: %+v, want %+v", what, got, want)
		}
	}
	// The lender has the parts of one panel of two; the borrower one panel, of two
	// panels and two end walls, that hold 2 × 2 and 2 × 1 of the same skins.
	same("O-4105/1 SK-1200", postgres.Shortage{Asked: 4, Live: 2, Unmade: 2})
	same("O-4101/1 SK-1200", postgres.Shortage{Asked: 6, Live: 2, Unmade: 4})
	same("O-4101/1 WP-2400", postgres.Shortage{Asked: 2, Live: 1, Unmade: 1})
}
