package postgres

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// eventRow is a row of table event, without the columns the database fills.
type eventRow struct {
	ID         core.EventID      `json:"id"`
	CommandID  core.CommandID    `json:"command_id"`
	Kind       core.EventKind    `json:"kind"`
	V          int               `json:"v"`
	HappenedAt time.Time         `json:"happened_at"`
	RecordedAt time.Time         `json:"recorded_at"`
	Person     string            `json:"person"`
	Tablet     core.TabletID     `json:"tablet"`
	Station    core.StationID    `json:"station"`
	Stage      core.StageName    `json:"stage"`
	Corrects   *core.EventID     `json:"corrects"`
	Parts      int               `json:"parts"`
	Pallets    []core.PalletCode `json:"pallets"`
	Lots       []core.LotID      `json:"lots"`
	Device     core.Device       `json:"device"`
	Payload    *core.Event       `json:"payload" stored:"json"`
}

var insertEvents = func() statement[eventRow] {
	s := newInsert[eventRow]("event")
	s.sql += " RETURNING id, seq"
	return s
}()

// Rows of the tables that hang on an event by its number, which the database
// gives; here they say which of the events sent it is, from 1.
type (
	eventPalletRow struct {
		Nth    int             `json:"nth"`
		Pallet core.PalletCode `json:"pallet"`
	}
	eventLotRow struct {
		Nth int        `json:"nth"`
		Lot core.LotID `json:"lot"`
	}
	eventOrderRow struct {
		Nth     int    `json:"nth"`
		OrderNo string `json:"order_no"`
	}
	moveRow struct {
		Nth      int            `json:"nth"`
		N        int            `json:"n"`
		Lot      core.LotID     `json:"lot"`
		Item     core.ItemID    `json:"item"`
		Rev      string         `json:"rev"`
		FromKind core.PlaceKind `json:"from_kind"`
		FromRef  string         `json:"from_ref"`
		ToKind   core.PlaceKind `json:"to_kind"`
		ToRef    string         `json:"to_ref"`
		Qty      int            `json:"qty"`
	}
	signatureRow struct {
		Nth        int           `json:"nth"`
		N          int           `json:"n"`
		Person     core.PersonID `json:"person"`
		Meaning    core.Meaning  `json:"meaning"`
		At         time.Time     `json:"at"`
		Tablet     core.TabletID `json:"tablet"`
		PrintSeen  int           `json:"print_seen"`
		PrintState string        `json:"print_state"`
	}
	readingRow struct {
		Nth            int        `json:"nth"`
		N              int        `json:"n"`
		Lot            core.LotID `json:"lot"`
		Characteristic string     `json:"characteristic"`
		Met            bool       `json:"met"`
		Value          *float64   `json:"value"`
		Unit           string     `json:"unit"`
		Instrument     string     `json:"instrument"`
	}
	inputRow struct {
		Nth     int        `json:"nth"`
		N       int        `json:"n"`
		Kind    string     `json:"kind"`
		Batch   string     `json:"batch"`
		Colour  string     `json:"colour"`
		Expires *core.Date `json:"expires"`
	}
)

// hanging is the statement that adds rows of T to events. Each event is named
// and looked up once, however many rows hang on it.
type hanging[T any] struct{ statement[T] }

func newHanging[T any](table string) hanging[T] {
	t := newRowType[T]()
	return hanging[T]{statement[T]{t, fmt.Sprintf(`
		WITH its AS MATERIALIZED (SELECT e.seq, u.nth FROM unnest($1::text[]) WITH ORDINALITY AS u(id, nth) JOIN event e USING (id))
		INSERT INTO %s (seq, %s) SELECT its.seq, %s FROM %s JOIN its USING (nth)`, table, t.names(1), t.stored(1), t.given(2))}}
}

func (h hanging[T]) queue(b *pgx.Batch, events []string, rows []T) error {
	return h.statement.queue(b, rows, events)
}

