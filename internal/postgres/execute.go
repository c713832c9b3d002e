package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Execute records what decide makes of a command, in one transaction. See
// app.Ledger for what it promises, lock.go for why two commands can't deadlock.
//
// The rows a command names may lead to rows it did not name: a lot to its
// pallet. Those must be locked before they are read, so the transaction is then
// given up and begun again with all of them, which costs one round trip.
func (s *Store) Execute(ctx context.Context, c core.Command, sha [32]byte, decide func(core.World) core.Outcome) (app.Answer, error) {
	var answer app.Answer
	err := retry(ctx, func() (err error) {
		answer, err = s.execute(ctx, c, sha, decide)
		return err
	})
	if err != nil {
		return app.Answer{}, fmt.Errorf("command %s (%s): %w", c.ID, c.Body.Kind(), err)
	}
	if !answer.Again && len(answer.Events) > 0 {
		s.wakes.committed()
	}
	return answer, nil
}

func (s *Store) execute(ctx context.Context, c core.Command, sha [32]byte, decide func(core.World) core.Outcome) (app.Answer, error) {
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return app.Answer{}, fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Release()
	tx := &transaction{conn: conn.Conn()}
	defer tx.end(ctx)

	sc := newScope(c.Body.Names(), c.Station, s.book.Load())
	for range maxPasses {
		w, first, err := s.prepare(ctx, tx, c, sc)
		switch {
		case err != nil:
			return app.Answer{}, err
		case first == nil:
		case [32]byte(first.bodySHA) != sha:
			return app.Answer{}, app.ErrOtherBody
		default:
			return again(ctx, tx, first)
		}
		if w.State == nil {
			continue // more rows were found than locked
		}
		out := decide(w)
		p, err := project(w.State, w.Book, out.Events)
		if err != nil {
			return app.Answer{}, err
		}
		if p.lockMore(sc) {
			continue
		}
		answer, err := record(ctx, tx, command{c, sha, w.Now}, out, p)
		if err == nil {
			s.known.keep(p.written)
		}
		return answer, err
	}
	return app.Answer{}, errMoved
}

// prepare begins the transaction, locks and loads. Where the command was
// answered before, it returns that answer; where the rows found lead to others,
// the scope has grown and the world has no state.
func (s *Store) prepare(ctx context.Context, tx *transaction, c core.Command, sc *scope) (core.World, *answered, error) {
	w, err := s.fresh(c.Body)
	if err != nil {
		return w, nil, err
	}
	book := s.book.Load()
	b, r := &pgx.Batch{}, newRows(&s.known)
	var first *answered
	var version int64
	tx.begin(b, "")
	queueCommandLock(b, string(c.ID))
	queueAnswered(b, string(c.ID), &first)
	queueLocks(b, sc.locks(), sc.alone)
	sc.queueLoad(b, r)
	b.Queue("SELECT version FROM book_version").QueryRow(func(row pgx.Row) error { return row.Scan(&version) })
	if err := tx.conn.SendBatch(ctx, b).Close(); err != nil {
		return w, nil, fmt.Errorf("load: %w", err)
	}
	if first != nil {
		return w, first, nil
	}
	if version != book.Version {
		if book, err = s.readBook(ctx, tx.conn, version); err != nil {
			return w, nil, err
		}
	}
	followed, mounted := sc.follow(r.state, r.past), sc.addAbrasive(book)
	if followed || mounted {
		return w, nil, nil
	}
	w.Now, w.Book, w.State, w.Past = s.now(), book, r.whole(), r.past
	return w, nil, nil
}

// command is one under way.
type command struct {
	core.Command
	sha [sha256.Size]byte
	now time.Time
}

var errNothingDecided = errors.New("the decision came to neither events nor a refusal")

