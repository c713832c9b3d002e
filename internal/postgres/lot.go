package postgres

import (
	"fmt"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
)

// lotLink is a row of lot_parent, lot_heat, lot_sheet or lot_batch.
type lotLink struct {
	Lot core.LotID `json:"lot"`
	To  string     `json:"to"`
}

func insertLinks(table, column string) statement[lotLink] {
	t := newRowType[lotLink]()
	return statement[lotLink]{t, fmt.Sprintf("INSERT INTO %s (lot, %s) SELECT %s FROM %s ON CONFLICT DO NOTHING", table, column, t.stored(0), t.given())}
}

var (
	insertParents = insertLinks("lot_parent", "parent")
	insertHeats   = insertLinks("lot_heat", "heat")
	insertSheets  = insertLinks("lot_sheet", "sheet")
	insertBatches = insertLinks("lot_batch", "batch")
)

// lotLinks are what recalls and histories follow.
type lotLinks struct{ parents, heats, sheets, batches []lotLink }

// add notes what l has and was had not.
func (k *lotLinks) add(was, l core.Lot) {
	k.parents = append(k.parents, newLinks(l.ID, was.Parents, l.Parents)...)
	k.heats = append(k.heats, newLinks(l.ID, was.Heats, l.Heats)...)
	k.sheets = append(k.sheets, newLinks(l.ID, was.Sheets, l.Sheets)...)
	k.batches = append(k.batches, newLinks(l.ID, was.Batches, l.Batches)...)
}

func (k *lotLinks) queue(b *pgx.Batch) error {
	return firstError(insertParents.queue(b, k.parents), insertHeats.queue(b, k.heats),
		insertSheets.queue(b, k.sheets), insertBatches.queue(b, k.batches))
}

func newLinks[T ~string](lot core.LotID, was, is []T) []lotLink {
	var out []lotLink
	for _, x := range is {
		if x != "" && !slices.Contains(was, x) {
			out = append(out, lotLink{lot, string(x)})
		}
	}
	return out
}

// queueLots writes the lots touched and what recalls follow.
func (p *projection) queueLots(b *pgx.Batch) error {
	row := func(l core.Lot) lotRow { return lotRowOf(l, p.book) }
	if err := write(b, lotTable, p.lots, p.before.Lots, p.after.Lots, row); err != nil {
		return err
	}
	var links lotLinks
	for _, id := range slices.Sorted(maps.Keys(p.lots)) {
		links.add(p.before.Lots[id], p.after.Lots[id])
	}
	return links.queue(b)
}