var (
	insertEventPallets = newHanging[eventPalletRow]("event_pallet")
	insertEventLots    = newHanging[eventLotRow]("event_lot")
	insertEventOrders  = newHanging[eventOrderRow]("event_order")
	insertMoves        = newHanging[moveRow]("move")
	insertSignatures   = newHanging[signatureRow]("signature")
	insertReadings     = newHanging[readingRow]("reading")
	insertInputs       = newHanging[inputRow]("step_input")
)

// queueEvents appends events and what hangs on them; about are the lots
// they are about. When the batch has been sent, the events know
// their numbers.
func queueEvents(b *pgx.Batch, now time.Time, events []app.Recorded, about map[core.LotID]core.Lot) error {
	var ids []string
	var own []eventRow
	var on []eventPalletRow
	var lots []eventLotRow
	var orders []eventOrderRow
	var moves []moveRow
	var signed []signatureRow
	var readings []readingRow
	var inputs []inputRow
	for i := range events {
		row, nth := newEventRow(&events[i], now), i+1
		ids, own = append(ids, string(row.ID)), append(own, row)
		for _, p := range row.Pallets {
			on = append(on, eventPalletRow{nth, p})
		}
		for _, l := range row.Lots {
			lots = append(lots, eventLotRow{nth, l})
		}
		for _, no := range ordersOf(events[i].Event, row.Lots, about) {
			orders = append(orders, eventOrderRow{nth, no})
		}
		moves = append(moves, moveRows(nth, events[i].Event)...)
		signed = append(signed, signatureRows(nth, events[i].Event)...)
		readings = append(readings, readingRows(nth, events[i].Event)...)
		inputs = append(inputs, inputRows(nth, events[i].Event)...)
	}
	if err := insertEvents.queue(b, own); err != nil {
		return err
	}
	b.QueuedQueries[len(b.QueuedQueries)-1].Query(func(found pgx.Rows) error { return numberEvents(found, events) })
	return firstError(
		insertEventPallets.queue(b, ids, on), insertEventLots.queue(b, ids, lots), insertEventOrders.queue(b, ids, orders),
		insertMoves.queue(b, ids, moves), insertSignatures.queue(b, ids, signed), insertReadings.queue(b, ids, readings), insertInputs.queue(b, ids, inputs), queuePhotoNames(b, events))
}

func numberEvents(found pgx.Rows, events []app.Recorded) error {
	seqs := map[core.EventID]int64{}
	var id core.EventID
	var seq int64
	_, err := pgx.ForEachRow(found, []any{&id, &seq}, func() error { seqs[id] = seq; return nil })
	for i := range events {
		events[i].Seq = seqs[events[i].ID]
	}
	return err
}

func newEventRow(e *app.Recorded, now time.Time) eventRow {
	row := eventRow{ID: e.ID, CommandID: e.Command, Kind: e.Kind, V: e.V, HappenedAt: e.Happened, RecordedAt: now,
		Person: firstSigner(e.Signed), Tablet: e.Device.Tablet, Station: e.Station, Stage: e.Stage,
		Pallets: palletsOf(e.Event), Lots: lotsOf(e.Event), Device: e.Device, Payload: &e.Event}
	if e.Corrects != "" {
		row.Corrects = &e.Corrects
	}
	for _, l := range e.Event.Lots {
		row.Parts += l.Good
	}
	return row
}

// palletsOf lists every pallet an event is about: those it names, puts, or
// moves parts from or to.
func palletsOf(e core.Event) []core.PalletCode {
	out := slices.Clone(e.Pallets)
	for _, f := range e.Effects {
		switch {
		case f.PalletPut != nil:
			out = append(out, f.PalletPut.Code)
		case f.Moved != nil:
			for _, p := range []core.Place{f.Moved.From, f.Moved.To} {
				if p.Kind == core.OnPallet {
					out = append(out, core.PalletCode(p.Ref))
				}
			}
		}
	}
	return distinct(out)
}

