package postgres

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

const linkSQL = `
	SELECT k.id, k.consignment, k.order_no, coalesce(c.site, ''), k.note, k.made_by, k.made_at, k.ends_at, k.claimed_at, k.revoked_at, c.received, k.printed
	FROM site_link k LEFT JOIN consignment c ON c.code = k.consignment `

func scanLink(row pgx.CollectableRow) (app.SiteLink, error) {
	var l app.SiteLink
	var claimed, revoked, received *time.Time
	err := row.Scan(&l.ID, &l.Consignment, &l.Order, &l.Site, &l.Note, &l.MadeBy, &l.Made, &l.EndsAt, &claimed, &revoked, &received, &l.Printed)
	l.Made, l.EndsAt = l.Made.UTC(), l.EndsAt.UTC()
	l.Claimed, l.Revoked, l.Received = timeOrZero(claimed), timeOrZero(revoked), timeOrZero(received)
	return l, err
}

// NewSiteLink stores a link under the next free id of its consignment.
func (s *Store) NewSiteLink(ctx context.Context, tokenSHA [32]byte, l app.SiteLink) (id core.PersonID, err error) {
	err = s.vaultTx(ctx, l.MadeBy, "make link for", string(l.Consignment), func(tx pgx.Tx) error {
		// Two at once would take one id.
		if _, err := tx.Exec(ctx, "SELECT pg_advisory_xact_lock(hashtextextended($1, 0))", "site link "+string(l.Consignment)); err != nil {
			return err
		}
		var n int
		if err := tx.QueryRow(ctx, "SELECT count(*) + 1 FROM site_link WHERE consignment = $1", string(l.Consignment)).Scan(&n); err != nil {
			return err
		}
		id = app.LinkID(l.Consignment, strconv.Itoa(n))
		_, err := tx.Exec(ctx, `
			INSERT INTO site_link (id, token_sha, consignment, order_no, note, made_by, made_at, ends_at, printed) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			string(id), tokenSHA[:], string(l.Consignment), l.Order, l.Note, string(l.MadeBy), l.Made, l.EndsAt, l.Printed)
		return err
	})
	return id, err
}

// SiteLinks lists a consignment's links, newest first.
func (s *Store) SiteLinks(ctx context.Context, c core.ConsignmentCode) ([]app.SiteLink, error) {
	found, err := s.pool.Query(ctx, linkSQL+"WHERE k.consignment = $1 ORDER BY k.made_at DESC, k.id DESC LIMIT 200", string(c))
	if err != nil {
		return nil, fmt.Errorf("list links: %w", err)
	}
	return pgx.CollectRows(found, scanLink)
}

// SiteLinkByToken finds a link by its own token.
func (s *Store) SiteLinkByToken(ctx context.Context, sha [32]byte) (app.SiteLink, error) {
	return s.siteLink(ctx, "WHERE k.token_sha = $1", sha[:])
}

// SiteLinkByDevice finds the link that a browser claimed.
func (s *Store) SiteLinkByDevice(ctx context.Context, sha [32]byte) (app.SiteLink, error) {
	return s.siteLink(ctx, "WHERE k.device_sha = $1", sha[:])
}

func (s *Store) siteLink(ctx context.Context, where string, arg any) (app.SiteLink, error) {
	found, err := s.pool.Query(ctx, linkSQL+where, arg)
	if err != nil {
		return app.SiteLink{}, fmt.Errorf("find a link: %w", err)
	}
	l, err := pgx.CollectExactlyOneRow(found, scanLink)
	return l, notFound(err)
}

// ClaimSiteLink binds a link to a browser; of two at once one is let in.
func (s *Store) ClaimSiteLink(ctx context.Context, id core.PersonID, deviceSHA [32]byte, now time.Time) error {
	return s.changeLink(ctx, id, "claim link", id, `
		UPDATE site_link SET device_sha = $2, claimed_at = $3 WHERE id = $1 AND claimed_at IS NULL AND revoked_at IS NULL`, deviceSHA[:], now)
}

// RevokeSiteLink ends a link at once.
func (s *Store) RevokeSiteLink(ctx context.Context, id core.PersonID, by core.PersonID) error {
	return s.changeLink(ctx, by, "revoke link", id, "UPDATE site_link SET revoked_at = $2 WHERE id = $1 AND revoked_at IS NULL", s.now())
}

// BlankSiteLink takes the note off a link.
func (s *Store) BlankSiteLink(ctx context.Context, id core.PersonID, by core.PersonID) error {
	return s.changeLink(ctx, by, "blank the note of link", id, "UPDATE site_link SET note = '' WHERE id = $1")
}

func (s *Store) changeLink(ctx context.Context, by core.PersonID, act string, id core.PersonID, sql string, args ...any) error {
	return s.vaultTx(ctx, by, act, string(id), func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, sql, append([]any{string(id)}, args...)...)
		if err == nil && tag.RowsAffected() == 0 {
			return app.ErrNotFound
		}
		return err
	})
}
