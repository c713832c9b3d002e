package postgres

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tagalong/internal/core"
)

// The rows of the state's tables: the body as the core knows it, and the columns
// that queries ask for, which follow from the body, the book and the lots.
type (
	lotRow struct {
		ID         core.LotID       `json:"id"`
		Item       core.ItemID      `json:"item"`
		Rev        string           `json:"rev"`
		OwnerOrder string           `json:"owner_order"`
		OwnerLine  int              `json:"owner_line"`
		PlaceKind  core.PlaceKind   `json:"place_kind"`
		PlaceRef   string           `json:"place_ref"`
		Qty        int              `json:"qty"`
		NextStage  core.StageName   `json:"next_stage"`
		NextStages []core.StageName `json:"next_stages"`
		Minutes    float64          `json:"minutes"`
		Promised   *core.Date       `json:"promised"`
		Arrived    *time.Time       `json:"arrived"`
		Begun      bool             `json:"begun"`
		Packed     bool             `json:"packed"`
		Shipped    bool             `json:"shipped"`
		Live       bool             `json:"live"`
		Lost       bool             `json:"lost"`   // nobody can find some of its parts
		Remake     core.ProblemID   `json:"remake"` // the problem it is made again for
		Accepted   bool             `json:"accepted"`
		Gauges     []string         `json:"gauges"` // it was measured with
		Body       *lotBody         `json:"body" stored:"json"`
	}
	// movedRow is what a move changes of a live lot's row.
	movedRow struct {
		ID        core.LotID     `json:"id"`
		PlaceKind core.PlaceKind `json:"place_kind"`
		PlaceRef  string         `json:"place_ref"`
		Qty       int            `json:"qty"`
		Minutes   float64        `json:"minutes"`
		Shipped   bool           `json:"shipped"`
		Live      bool           `json:"live"`
		Lost      bool           `json:"lost"`
		Body      *lotBody       `json:"body" stored:"json"`
	}
	palletRow struct {
		Code        core.PalletCode      `json:"code"`
		Kind        core.CarrierKind     `json:"kind"`
		Label       string               `json:"label"`
		Station     core.StationID       `json:"station"`
		Bound       core.StationID       `json:"bound"`
		Slot        string               `json:"slot"`
		Consignment core.ConsignmentCode `json:"consignment"`
		Since       *time.Time           `json:"since"`
		Live        bool                 `json:"live"`
		Body        core.PalletRow       `json:"body" stored:"json"`
	}
	buildRow struct {
		Code       core.BuildCode `json:"code"`
		Item       core.ItemID    `json:"item"`
		OwnerOrder string         `json:"owner_order"`
		OwnerLine  int            `json:"owner_line"`
		Lot        core.LotID     `json:"lot"`
		Body       core.Build     `json:"body"`
	}
	consignmentRow struct {
		Code     core.ConsignmentCode `json:"code"`
		Site     string               `json:"site"`
		Day      *core.Date           `json:"day"`
		Gone     *time.Time           `json:"gone"`
		Received *time.Time           `json:"received"`
		Owed     bool                 `json:"owed"` // carriers of the shop's own are to come back
		Body     core.Consignment     `json:"body"`
	}
	holdRow struct {
		ID       core.HoldID    `json:"id"`
		Scope    core.HoldScope `json:"scope"`
		Ref      string         `json:"ref"`
		Since    *time.Time     `json:"since"`
		At       time.Time      `json:"at"`
		Released *time.Time     `json:"released"`
		Body     core.Hold      `json:"body"`
	}
	problemRow struct {
		ID     core.ProblemID `json:"id"`
		Lot    core.LotID     `json:"lot"`
		At     time.Time      `json:"at"`
		Closed *time.Time     `json:"closed"`
		Body   core.Problem   `json:"body"`
	}
	abrasiveRow struct {
		ID   string        `json:"id"`
		Body core.Abrasive `json:"body"`
	}
	orderRow struct {
		No        string     `json:"no"`
		Customer  string     `json:"customer"`
		Reference string     `json:"reference"`
		Promised  *core.Date `json:"promised"`
		Priority  int        `json:"priority"`
		Body      core.Order `json:"body"`
	}
	nestRow struct {
		ID        string          `json:"id"`
		Sheet     core.PalletCode `json:"sheet"`
		Separated bool            `json:"separated"`
		Body      core.Nest       `json:"body"`
	}
	snagRow struct {
		ID          core.SnagID          `json:"id"`
		OrderNo     string               `json:"order_no"`
		Consignment core.ConsignmentCode `json:"consignment"`
		At          time.Time            `json:"at"`
		Closed      *time.Time           `json:"closed"`
		Body        core.Snag            `json:"body"`
	}
)