// lotsOf lists every lot an event is about: those it counts or changes.
func lotsOf(e core.Event) []core.LotID {
	var out []core.LotID
	for _, l := range e.Lots {
		out = append(out, l.Lot)
	}
	for _, f := range e.Effects {
		if id := f.Lot(); id != "" {
			out = append(out, id)
		}
	}
	return distinct(out)
}

// ordersOf lists every order that owns one of the lots an event is about. Whose a
// lot is is settled when it is born: a change of owner bears another.
func ordersOf(e core.Event, about []core.LotID, lots map[core.LotID]core.Lot) []string {
	var out []string
	for _, id := range about {
		no := lots[id].Owner.Order
		if _, loaded := lots[id]; !loaded {
			no = countedFor(e, id).Order
		}
		if no != "" && !slices.Contains(out, no) {
			out = append(out, no)
		}
	}
	return out
}

// countedFor is whose a lot is by the counts of an event.
func countedFor(e core.Event, id core.LotID) core.Owner {
	for _, c := range e.Lots {
		if c.Lot == id {
			return c.Owner
		}
	}
	return core.Owner{}
}

// distinct sorts and drops doubles; never nil.
func distinct[T ~string](in []T) []T {
	slices.Sort(in)
	return append([]T{}, slices.Compact(in)...)
}

func moveRows(nth int, e core.Event) []moveRow {
	var out []moveRow
	for _, f := range e.Effects {
		if m := f.Moved; m != nil {
			out = append(out, moveRow{nth, len(out) + 1, m.Lot, m.Item.Item, m.Item.Rev, m.From.Kind, m.From.Ref, m.To.Kind, m.To.Ref, m.Qty})
		}
	}
	return out
}

func signatureRows(nth int, e core.Event) []signatureRow {
	var out []signatureRow
	for i, s := range e.Signed {
		out = append(out, signatureRow{nth, i + 1, s.Person, s.Meaning, storedTime(s.At), s.Tablet, s.PrintSeen, s.PrintState})
	}
	return out
}

func readingRows(nth int, e core.Event) []readingRow {
	var out []readingRow
	for i, r := range e.Checks {
		out = append(out, readingRow{nth, i + 1, r.Lot, r.Characteristic, r.Met, r.Value, r.Unit, r.Instrument})
	}
	return out
}

func inputRows(nth int, e core.Event) []inputRow {
	var out []inputRow
	for i, in := range e.Inputs {
		out = append(out, inputRow{nth, i + 1, in.Kind, in.Batch, in.Colour, dateOrNull(in.Expires)})
	}
	return out
}

// recordedColumns are what recorded reads, from event e.
const recordedColumns = "e.seq, e.recorded_at, e.command_id, e.device, e.kind, e.v, e.payload"

func recorded(row pgx.CollectableRow) (app.Recorded, error) { return scanRecorded(row) }

// scanRecorded reads an event that stands after the columns read into before.
func scanRecorded(row interface{ Scan(into ...any) error }, before ...any) (app.Recorded, error) {
	var r app.Recorded
	var device, payload []byte
	var kind core.EventKind
	var v int
	if err := row.Scan(append(before, &r.Seq, &r.Recorded, &r.Command, &device, &kind, &v, &payload)...); err != nil {
		return r, err
	}
	if err := json.Unmarshal(device, &r.Device); err != nil {
		return r, fmt.Errorf("event %d: %w", r.Seq, err)
	}
	r.Recorded = r.Recorded.UTC()
	var err error
	r.Event, err = core.ReadEvent(kind, v, payload)
	return r, err
}

// scanEvent reads kind, v and payload.
func scanEvent(row pgx.CollectableRow) (core.Event, error) {
	var kind core.EventKind
	var v int
	var payload []byte
	if err := row.Scan(&kind, &v, &payload); err != nil {
		return core.Event{}, err
	}
	return core.ReadEvent(kind, v, payload)
}
