package postgres_test

import (
	"errors"
	"net/url"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
	"tagalong/migrations"
)

// as is an address with another login.
func as(t testing.TB, address, user, password string) string {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	u.User = url.UserPassword(user, password)
	return u.String()
}

// A database somebody else looks after, with one login that owns the schema: the
// server migrates as the owner and works without the owner's rights.
func TestOneLoginThatOwnsTheSchema(t *testing.T) {
	db := pgtest.NewEmpty(t)
	super := connect(t, db.SuperURL)
	login := "lone_" + db.Name
	name := pgx.Identifier{login}.Sanitize()
	for _, sql := range []string{
		"CREATE ROLE " + name + " LOGIN PASSWORD 'lone'", "GRANT ALL ON DATABASE " + pgx.Identifier{db.Name}.Sanitize() + " TO " + name,
		"CREATE SCHEMA tagalong AUTHORIZATION " + name,
	} {
		if _, err := super.Exec(t.Context(), sql); err != nil {
			t.Fatal(err)
		}
	}
	defer func() {
		if _, err := super.Exec(t.Context(), "DROP OWNED BY "+name+" CASCADE; DROP ROLE "+name); err != nil {
			t.Error(err)
		}
	}()
	address := as(t, db.SuperURL, login, "lone")

	// It may not work as the server's role yet: told in one sentence, with the cure.
	err := postgres.Migrate(t.Context(), address)
	if err == nil {
		_, err = postgres.Open(t.Context(), address, postgres.Options{})
	}
	var missing *migrations.MissingRightError
	if !errors.As(err, &missing) || !strings.Contains(missing.Grant, "GRANT tagalong_app TO") {
		t.Fatalf("without the right: %v", err)
	}
	if _, err := super.Exec(t.Context(), missing.Grant); err != nil {
		t.Fatalf("the cure %q: %v", missing.Grant, err)
	}
	if err := postgres.Migrate(t.Context(), address); err != nil {
		t.Fatal(err)
	}
	s, err := postgres.Open(t.Context(), address, postgres.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	role, err := s.RoleForTest(t.Context())
	if err != nil || role != "tagalong_app" {
		t.Errorf("the server works as %q: %v", role, err)
	}
	if err := s.ExecForTest(t.Context(), "DROP TABLE event"); err == nil {
		t.Error("the running server could drop the record")
	}
}

func TestOpenSaysWhatIsWrong(t *testing.T) {
	for _, address := range []string{"://", "postgres://127.0.0.1:1/none?connect_timeout=2"} {
		if s, err := postgres.Open(t.Context(), address, postgres.Options{}); err == nil {
			s.Close()
			t.Errorf("%q was opened", address)
		}
	}
	empty := pgtest.NewEmpty(t)
	if s, err := postgres.Open(t.Context(), empty.AppURL, postgres.Options{}); err == nil {
		s.Close()
		t.Error("a database without a schema was opened")
	}
}