func lotRowOf(l core.Lot, b *core.Book) lotRow {
	row := lotRow{ID: l.ID, Item: l.Item.Item, Rev: l.Item.Rev, OwnerOrder: l.Owner.Order, OwnerLine: l.Owner.Line,
		PlaceKind: l.Place.Kind, PlaceRef: l.Place.Ref, Qty: l.Qty, NextStages: []core.StageName{},
		Promised: dateOrNull(l.Promised), Arrived: timeOrNull(l.Arrived), Begun: l.Started != nil,
		Packed:  l.Facts[core.Fact{Name: core.IsPacked}].Value == core.Yes,
		Shipped: l.Qty > 0 && (l.Place.Kind == core.InConsignment || l.Place.Kind == core.AtSite),
		Live:    l.Live(), Lost: l.Lost > 0, Remake: l.Remake, Gauges: slices.AppendSeq([]string{}, maps.Keys(l.Gauges)), Body: &lotBody{Lot: l}}
	_, row.Accepted = l.Facts[core.Fact{Name: core.IsAtClient}]
	slices.Sort(row.Gauges)
	for i, step := range core.NextSteps(b, l) {
		if i == 0 {
			row.NextStage, row.Minutes = step.Stage, step.Minutes*float64(l.Qty)
		}
		row.NextStages = append(row.NextStages, step.Stage)
	}
	return row
}

func (r lotRow) moved() movedRow {
	return movedRow{r.ID, r.PlaceKind, r.PlaceRef, r.Qty, r.Minutes, r.Shipped, r.Live, r.Lost, r.Body}
}

func palletRowOf(p core.PalletRow, live bool) palletRow {
	return palletRow{p.Code, p.Kind, p.Label, p.Station, p.Bound, p.Slot, p.Consignment, timeOrNull(p.Since), live, p}
}

func buildRowOf(b core.Build) buildRow {
	return buildRow{b.Code, b.Item.Item, b.Owner.Order, b.Owner.Line, b.Lot, b}
}

func consignmentRowOf(c core.Consignment) consignmentRow {
	return consignmentRow{c.Code, c.Site, dateOrNull(c.Day), timeOrNull(c.Gone), timeOrNull(c.Received), len(c.Owed()) > 0, c}
}

func holdRowOf(h core.Hold) holdRow {
	return holdRow{h.ID, h.Scope, h.Ref, timeOrNull(h.Since), storedTime(h.At), timeOrNull(h.Released), h}
}

func problemRowOf(p core.Problem) problemRow {
	return problemRow{p.ID, p.Lot, storedTime(p.At), timeOrNull(p.Closed), p}
}

func orderRowOf(o core.Order) orderRow {
	return orderRow{o.No, o.Customer, o.Reference, dateOrNull(o.Promised), o.Priority, o}
}

func nestRowOf(n core.Nest) nestRow { return nestRow{n.ID, n.Sheet, n.Separated, n} }

func snagRowOf(s core.Snag) snagRow {
	return snagRow{s.ID, s.Order, s.Consignment, storedTime(s.At), timeOrNull(s.Closed), s}
}

func dateOrNull(d core.Date) *core.Date {
	if d == "" {
		return nil
	}
	return &d
}

func timeOrNull(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = storedTime(t)
	return &t
}

// storedTime is t as the database keeps it.
func storedTime(t time.Time) time.Time { return t.UTC().Round(time.Microsecond) }

// table writes rows of T, whose JSON names are its columns and the first its key.
type table[T any] struct {
	name           string
	insert, update statement[T]
}

func newTable[T any](name string) table[T] {
	t := newRowType[T]()
	update := fmt.Sprintf("UPDATE %[1]s SET (%[2]s) = ROW (%[3]s) FROM %[4]s WHERE %[1]s.%[5]s = x.%[5]s",
		name, t.names(1), t.stored(1), t.given(1), t.columns[0].name)
	return table[T]{name, newInsert[T](name), statement[T]{t, update}}
}

var (
	lotTable         = newTable[lotRow]("lot")
	movedTable       = newTable[movedRow]("lot")
	palletTable      = newTable[palletRow]("pallet")
	buildTable       = newTable[buildRow]("build")
	consignmentTable = newTable[consignmentRow]("consignment")
	holdTable        = newTable[holdRow]("hold")
	problemTable     = newTable[problemRow]("problem")
	abrasiveTable    = newTable[abrasiveRow]("abrasive")
	orderTable       = newTable[orderRow]("orders")
	nestTable        = newTable[nestRow]("nest")
	snagTable        = newTable[snagRow]("snag")
)

// queue writes new and changed rows. A new row that is there already is an
// error (a code somebody took first), and so is a changed one that is not.
func (t table[T]) queue(b *pgx.Batch, fresh, changed []T) error {
	for part := range slices.Chunk(fresh, stretch) {
		if err := t.insert.queue(b, part); err != nil {
			return err
		}
	}
	for part := range slices.Chunk(changed, stretch) {
		if err := t.update.queue(b, part); err != nil {
			return err
		}
		b.QueuedQueries[len(b.QueuedQueries)-1].Exec(func(tag pgconn.CommandTag) error {
			if tag.RowsAffected() != int64(len(part)) {
				return fmt.Errorf("%d rows of %s changed instead of %d", tag.RowsAffected(), t.name, len(part))
			}
			return nil
		})
	}
	return nil
}
