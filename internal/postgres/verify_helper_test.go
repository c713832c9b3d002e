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
	return report
}

// steppedBack takes the schema back before lots' bodies and events were kept as
// they were written, and forward again, and expects to lose nothing by it.
func (f *fixture) steppedBack(t testing.TB) {
	t.Helper()
	conn := connect(t, f.db.OwnerURL)
	for _, direction := range []string{"down", "up"} {
		name, err := fs.Glob(migrations.Files(), "*_texts_as_written."+direction+".sql")
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
	again := &fixture{openStore(t, f.db.AppURL, f.clock), f.db, f.clock}
	again.verified(t)
}
