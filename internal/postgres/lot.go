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
	return statement[lotLink]{t, fmt.Sprintf("INSERT INTO %s (lot, %s) SELECT %s FROM %s", table, column, t.stored(0), t.given(1))}
}

var (
	insertParents = insertLinks("lot_parent", "parent")
	insertHeats   = insertLinks("lot_heat", "heat")
	insertSheets  = insertLinks("lot_sheet", "sheet")
	insertBatches = insertLinks("lot_batch", "batch")
)

// lotLinks are what recalls and histories follow.
type lotLinks struct{ parents, heats, sheets, batches []lotLink }

// add notes what l has and was had not. What a lot bears of these it bears for
// life, so what it had is there already.
func (k *lotLinks) add(was, l core.Lot) {
	k.parents = appendLinks(k.parents, l.ID, was.Parents, l.Parents)
	k.heats = appendLinks(k.heats, l.ID, was.Heats, l.Heats)
	k.sheets = appendLinks(k.sheets, l.ID, was.Sheets, l.Sheets)
	k.batches = appendLinks(k.batches, l.ID, was.Batches, l.Batches)
}

func (k *lotLinks) queue(b *pgx.Batch) error {
	return firstError(insertParents.queue(b, k.parents), insertHeats.queue(b, k.heats),
		insertSheets.queue(b, k.sheets), insertBatches.queue(b, k.batches))
}

func appendLinks[T ~string](out []lotLink, lot core.LotID, was, is []T) []lotLink {
	for i, x := range is {
		if x != "" && !slices.Contains(was, x) && !slices.Contains(is[:i], x) {
			out = append(out, lotLink{lot, string(x)})
		}
	}
	return out
}

// queueLots writes the lots touched and what recalls follow.
func (p *projection) queueLots(b *pgx.Batch) error {
	fresh, changed := make([]lotRow, 0, len(p.lots)), make([]lotRow, 0, len(p.lots))
	moved := make([]movedRow, 0, len(p.lots))
	var links lotLinks
	for _, id := range slices.Sorted(maps.Keys(p.lots)) {
		was, there := p.before.Lots[id]
		row := lotRowOf(p.after.Lots[id], p.book)
		switch {
		case !there:
			fresh = append(fresh, row)
		case !p.altered[id] && was.Live():
			moved = append(moved, row.moved())
			continue
		default:
			changed = append(changed, row)
		}
		links.add(was, row.Body.Lot)
	}
	if err := firstError(lotTable.queue(b, fresh, changed), movedTable.queue(b, nil, moved), links.queue(b)); err != nil {
		return err
	}
	for _, rows := range [][]lotRow{fresh, changed} {
		for _, r := range rows {
			p.written = append(p.written, r.Body)
		}
	}
	for _, r := range moved {
		p.written = append(p.written, r.Body)
	}
	return nil
}
