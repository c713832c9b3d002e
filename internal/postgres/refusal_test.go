package postgres_test

import (
	"slices"
	"strings"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
)

// refuse has a command refused; it names rows or none.
func (f *fixture) refuse(t testing.TB, id string, n core.Names, r core.Refusal) {
	t.Helper()
	f.do(t, id, n, func(core.World) core.Outcome { return core.Outcome{Refusal: &r} })
}

// toldNo expects the latest refusals about something to be those of the commands.
func (f *fixture) toldNo(t testing.TB, q app.RefusalQuery, want ...string) {
	t.Helper()
	if q.Limit == 0 {
		q.Limit = 100
	}
	var got []string
	for _, r := range must(f.Refusals(t.Context(), q))(t) {
		got = append(got, string(r.Command))
	}
	if !slices.Equal(got, want) {
		t.Errorf("the refusals of %+v are %v, want %v", q, got, want)
	}
}

// A refusal is found by the pallets and orders named, its lots, whose they are
// and what they were on, however many came after it.
func TestRefusalsOfLongAgo(t *testing.T) {
	f := newFixture(t)
	a, lot := f.bear(t, "born", 20, core.Owner{Order: "O-7", Line: 1})
	b, _ := f.bear(t, "other", 1, core.Owner{})
	one := core.Refusal{Code: "no", Lots: []core.LotID{lot}}
	f.refuse(t, "by-lot", core.Names{}, one)
	f.refuse(t, "by-parameters", core.Names{}, core.Refusal{Code: "no", Params: map[string]string{"pallet": string(a), "order": "O-7", "lot": string(lot)}})
	f.refuse(t, "by-command", on(a, b), core.Refusal{Code: "no", Params: map[string]string{"pallet": string(a)}})
	for _, r := range []app.RefusalRow{
		{Command: "by-its-command-unread", Refusal: core.Refusal{Code: "pin-wrong"}, Pallets: []core.PalletCode{a, a, ""}},
		{Command: "by-lot-unread", Refusal: one},
		{Command: "of-nothing", Refusal: core.Refusal{Code: "pin-wrong", Params: map[string]string{"pallet": "", "order": strings.Repeat("O", 9000)}}},
	} {
		if err := f.NoteRefusal(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := connect(t, f.db.AppURL).Exec(t.Context(), `
		INSERT INTO tagalong.refusal (command_id, at, kind, station, person, code, body)
		SELECT 'later-' || i, now(), 'test', '', '', 'no', '{"code": "no"}' FROM generate_series(1, 1500) i`); err != nil {
		t.Fatal(err)
	}
	f.toldNo(t, app.RefusalQuery{Pallet: a}, "by-lot-unread", "by-its-command-unread", "by-command", "by-parameters", "by-lot")
	f.toldNo(t, app.RefusalQuery{Pallet: a, Limit: 2}, "by-lot-unread", "by-its-command-unread")
	f.toldNo(t, app.RefusalQuery{Lot: lot}, "by-lot-unread", "by-parameters", "by-lot")
	f.toldNo(t, app.RefusalQuery{Lot: lot, Limit: 1}, "by-lot-unread")
	f.toldNo(t, app.RefusalQuery{Order: "O-7"}, "by-lot-unread", "by-parameters", "by-lot")
	f.toldNo(t, app.RefusalQuery{Pallet: b}, "by-command")
	f.toldNo(t, app.RefusalQuery{Order: "O-8"})
	if all := must(f.Refusals(t.Context(), app.RefusalQuery{Limit: 3}))(t); len(all) != 3 {
		t.Errorf("the latest 3 of the shop: %+v", all)
	}
	f.verified(t)
}

// A lot is told of what its parent was refused before it was born, and a pallet
// of what a lot was refused while it was there; a server that learns to file them
// files those on record alike.
func TestRefusalsOfWhatMovedOn(t *testing.T) {
	f := newFixture(t)
	owner := core.Owner{Order: "O-7", Line: 1}
	a, lot := f.bear(t, "born", 20, owner)
	b, _ := f.bear(t, "other", 1, owner)
	of := func(id core.LotID) core.Refusal { return core.Refusal{Code: "no", Lots: []core.LotID{id}} }
	f.refuse(t, "parent", core.Names{}, of(lot))
	f.do(t, "cut", on(a, b), split("cut", a, b, 8))
	f.refuse(t, "parent-later", core.Names{}, of(lot))
	f.refuse(t, "child", core.Names{}, of("cut/1"))
	f.do(t, "back", on(a, b), func(w core.World) core.Outcome {
		l := w.State.Lots["cut/1"]
		return happen("back", w, core.EvDivided, core.Effect{Moved: &core.Move{Lot: l.ID, Item: l.Item, From: core.On(b), To: core.On(a), Qty: l.Qty}})
	})
	f.refuse(t, "child-back", core.Names{}, of("cut/1"))
	told := func() {
		t.Helper()
		f.toldNo(t, app.RefusalQuery{Lot: "cut/1"}, "child-back", "child", "parent")
		f.toldNo(t, app.RefusalQuery{Lot: lot}, "parent-later", "parent")
		f.toldNo(t, app.RefusalQuery{Pallet: a}, "child-back", "parent-later", "parent")
		f.toldNo(t, app.RefusalQuery{Pallet: b}, "child")
		f.toldNo(t, app.RefusalQuery{Order: "O-7"}, "child-back", "child", "parent-later", "parent")
	}
	told()
	f.steppedBack(t, "refusal_about", "refusal_about")
	told()
	for what, sql := range map[string]string{
		"one that isn't filed":   "DELETE FROM refusal_about WHERE kind = 'lot' AND name = 'cut/1'",
		"one that is filed only": "DELETE FROM refusal WHERE command_id = 'parent'",
	} {
		t.Run(what, func(t *testing.T) {
			f.plant(t, sql)
			f.found(t, postgres.FaultRecord, "refusal ")
		})
	}
}
