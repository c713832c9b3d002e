package main

import (
	"net/http"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// TestTheRecordNamesNobody: people read names, and what is kept for good holds
// ids only, so that blanking one row forgets a name.
func TestTheRecordNamesNobody(t *testing.T) {
	s := newShop(t)
	book, err := s.app.Book(t.Context())
	must(t, err)
	name := book.People[inspector].Name
	tablet, badge := s.tablet("GOODS-1"), s.badge(inspector)
	told := func(p string) {
		t.Helper()
		if !strings.Contains(p, name) {
			t.Errorf("nobody is named: %q", p)
		}
	}
	told(tablet.refused("place-hold", s.request(hold).with("sign", []app.Sign{{Badge: badge, PIN: "111112"}}), http.StatusForbidden, "pin-wrong").Title)
	tablet.do(hold, badge)

	// A refusal of the rules, said again to the same command sent again.
	must(t, s.change(inspector, func(p *core.Person) { p.Roles = []core.Role{core.Dispatcher, core.Quality} }))
	came := tablet.do(core.ReceiveGoods{Item: core.ItemRev{Item: "SH-5005-3", Rev: "1"}, Qty: 1, Heat: "H1", Identified: true}, badge).Events[0]
	sheet, lot := came.Pallets[0], came.Lots[0].Lot
	laser := s.tablet("LASER-1")
	laser.do(core.TakeIn{Pallet: sheet})
	cut := s.request(core.SignOff{Pallet: sheet, Stage: "cut", Lots: []core.LotWork{{Lot: lot, Good: 1}}}).signed(badge)
	told(laser.refused("sign-off", cut, http.StatusForbidden, "role-missing").Title)
	told(laser.refused("sign-off", cut, http.StatusForbidden, "role-missing").Title)

	conn, err := pgx.Connect(t.Context(), s.dbURL)
	must(t, err)
	defer conn.Close(t.Context())
	for _, table := range []string{"event", "refusal", "command", "signature"} {
		var rows, naming int
		must(t, conn.QueryRow(t.Context(), "SELECT count(*), count(*) FILTER (WHERE position($1 in t::text) > 0) FROM tagalong."+table+" t",
			name).Scan(&rows, &naming))
		if rows == 0 || naming > 0 {
			t.Errorf("%s: %d of %d rows name a person", table, naming, rows)
		}
	}
}
