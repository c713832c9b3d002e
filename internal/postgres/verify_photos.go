package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
	"tagalong/internal/photo"
)

// shown is an event that photos go with.
type shown struct {
	id     core.EventID
	photos []string
}

// photos checks that every photo an event names is kept, and that each one kept
// is what its name says. Their bytes stay in the database.
func (v *verification) photos(ctx context.Context) error {
	found, err := v.tx.Query(ctx, "SELECT encode(hash, 'hex'), encode(sha256(bytes), 'hex') FROM photo ORDER BY hash")
	if err != nil {
		return err
	}
	var name, is string
	kept := map[string]bool{}
	_, err = pgx.ForEachRow(found, []any{&name, &is}, func() error {
		v.report.Photos++
		kept[name] = true
		if name != is {
			v.fault(FaultPhoto, name, "its bytes are not those it is named by, but %s", is)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, e := range v.shown {
		for _, name := range e.photos {
			if _, err := photo.ParseHash(name); err != nil {
				v.fault(FaultPhoto, string(e.id), "%v", err)
			} else if !kept[name] {
				v.fault(FaultPhoto, string(e.id), "the photo %s is missing", name)
			}
		}
	}
	return nil
}
