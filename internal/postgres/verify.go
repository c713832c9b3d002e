package postgres

import (
	"context"
	"fmt"
	"math"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
)

// Fault is something the record and the state disagree about.
type Fault struct {
	Kind FaultKind
	Ref  string // the event, row or order line it is about
	Says string // one sentence
}

func (f Fault) String() string { return fmt.Sprintf("%s %s: %s", f.Kind, f.Ref, f.Says) }

// FaultKind says which rule is broken.
type FaultKind string

const (
	FaultRecord  FaultKind = "record"  // rows beside an event don't say what the event says
	FaultEvent   FaultKind = "event"   // an event that can't be read or applied
	FaultDescent FaultKind = "descent" // parts that come from nothing or go nowhere in one event
	FaultOwner   FaultKind = "owner"   // parts that change hands where nobody lent them
	FaultCount   FaultKind = "count"   // a lot's count or place isn't that of its moves
	FaultRow     FaultKind = "row"     // a row isn't what the events make of it
	FaultOrder   FaultKind = "order"   // what an order line asks doesn't add up
	FaultPhoto   FaultKind = "photo"   // a photo that is missing, or is another than it was
)

// Report says how much was verified.
type Report struct {
	Events, Moves, Lots, Rows, OrderLines, Photos int
	Seq                                           int64 // the last event
	Short                                         []Shortage
}

// Shortage is an item that an order line asks for and that is neither shipped,
// nor live, nor still to be cut: not made yet, or lost. It is no fault.
type Shortage struct {
	Owner                       core.Owner
	Item                        core.ItemID
	Asked, Shipped, Live, ToCut int
	Unmade                      int // never made for this line, by the moves
	Lost                        int // made, then scrapped or missed, by the moves
}

// verification is one under way: in one snapshot, with what it found so far.
type verification struct {
	tx     pgx.Tx
	book   *core.Book
	state  *core.State // rebuilt from the events
	broken bool        // an event did not apply, so the rebuilt state proves nothing
	ledger ledger
	stored map[core.LotID]core.Lot // the rows
	shown  []shown
	report Report
	faults []Fault
}

func (v *verification) fault(kind FaultKind, ref, format string, args ...any) {
	v.faults = append(v.faults, Fault{kind, ref, fmt.Sprintf(format, args...)})
}

// Verify compares, in one snapshot, what is recorded with itself and with the
// state: the rows beside every event, every lot's count and place against its
// moves, every row against a rebuild from the events, what every order line asks
// against what there is, and the photos that events name. An error means it could not look; faults are what
// it found.
func (s *Store) Verify(ctx context.Context) (Report, []Fault, error) {
	var v verification
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.pool, options, func(tx pgx.Tx) (err error) {
		v = verification{tx: tx, state: core.NewState(), ledger: ledger{}, stored: map[core.LotID]core.Lot{}}
		// Here whole tables are read, once: plans as anywhere else.
		if _, err := tx.Exec(ctx, "SET LOCAL enable_seqscan = on; SET LOCAL plan_cache_mode = auto"); err != nil {
			return err
		}
		if v.book, err = readWholeBook(ctx, tx); err != nil {
			return err
		}
		for _, check := range []func(context.Context) error{v.events, v.indexes, v.commands, v.rows, v.counts, v.orders, v.photos} {
			if err := check(ctx); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return v.report, v.faults, fmt.Errorf("verify: %w", err)
	}
	return v.report, v.faults, nil
}

// stretch is how many events are read at a time.
const stretch = 2000

// loggedEvent is an event as its row says it.
type loggedEvent struct {
	seq     int64
	id      core.EventID
	kind    core.EventKind
	v       int
	payload []byte
	pallets []core.PalletCode
	lots    []core.LotID
}

func scanLogged(row pgx.CollectableRow) (loggedEvent, error) {
	var e loggedEvent
	err := row.Scan(&e.seq, &e.id, &e.kind, &e.v, &e.payload, &e.pallets, &e.lots)
	return e, err
}

const loggedSQL = `SELECT seq, id, kind, v, payload, pallets, lots FROM event WHERE seq > $1 ORDER BY seq LIMIT $2`

// events goes through the log in order, with the rows beside it.
func (v *verification) events(ctx context.Context) error {
	after := int64(math.MinInt64)
	for {
		found, err := v.tx.Query(ctx, loggedSQL, after, stretch)
		if err != nil {
			return err
		}
		logged, err := pgx.CollectRows(found, scanLogged)
		if err != nil {
			return err
		}
		upto := int64(math.MaxInt64) // the last stretch takes what hangs on no event
		if len(logged) == stretch {
			upto = logged[stretch-1].seq
		}
		beside, err := readBeside(ctx, v.tx, after, upto)
		if err != nil {
			return err
		}
		for _, e := range logged {
			v.event(e, beside)
		}
		beside.rest(v)
		if len(logged) < stretch {
			return nil
		}
		after = upto
	}
}

// event checks one event, the rows beside it and their moves, and applies it.
func (v *verification) event(logged loggedEvent, beside *beside) {
	v.report.Events++
	v.report.Seq = logged.seq
	moves := beside.moves[logged.seq]
	v.report.Moves += len(moves)
	for _, m := range moves {
		v.ledger.post(v, m, logged.id)
	}
	e, err := core.ReadEvent(logged.kind, logged.v, logged.payload)
	if err != nil {
		v.broken = true
		v.fault(FaultEvent, string(logged.id), "%v", err)
		return
	}
	if e.ID != logged.id {
		v.fault(FaultRecord, string(logged.id), "the event calls itself %s", e.ID)
	}
	beside.compare(v, logged, e)
	if len(e.Photos) > 0 {
		v.shown = append(v.shown, shown{e.ID, e.Photos})
	}
	if err := checkDescent(e); err != nil {
		v.fault(FaultDescent, string(e.ID), "%v", err)
	}
	v.owners(e)
	if v.broken {
		return
	}
	if err := core.Apply(v.state, e); err != nil {
		v.broken = true
		v.fault(FaultEvent, string(e.ID), "%v", err)
	}
}
