package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
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
	named, err := v.photoNames(ctx)
	if err != nil {
		return err
	}
	for _, e := range v.shown {
		for _, name := range e.photos {
			hash, _, err := core.ParsePhoto(name)
			switch {
			case err != nil:
				v.fault(FaultPhoto, string(e.id), "%v", err)
			case !kept[hash]:
				v.fault(FaultPhoto, string(e.id), "the photo %s is missing", hash)
			case !named[photoName{e.id, hash}]:
				v.fault(FaultPhoto, string(e.id), "the photo %s is not known to be named by it, and would be swept", hash)
			}
		}
	}
	return nil
}

type photoName struct {
	event core.EventID
	hash  string
}

// photoNames is what keeps photos from being swept.
func (v *verification) photoNames(ctx context.Context) (map[photoName]bool, error) {
	found, err := v.tx.Query(ctx, "SELECT e.id, encode(n.hash, 'hex') FROM photo_named n JOIN event e USING (seq)")
	if err != nil {
		return nil, err
	}
	out := map[photoName]bool{}
	var n photoName
	_, err = pgx.ForEachRow(found, []any{&n.event, &n.hash}, func() error { out[n] = true; return nil })
	return out, err
}
