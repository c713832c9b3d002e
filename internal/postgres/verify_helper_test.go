package postgres_test

import (
	"io/fs"
	"testing"

	"tagalong/internal/postgres"
	"tagalong/migrations"
)

// verified expects the record and the state to agree.
func (f *fixture) verified(t testing.TB) postgres.Report {
	t.Helper()
	report, faults, err := f.Verify(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range faults {
		t.Errorf("fault: %v", x)
	}
	f.ordersTold(t)
	return report
}

// steppedBack takes the schema back by one migration, and forward again, and
// expects to lose nothing by it: the rows of the tables named are as they were.
func (f *fixture) steppedBack(t testing.TB, migration string, tables ...string) {
	t.Helper()
	conn := connect(t, f.db.OwnerURL)
	dump := func() string {
		var all string
		for _, table := range tables {
			var rows string
			if err := conn.QueryRow(t.Context(), "SELECT coalesce(string_agg(x::text, E'\\n' ORDER BY x::text), '') FROM tagalong."+table+" x").Scan(&rows); err != nil {
				t.Fatal(err)
			}
			if rows == "" {
				t.Errorf("there is nothing in %s to lose", table)
			}
			all += rows
		}
		return all
	}
	before := dump()
	for _, direction := range []string{"down", "up"} {
		name, err := fs.Glob(migrations.Files(), "*_"+migration+"."+direction+".sql")
		if err != nil || len(name) != 1 {
			t.Fatal(name, err)
		}
		sql, err := fs.ReadFile(migrations.Files(), name[0])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := conn.Exec(t.Context(), "SET search_path = "+migrations.Schema+"; BEGIN; "+string(sql)+"; COMMIT"); err != nil {
			t.Fatalf("%s: %v", direction, err)
		}
	}
	if after := dump(); after != before {
		t.Errorf("after a step back and forward again %v are\n%s\nand were\n%s", tables, after, before)
	}
	again := &fixture{openStore(t, f.db.AppURL, f.clock), f.db, f.clock}
	again.verified(t)
}
