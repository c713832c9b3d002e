package postgres

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// cardSQL reads the lots on the pallets chosen by a condition, with what a card
// says of them; %s is the condition on pallet p, $1 the limit, $2 how many are
// left out before, $3 a pallet that is read wherever it stands among them. Each
// row tells how many pallets there are in all.
const cardSQL = `
	WITH chosen AS (
		SELECT * FROM (
			SELECT p.code, p.kind, p.label, p.station, p.bound, p.slot, p.since, count(*) OVER () AS total,
				row_number() OVER (ORDER BY first.promised NULLS LAST, p.since NULLS LAST, p.code) AS nth
			FROM pallet p, LATERAL (
				SELECT min(l.promised) AS promised FROM lot l WHERE l.place_kind = 'pallet' AND l.place_ref = p.code AND l.qty > 0) first
			WHERE p.live AND %s
		) p WHERE nth > $2 AND nth <= $2 + $1 OR code = $3
	), held AS (
		SELECT DISTINCT lot FROM held_lot
	)
	SELECT p.total, p.code, p.kind, p.label, p.station, p.bound, p.slot, p.since,
		l.item, l.rev, l.qty, l.owner_order, coalesce(o.customer, ''), coalesce(l.promised::text, ''), l.arrived,
		l.next_stage, l.next_stages, l.begun, held.lot IS NOT NULL
	FROM chosen p
	JOIN lot l ON l.place_kind = 'pallet' AND l.place_ref = p.code AND l.qty > 0
	LEFT JOIN orders o ON o.no = l.owner_order
	LEFT JOIN held ON held.lot = l.id
	ORDER BY p.nth, l.promised NULLS LAST, l.arrived NULLS LAST, l.id`

// maxCards bounds the lists of one station.
const maxCards = 300

// cardLot is one lot of a pallet in a list.
type cardLot struct {
	total    int            // pallets in all
	card     app.PalletCard // of the pallet, without what its lots add
	item     core.ItemRev
	qty      int
	order    string
	customer string
	promised core.Date
	next     core.StageName
	stages   []core.StageName
	begun    bool
	held     bool
}

func scanCardLot(row pgx.CollectableRow) (cardLot, error) {
	var l cardLot
	var since, arrived *time.Time
	c := &l.card
	err := row.Scan(&l.total, &c.Code, &c.Kind, &c.Label, &c.Station, &c.Bound, &c.Slot, &since,
		&l.item.Item, &l.item.Rev, &l.qty, &l.order, &l.customer, &l.promised, &arrived, &l.next, &l.stages, &l.begun, &l.held)
	c.Since = timeOrZero(since)
	return l, err
}

// cards reads a part of the pallets a condition chooses; its own arguments are
// numbered from $4. total is how many there are in all, if any was read.
func (s *Store) cards(ctx context.Context, condition string, part app.Part, args ...any) (cards []app.PalletCard, total int, err error) {
	book, err := s.Book(ctx)
	if err != nil {
		return nil, 0, err
	}
	found, err := s.pool.Query(ctx, fmt.Sprintf(cardSQL, condition), append([]any{part.Most, part.From, string(part.With)}, args...)...)
	if err != nil {
		return nil, 0, fmt.Errorf("list pallets: %w", err)
	}
	lots, err := pgx.CollectRows(found, scanCardLot)
	if err != nil {
		return nil, 0, fmt.Errorf("list pallets: %w", err)
	}
	if len(lots) > 0 {
		total = lots[0].total
	}
	return gatherCards(lots, book), total, nil
}

// gatherCards makes a card of each run of lots of one pallet.
func gatherCards(lots []cardLot, book *core.Book) []app.PalletCard {
	var out []app.PalletCard
	for len(lots) > 0 {
		n := slices.IndexFunc(lots, func(l cardLot) bool { return l.card.Code != lots[0].card.Code })
		if n < 0 {
			n = len(lots)
		}
		out = append(out, cardOf(lots[:n], book))
		lots = lots[n:]
	}
	return out
}

// cardOf sums up the lots of one pallet; the first is the one that comes first.
func cardOf(lots []cardLot, book *core.Book) app.PalletCard {
	c := lots[0].card
	c.Lots, c.Promised, c.Customer, c.NextStage = len(lots), lots[0].promised, lots[0].customer, lots[0].next
	parts := map[string]int{}
	for _, l := range lots {
		c.Parts += l.qty
		name := cmp.Or(book.Items[l.item].Name, string(l.item.Item))
		if parts[name] == 0 {
			c.Names = append(c.Names, name)
		}
		parts[name] += l.qty
		if l.order != "" && !slices.Contains(c.Orders, l.order) {
			c.Orders = append(c.Orders, l.order)
		}
		for _, st := range l.stages {
			if !slices.Contains(c.Stages, st) {
				c.Stages = append(c.Stages, st)
			}
		}
		c.Begun, c.Held = c.Begun || l.begun, c.Held || l.held
	}
	slices.SortFunc(c.Names, func(a, b string) int {
		return cmp.Or(parts[b]-parts[a], strings.Compare(a, b))
	})
	return c
}

// AtStation lists the pallets at a station and those handed over to it.
func (s *Store) AtStation(ctx context.Context, station core.StationID, part app.Part) (out app.Standing, err error) {
	if part.Most <= 0 || part.Most > maxCards {
		part.Most = maxCards
	}
	// A pallet handed on is no longer here, though not yet taken in elsewhere.
	if out.Here, out.HereAll, err = s.cards(ctx, "p.station = $4 AND p.bound = ''", part, string(station)); err != nil {
		return app.Standing{}, err
	}
	part.From = 0
	out.Coming, out.ComingAll, err = s.cards(ctx, "p.bound = $4 AND p.bound <> ''", part, string(station))
	return out, err
}

// InSlot lists what stands in a slot of a store.
func (s *Store) InSlot(ctx context.Context, station core.StationID, slot string) ([]app.PalletCard, error) {
	cards, _, err := s.cards(ctx, "p.bound = '' AND p.station IN ($4, '') AND p.slot = $5", app.Part{Most: maxCards}, string(station), slot)
	return cards, err
}

// Pallets lists live pallets, oldest promised date first.
func (s *Store) Pallets(ctx context.Context, limit int) ([]app.PalletCard, error) {
	cards, _, err := s.cards(ctx, "true", app.Part{Most: limit})
	return cards, err
}
