package shopgen

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// Holder is a person of the demo shop with what they sign with.
type Holder struct {
	core.Person
	Badge string // the text in its QR symbol
	PIN   string
	Ended bool // the badge was replaced since: it signs nothing
}

// Roster lists everybody who was given a badge, by id, the first admin first.
func Roster(ctx context.Context, svc *app.Service) ([]Holder, error) {
	book, err := svc.Book(ctx)
	if err != nil {
		return nil, err
	}
	var out []Holder
	for id, p := range book.People {
		issue := 1
		if id == Lost {
			issue = 2
		}
		badge, err := badgeOf(p, issue)
		if err != nil {
			return nil, err
		}
		held, err := svc.Store.BadgeHolder(ctx, badge.Hash())
		switch {
		case errors.Is(err, app.ErrNotFound):
			continue // taken on since, or left before
		case err != nil:
			return nil, fmt.Errorf("look for the badge of %s: %w", id, err)
		}
		out = append(out, Holder{Person: p, Badge: badge.Text(), PIN: PIN(id), Ended: held.Revoked})
	}
	slices.SortFunc(out, func(a, b Holder) int {
		if first := a.Name == FirstAdmin; first != (b.Name == FirstAdmin) {
			if first {
				return -1
			}
			return 1
		}
		return strings.Compare(string(a.ID), string(b.ID))
	})
	return out, nil
}

// badgeOf is a person's badge; the first admin's was drawn after the admin's id.
func badgeOf(p core.Person, issue int) (sign.Badge, error) {
	if p.Name != FirstAdmin {
		return Badge(p.ID, issue)
	}
	r := Random("first admin")
	if _, err := io.CopyN(io.Discard, r, 10); err != nil {
		return sign.Badge{}, err
	}
	return sign.NewBadge(r)
}

// LostBadge is the text of a badge that was lost and replaced.
func LostBadge() (string, error) {
	b, err := Badge(Lost, 1)
	return b.Text(), err
}
