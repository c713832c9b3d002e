package postgres_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"tagalong/internal/core"
)

// What is recorded, table by table.
var recordTables = []string{"event", "event_pallet", "event_lot", "event_order", "move", "signature", "reading", "step_input", "command",
	"refusal", "refusal_about", "book_change", "vault_log", "photo", "photo_named"}

// Neither the server's role nor the owner of the tables can change or take back
// what is recorded.
func TestTheRecordIsAppendOnly(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "born", 5, core.Owner{})
	f.do(t, "no", on(a), func(core.World) core.Outcome { return core.Outcome{Refusal: &core.Refusal{Code: "no"}} })
	h := f.keepPhoto(t, "a corner", "P1")
	f.do(t, "seen", on(a), func(w core.World) core.Outcome { return shows("seen", w, h.String()) })
	for who, url := range map[string]string{"app": f.db.AppURL, "owner": f.db.OwnerURL} {
		conn := connect(t, url)
		for _, table := range recordTables {
			var column string
			if err := conn.QueryRow(t.Context(), `SELECT column_name FROM information_schema.columns
				WHERE table_schema = 'tagalong' AND table_name = $1 ORDER BY ordinal_position LIMIT 1`, table).Scan(&column); err != nil {
				t.Fatalf("%s can't see %s: %v", who, table, err)
			}
			for _, sql := range []string{
				fmt.Sprintf("UPDATE tagalong.%s SET %s = %[2]s", table, column),
				fmt.Sprintf("DELETE FROM tagalong.%s", table),
				fmt.Sprintf("TRUNCATE tagalong.%s", table),
			} {
				_, err := conn.Exec(t.Context(), sql)
				var e *pgconn.PgError
				if !errors.As(err, &e) {
					t.Errorf("%s ran %q: %v", who, sql, err)
					continue
				}
				// The app role lacks the right; the owner has it and meets the trigger.
				want := map[string]string{"app": "42501", "owner": "23000"}[who]
				if e.Code != want {
					t.Errorf("%s, %q: %s (%s), want %s", who, sql, e.Message, e.Code, want)
				}
			}
		}
	}
	if got := f.parts(t, a); got != 5 {
		t.Errorf("%d parts, want 5", got)
	}
}

// The server's role can do no more than it needs.
func TestTheServersRoleIsSmall(t *testing.T) {
	f := newFixture(t)
	conn := connect(t, f.db.AppURL)
	for _, sql := range []string{
		"ALTER TABLE tagalong.event DISABLE TRIGGER ALL",
		"DROP TRIGGER append_only ON tagalong.event",
		"ALTER TABLE tagalong.move OWNER TO tagalong_app",
		"DELETE FROM tagalong.lot",
		"TRUNCATE tagalong.lot",
		"CREATE TABLE tagalong.mine (n int)",
		"SET ROLE tagalong_owner",
		"SET session_replication_role = replica",
	} {
		if _, err := conn.Exec(t.Context(), sql); err == nil {
			t.Errorf("the server's role ran %q", sql)
		}
	}
}

// A table added to the record later must be protected too: every table that the
// server may add to and not update carries the trigger.
func TestEveryTableOfTheRecordIsNamedHere(t *testing.T) {
	f := newFixture(t)
	conn := connect(t, f.db.SuperURL)
	var guarded string
	if err := conn.QueryRow(t.Context(), `
		SELECT string_agg(DISTINCT tgrelid::regclass::text, ' ' ORDER BY tgrelid::regclass::text)
		FROM pg_trigger WHERE tgname = 'append_only' AND tgenabled = 'O'`).Scan(&guarded); err != nil {
		t.Fatal(err)
	}
	for _, table := range recordTables {
		if !strings.Contains(" "+guarded+" ", "tagalong."+table+" ") {
			t.Errorf("%s is not guarded: %s", table, guarded)
		}
	}
	if n := len(strings.Fields(guarded)); n != len(recordTables) {
		t.Errorf("%d tables are guarded, %d are tested", n, len(recordTables))
	}
}