// record appends the outcome, brings the state up to date and commits.
func record(ctx context.Context, tx *transaction, c command, out core.Outcome, p *projection) (app.Answer, error) {
	answer := app.Answer{Command: c.ID, Refusal: out.Refusal, Notices: out.Notices}
	b := &pgx.Batch{}
	switch {
	case out.Refusal != nil:
		if err := queueRefusal(b, c, out.Refusal); err != nil {
			return answer, err
		}
	case len(out.Events) == 0:
		return answer, errNothingDecided
	default:
		for _, e := range out.Events {
			answer.Events = append(answer.Events, app.Recorded{Recorded: c.now, Command: c.ID, Device: c.Device, Event: e})
		}
		if err := queueOutcome(b, c.now, answer.Events, p); err != nil {
			return answer, err
		}
	}
	if err := queueCommand(b, c, answer); err != nil {
		return answer, err
	}
	if err := tx.commit(ctx, b); err != nil {
		return answer, fmt.Errorf("record: %w", err)
	}
	return answer, nil
}

// queueOutcome queues events and what they make of the rows. To write both down
// is most of the server's own work on a command of many lots, so they are
// written side by side.
func queueOutcome(b *pgx.Batch, now time.Time, events []app.Recorded, p *projection) error {
	state, written := &pgx.Batch{}, make(chan error, 1)
	go func() { written <- p.queue(state) }()
	err := firstError(queueEvents(b, now, events, p.after.Lots), <-written)
	b.QueuedQueries = append(b.QueuedQueries, state.QueuedQueries...)
	return err
}

// answered is a command's first answer as stored.
type answered struct {
	bodySHA []byte
	answer  []byte
	events  []string
}

func queueAnswered(b *pgx.Batch, id string, first **answered) {
	b.Queue("SELECT body_sha, answer, events FROM command WHERE id = $1", id).QueryRow(func(row pgx.Row) error {
		var a answered
		err := row.Scan(&a.bodySHA, &a.answer, &a.events)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		*first = &a
		return err
	})
}

// again is the first answer, given once more.
func again(ctx context.Context, tx *transaction, first *answered) (app.Answer, error) {
	var answer app.Answer
	if err := json.Unmarshal(first.answer, &answer); err != nil {
		return answer, fmt.Errorf("read the first answer: %w", err)
	}
	answer.Again = true
	if len(first.events) == 0 {
		return answer, nil
	}
	found, err := tx.conn.Query(ctx, "SELECT "+recordedColumns+" FROM event e WHERE e.id = ANY($1) ORDER BY e.seq", first.events)
	if err != nil {
		return answer, fmt.Errorf("read the first answer: %w", err)
	}
	answer.Events, err = pgx.CollectRows(found, recorded)
	return answer, err
}

// commandRow is a row of table command.
type commandRow struct {
	ID         core.CommandID `json:"id"`
	Kind       string         `json:"kind"`
	BodySHA    []byte         `json:"body_sha"`
	RecordedAt time.Time      `json:"recorded_at"`
	Answer     app.Answer     `json:"answer"`
	Events     []string       `json:"events"`
}

var insertCommands = newInsert[commandRow]("command")

func commandRowOf(c command, answer app.Answer) commandRow {
	ids := []string{}
	for _, e := range answer.Events {
		ids = append(ids, string(e.ID))
	}
	answer.Events = nil // they are read from the record
	return commandRow{c.ID, c.Body.Kind(), c.sha[:], c.now, answer, ids}
}

func queueCommand(b *pgx.Batch, c command, answer app.Answer) error {
	return insertCommands.queue(b, []commandRow{commandRowOf(c, answer)})
}

func queueRefusal(b *pgx.Batch, c command, r *core.Refusal) error {
	values, err := refusalValues(app.RefusalRow{At: c.now, Command: c.ID, Kind: c.Body.Kind(), Station: c.Station,
		Person: core.PersonID(firstSigner(c.Signers)), Refusal: *r, Pallets: c.Body.Names().Pallets})
	if err != nil {
		return err
	}
	b.Queue(insertRefusalSQL, values...)
	return nil
}

func firstSigner(signed []core.Signature) string {
	if len(signed) == 0 {
		return ""
	}
	return string(signed[0].Person)
}
