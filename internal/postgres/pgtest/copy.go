package pgtest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"
)

// Template is a database that takes long to fill, made once for a package's tests, which get copies.
type Template struct {
	// Fill fills the database for the first test that asks for a copy, and leaves nobody connected to it.
	Fill func(t testing.TB, db *DB)

	once sync.Once
	db   *DB
}

// Copy makes a database with all that the template holds; it is dropped after the test.
func (p *Template) Copy(t testing.TB) *DB {
	t.Helper()
	server, template := use(t)
	p.once.Do(func() {
		db := makeKept(t, server, "TEMPLATE "+template)
		shared.templates = append(shared.templates, db.Name)
		p.Fill(t, db)
		p.db = db
	})
	if p.db == nil {
		t.Fatal("pgtest: the template of this test was not made, see the first test that asked for it")
	}
	return create(t, server, "TEMPLATE "+p.db.Name)
}

// dropTemplates drops the databases that copies were taken of.
func dropTemplates() error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	var errs []error
	for _, name := range shared.templates {
		errs = append(errs, execute(ctx, shared.server.superURL, fmt.Sprintf("DROP DATABASE IF EXISTS %s WITH (FORCE)", name)))
	}
	return errors.Join(errs...)
}
