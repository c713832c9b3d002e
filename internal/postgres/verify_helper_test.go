package postgres_test

import (
	"testing"

	"tagalong/internal/postgres"
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
