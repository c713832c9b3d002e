package main

import (
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
)

// In a shop of some size `tagalong verify` finds each fault that somebody plants past the triggers, names the lot,
// says what to do and ends as a failure; and finds nothing once the fault is gone.
func TestVerifyNamesWhatWasPlanted(t *testing.T) {
	l := demoLine(t)
	sound := l.ok("verify")
	conn, err := pgx.Connect(t.Context(), l.env["TAGALONG_DATABASE_URL"])
	must(t, err)
	defer conn.Close(t.Context())
	exec := func(sql string, args ...any) {
		t.Helper()
		tag, err := conn.Exec(t.Context(), sql, args...)
		must(t, err)
		if sql[0] != 'S' && sql[0] != 'C' && tag.RowsAffected() != 1 {
			t.Fatalf("%d rows are changed by %s", tag.RowsAffected(), sql)
		}
	}
	exec("SET search_path = tagalong, pg_temp")
	exec("SET session_replication_role = replica")
	exec("CREATE TEMP TABLE taken AS SELECT * FROM move WITH NO DATA")
	var seq, n int64
	var lot string
	must(t, conn.QueryRow(t.Context(), `SELECT m.seq, m.n, m.lot FROM move m JOIN lot l ON l.id = m.lot
		WHERE l.qty > 1 AND m.to_kind = 'pallet' ORDER BY m.seq DESC LIMIT 1`).Scan(&seq, &n, &lot))
	const another = `INSERT INTO move SELECT seq, 999, lot, item, rev, `
	for _, c := range []struct {
		what, plant, undo string
		args              []any
		inRecord          bool
	}{
		{"a lost move", `WITH gone AS (DELETE FROM move WHERE seq = $1 AND n = $2 RETURNING *) INSERT INTO taken SELECT * FROM gone`,
			`INSERT INTO move SELECT * FROM taken`, []any{seq, n}, true},
		{"a doubled move", another + `from_kind, from_ref, to_kind, to_ref, qty FROM move WHERE seq = $1 AND n = $2`,
			`DELETE FROM move WHERE n = 999`, []any{seq, n}, true},
		{"a lot below zero", another + `to_kind, to_ref, 'scrapped', '', 100000 FROM move WHERE seq = $1 AND n = $2`,
			`DELETE FROM move WHERE n = 999`, []any{seq, n}, true},
		{"an edited count", `UPDATE lot SET qty = qty + 1 WHERE id = $1`, ``, []any{lot}, false},
	} {
		exec(c.plant, c.args...)
		out := l.fails(1, "the record and the state disagree", "verify")
		if !strings.Contains(out, lot) || strings.Contains(out, "; 0 faults") {
			t.Errorf("%s of lot %s: verify says\n%s", c.what, lot, out)
		}
		if c.inRecord {
			exec(c.undo)
		} else {
			l.ok("rebuild") // the state alone is at fault: it is made anew from the record
		}
		if again := l.ok("verify"); again != sound {
			t.Errorf("%s, put right: verify says\n%s", c.what, again)
		}
	}
}
