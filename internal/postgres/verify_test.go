package postgres_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/postgres"
)

// plant changes what is recorded behind everybody's back, as only a superuser
// who turns the triggers off can.
func (f *fixture) plant(t testing.TB, sql string, args ...any) {
	t.Helper()
	conn := connect(t, f.db.SuperURL)
	if _, err := conn.Exec(t.Context(), "SET search_path = tagalong; SET session_replication_role = replica"); err != nil {
		t.Fatal(err)
	}
	tag, err := conn.Exec(t.Context(), sql, args...)
	if err != nil {
		t.Fatal(err)
	}
	if tag.RowsAffected() == 0 {
		t.Fatalf("nothing was planted by %s", sql)
	}
}

// found expects verify to find a fault of a kind about something.
func (f *fixture) found(t testing.TB, kind postgres.FaultKind, about string) {
	t.Helper()
	_, faults, err := f.Verify(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(faults, func(x postgres.Fault) bool { return x.Kind == kind && strings.Contains(x.Ref, about) }) {
		t.Errorf("no fault of kind %s about %s among %d: %v", kind, about, len(faults), faults)
	}
}

func TestVerifyFindsPlantedFaults(t *testing.T) {
	for _, c := range []struct {
		what, sql string
		kind      postgres.FaultKind
		about     string
	}{
		{"a lost move", "DELETE FROM move WHERE lot = 'cut/1'", postgres.FaultCount, "cut/1"},
		{"a lost move, seen from its event", "DELETE FROM move WHERE lot = 'cut/1'", postgres.FaultRecord, "cut.1"},
		{"a doubled move", `INSERT INTO move SELECT seq, 9, lot, item, rev, from_kind, from_ref, to_kind, to_ref, qty
			FROM move WHERE lot = 'cut/1'`, postgres.FaultCount, "cut/1"},
		{"a doubled move, seen from its event", `INSERT INTO move SELECT seq, 9, lot, item, rev, from_kind, from_ref, to_kind, to_ref, qty
			FROM move WHERE lot = 'cut/1'`, postgres.FaultRecord, "cut.1"},
		{"a lot below zero: a move that takes more than there is", "UPDATE move SET qty = 99 WHERE lot = 'born/1' AND to_kind = 'descent'", postgres.FaultCount, "born/1"},
		{"an edited count", "UPDATE lot SET qty = qty + 1, body = jsonb_set(body::jsonb, '{qty}', to_jsonb(qty + 1)) WHERE id = 'cut/1'", postgres.FaultCount, "cut/1"},
		{"an edited count, seen from the events", "UPDATE lot SET qty = qty - 1 WHERE id = 'cut/1'", postgres.FaultRow, "cut/1"},
		{"a lot below zero, said by its event", "UPDATE event SET payload = jsonb_set(payload::jsonb, '{effects,1,moved,qty}', '99') WHERE id = 'cut.1'", postgres.FaultEvent, "cut.1"},
		{"an edited owner", `UPDATE lot SET owner_order = 'O-9', owner_line = 1,
			body = jsonb_set(body::jsonb, '{owner}', '{"order": "O-9", "line": 1}') WHERE id = 'cut/1'`, postgres.FaultRow, "cut/1"},
		{"an edited owner, in its event too", `WITH e AS (UPDATE event SET payload = jsonb_set(payload::jsonb, '{effects,0,lotBorn,owner}', '{"order": "O-9", "line": 1}') WHERE id = 'cut.1')
			UPDATE lot SET owner_order = 'O-9', owner_line = 1, body = jsonb_set(body::jsonb, '{owner}', '{"order": "O-9", "line": 1}') WHERE id = 'cut/1'`,
			postgres.FaultOwner, "cut.1"},
		{"a lot carried elsewhere without a move", "UPDATE lot SET place_ref = 'PELSEWHR' WHERE id = 'cut/1'", postgres.FaultCount, "cut/1"},
		{"a lost row", "DELETE FROM lot WHERE id = 'cut/1'", postgres.FaultRow, "cut/1"},
		{"a lost row, seen from the moves", "DELETE FROM lot WHERE id = 'cut/1'", postgres.FaultCount, "cut/1"},
		{"a row from nowhere", "INSERT INTO abrasive VALUES ('B9', '{\"id\": \"B9\", \"touched\": null}')", postgres.FaultRow, "B9"},
		{"a pallet said to be empty", "UPDATE pallet SET live = false", postgres.FaultRow, "pallet"},
		{"a forgotten heat", "DELETE FROM lot_heat", postgres.FaultRow, "lot_heat"},
		{"a lost event", "DELETE FROM event WHERE id = 'cut.1'", postgres.FaultRecord, "cut.1"},
		{"an event of a kind unknown", "UPDATE event SET kind = 'guessed' WHERE id = 'cut.1'", postgres.FaultEvent, "cut.1"},
		{"an effect unknown", "UPDATE event SET payload = jsonb_set(payload::jsonb, '{effects,0}', '{\"guessed\": {}}') WHERE id = 'cut.1'", postgres.FaultEvent, "cut.1"},
		{"parts from nothing", "UPDATE event SET payload = jsonb_set(payload::jsonb, '{effects,2,moved,qty}', '9') WHERE id = 'cut.1'", postgres.FaultDescent, "cut.1"},
		{"a history that lacks an event", "DELETE FROM event_lot WHERE lot = 'cut/1'", postgres.FaultRecord, "cut.1"},
		{"a history with a strange event", "INSERT INTO event_pallet SELECT 'PSTRANGE', seq FROM event WHERE id = 'cut.1'", postgres.FaultRecord, "cut.1"},
		{"an order's history that lacks an event", "DELETE FROM event_order WHERE order_no = 'O-7'", postgres.FaultRecord, "hers.1"},
		{"an order's history with a strange event", "INSERT INTO event_order SELECT 'O-8', seq FROM event WHERE id = 'cut.1'", postgres.FaultRecord, "cut.1"},
		{"an answer that is gone", "DELETE FROM command WHERE id = 'cut'", postgres.FaultRecord, "cut.1"},
	} {
		t.Run(c.what, func(t *testing.T) {
			f := newFixture(t)
			a, _ := f.bear(t, "born", 20, core.Owner{})
			b, _ := f.bear(t, "other", 1, core.Owner{})
			f.do(t, "cut", on(a, b), split("cut", a, b, 8))
			f.bear(t, "hers", 2, core.Owner{Order: "O-7", Line: 1})
			f.verified(t)
			f.plant(t, c.sql)
			f.found(t, c.kind, c.about)
		})
	}
}

// Signatures and readings are checked as the moves are.
func TestVerifyFindsAForgedSignature(t *testing.T) {
	f := newFixture(t)
	a, lot := f.bear(t, "born", 20, core.Owner{})
	value := 71.5
	f.do(t, "sign", on(a), func(w core.World) core.Outcome {
		out := happen("sign", w, core.EvSigned, core.Effect{Given: &core.FactGiven{Lot: lot, Fact: core.Fact{Name: core.EdgesRounded}, Value: core.Yes}})
		out.Events[0].Signed = []core.Signature{{Person: "P1", Meaning: core.MeantMade, At: w.Now}}
		out.Events[0].Checks = []core.Reading{{Lot: lot, Characteristic: "dft", Met: true, Value: &value, Instrument: "G1"}}
		out.Events[0].Inputs = []core.Batch{{Kind: "powder", Batch: "B1", Expires: "2027-01-01"}}
		return out
	})
	f.verified(t)
	for _, sql := range []string{
		"UPDATE signature SET person = 'P2'", "UPDATE reading SET value = 70", "UPDATE step_input SET batch = 'B2'",
		"INSERT INTO signature SELECT 99999, n, person, meaning, at, tablet, print_seen, print_state FROM signature",
	} {
		f.plant(t, sql)
		_, faults, err := f.Verify(t.Context())
		if err != nil || len(faults) == 0 {
			t.Errorf("%s: %v, %v", sql, faults, err)
		}
	}
}

// An order line's equation: asked = shipped + live + to cut + short, and what is
// more than asked belongs to stock.
func TestVerifyAddsUpOrders(t *testing.T) {
	f := newFixture(t)
	owner := core.Owner{Order: "O-1", Line: 1}
	enlist := func(asked, nested int) {
		id := fmt.Sprintf("enlist-%d-%d", asked, nested)
		order := core.Order{No: "O-1", Customer: "Invented Ltd", Promised: "2026-12-01", Lines: []core.OrderLine{{Owner: owner, Item: bracket, Qty: asked}}}
		nest := core.Nest{ID: "N-1", Parts: []core.NestPart{{No: 1, Item: bracket, Owner: owner, Qty: nested}}}
		f.do(t, id, core.Names{Orders: []string{"O-1"}, Nests: []string{"N-1"}}, func(w core.World) core.Outcome {
			return happen(id, w, core.EvImported, core.Effect{OrderPut: &order}, core.Effect{NestPut: &nest})
		})
	}
	enlist(30, 6)
	code, lot := f.bear(t, "born", 20, owner)
	f.do(t, "scrap", on(code), func(w core.World) core.Outcome {
		return happen("scrap", w, core.EvDisposed, core.Effect{Moved: &core.Move{Lot: lot, Item: bracket, From: core.On(code),
			To: core.Place{Kind: core.Scrapped}, Qty: 3}})
	})
	report := f.verified(t)
	want := postgres.Shortage{Owner: owner, Item: bracket.Item, Asked: 30, Live: 17, ToCut: 6, Unmade: 4, Lost: 3}
	if len(report.Short) != 1 || report.Short[0] != want {
		t.Errorf("short: %+v, want %+v", report.Short, want)
	}
	enlist(10, 6)
	f.found(t, postgres.FaultOrder, "O-1/1 BR-1")
}

// A state that an older version made is made anew when a newer one starts, and
// only then.
func TestAnOlderStateIsMadeAnew(t *testing.T) {
	f := newFixture(t)
	code, _ := f.bear(t, "born", 20, core.Owner{})
	spoil := func() {
		f.plant(t, "UPDATE lot SET qty = 7, body = jsonb_set(body::jsonb, '{qty}', '7')")
		if err := postgres.Migrate(t.Context(), f.db.OwnerURL); err != nil {
			t.Fatal(err)
		}
	}
	f.plant(t, "UPDATE state_form SET form = 0")
	spoil()
	if got := f.parts(t, code); got != 20 {
		t.Errorf("a state of an older form holds %d parts, want 20", got)
	}
	spoil()
	if got := f.parts(t, code); got != 7 {
		t.Errorf("a state of this form holds %d parts: it was made anew without need", got)
	}
}

func TestRebuildStopsAtWhatItDoesNotKnow(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "born", 20, core.Owner{})
	if n, err := postgres.Rebuild(t.Context(), f.db.OwnerURL); err != nil || n != 1 {
		t.Fatalf("rebuilt from %d events: %v", n, err)
	}
	f.plant(t, "UPDATE lot SET qty = 7, body = jsonb_set(body::jsonb, '{qty}', '7')")
	if _, err := postgres.Rebuild(t.Context(), f.db.OwnerURL); err != nil {
		t.Fatal(err)
	}
	if got := f.parts(t, a); got != 20 {
		t.Errorf("a rebuild left %d parts, want 20", got)
	}
	f.plant(t, "UPDATE event SET payload = jsonb_set(payload::jsonb, '{effects,0}', '{\"guessed\": {}}')")
	if _, err := postgres.Rebuild(t.Context(), f.db.OwnerURL); err == nil {
		t.Error("a rebuild guessed what an unknown effect means")
	}
	if got := f.parts(t, a); got != 20 {
		t.Errorf("a stopped rebuild left %d parts, want 20", got)
	}
}
