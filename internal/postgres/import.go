package postgres

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// errRefused rolls an import back whose last answer says why.
var errRefused = errors.New("a command of the import was refused")

// Import stores an import whole or not at all; see app.Importer. Everybody else
// is kept out meanwhile: what it was judged by can't change under it, and a
// reader of the log sees all of it at once.
func (s *Store) Import(ctx context.Context, which app.PlannedNames, plan func(app.Planned) (app.Bring, error), decide func(core.World, core.Command) core.Outcome) ([]app.Answer, error) {
	var i *importing
	err := retry(ctx, func() error {
		i = &importing{store: s, decide: decide, now: s.now()}
		return pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
			i.tx = tx
			return i.run(ctx, which, plan)
		})
	})
	switch {
	case errors.Is(err, errRefused):
		return i.answers, nil
	case err != nil:
		return nil, err
	}
	if i.stored {
		s.wakes.committed()
	}
	return i.answers, nil
}

// importing is one import under way.
type importing struct {
	store   *Store
	tx      pgx.Tx
	decide  func(core.World, core.Command) core.Outcome
	now     time.Time
	book    *core.Book
	codes   map[string]bool // drawn for this import: none is given twice
	answers []app.Answer
	stored  bool
}

func (i *importing) run(ctx context.Context, which app.PlannedNames, plan func(app.Planned) (app.Bring, error)) error {
	if _, err := i.tx.Exec(ctx, lockExclusiveSQL, int32(everybodysLock)); err != nil {
		return err
	}
	if err := i.readBook(ctx); err != nil {
		return err
	}
	planned, err := readPlanned(ctx, i.tx, i.book, &which)
	if err != nil {
		return err
	}
	bring, err := plan(planned)
	if err != nil {
		return err
	}
	if err := i.saveRows(ctx, bring); err != nil {
		return fmt.Errorf("store the catalogue: %w", err)
	}
	return i.carryOut(ctx, bring.Commands)
}

// readBook takes the book that is kept where it is the present one.
func (i *importing) readBook(ctx context.Context) error {
	var version int64
	if err := i.tx.QueryRow(ctx, "SELECT version FROM book_version").Scan(&version); err != nil {
		return err
	}
	if i.book = i.store.book.Load(); i.book != nil && i.book.Version == version {
		return nil
	}
	var err error
	i.book, err = readWholeBook(ctx, i.tx)
	return err
}

func (i *importing) saveRows(ctx context.Context, bring app.Bring) error {
	rows, err := bookRows(bring.Rows)
	if err != nil {
		return err
	}
	added, changed, err := i.store.saveBook(ctx, i.tx, bring.By, bring.Source, bring.Rows, rows)
	if err != nil || added+changed == 0 {
		return err
	}
	i.stored = true
	i.book, err = readWholeBook(ctx, i.tx)
	return err
}

// carryOut decides each command by the state that those before it leave, and
// records them all.
func (i *importing) carryOut(ctx context.Context, bidden []app.Bidden) error {
	known, err := i.recorded(ctx, bidden)
	if err != nil {
		return err
	}
	state, err := i.load(ctx, bidden, known)
	if err != nil {
		return err
	}
	p := newProjection(state, i.book)
	var commands []commandRow
	var events []app.Recorded
	for _, c := range bidden {
		if sha, done := known[c.ID]; done {
			if sha != c.SHA {
				return app.ErrOtherBody
			}
			i.answers = append(i.answers, app.Answer{Command: c.ID, Again: true})
			continue
		}
		answer, err := i.decideOne(c, p)
		if err != nil {
			return fmt.Errorf("command %s (%s): %w", c.ID, c.Body.Kind(), err)
		}
		i.answers = append(i.answers, answer)
		if answer.Refusal != nil {
			return errRefused
		}
		commands = append(commands, commandRowOf(command{c.Command, c.SHA, i.now}, answer))
		events = append(events, answer.Events...)
	}
	if len(commands) == 0 {
		return nil
	}
	i.stored = true
	p.settle()
	return i.write(ctx, p, events, commands)
}

func (i *importing) decideOne(c app.Bidden, p *projection) (app.Answer, error) {
	answer := app.Answer{Command: c.ID}
	w, err := i.world(c.Command, p.after)
	if err != nil {
		return answer, err
	}
	out := i.decide(w, c.Command)
	if answer.Refusal, answer.Notices = out.Refusal, out.Notices; out.Refusal != nil {
		return answer, nil
	}
	if len(out.Events) == 0 {
		return answer, errNothingDecided
	}
	for _, e := range out.Events {
		answer.Events = append(answer.Events, app.Recorded{Recorded: i.now, Command: c.ID, Device: c.Device, Event: e})
	}
	return answer, p.apply(out.Events)
}

// world is what one command may see of the state so far: the rows it names. All
// of it for each of thousands of commands would be copied as often.
func (i *importing) world(c core.Command, all *core.State) (core.World, error) {
	w, err := i.fresh(c.Body)
	if err != nil {
		return w, err
	}
	w.Now, w.Book, w.State = i.now, i.book, core.NewState()
	n := c.Body.Names()
	for _, no := range n.Orders {
		if o, there := all.Orders[no]; there {
			w.State.Orders[no] = o
		}
	}
	if n.Whole && len(n.Orders) > 0 {
		of := map[string]bool{}
		for _, no := range n.Orders {
			of[no] = true
		}
		for id, l := range all.Lots {
			if of[l.Owner.Order] {
				w.State.Lots[id] = l
			}
		}
	}
	for _, id := range n.Nests {
		if x, there := all.Nests[id]; there {
			w.State.Nests[id] = x
		}
	}
	w.State.Holds, w.State.Abrasives = all.Holds, all.Abrasives
	return w, nil
}

// fresh draws codes as Store.fresh does, no more than the command can use and
// none that this import has drawn before.
func (i *importing) fresh(body core.Body) (core.World, error) {
	if b, ok := body.(core.ReceiveGoods); ok && !isMetal(i.book.Items[b.Item].Kind) {
		b.Qty = 1 // bought goods come on one pallet, however many there are
		body = b
	}
	if i.codes == nil {
		i.codes = map[string]bool{}
	}
	for {
		w, err := i.store.fresh(body)
		if err != nil {
			return w, err
		}
		drawn := slices.Concat(texts(w.Fresh), texts(w.Codes.Sheets))
		if slices.ContainsFunc(drawn, func(c string) bool { return i.codes[c] }) {
			continue
		}
		for _, c := range drawn {
			i.codes[c] = true
		}
		return w, nil
	}
}

func isMetal(k core.ItemKind) bool { return k == core.SheetItem || k == core.BarItem }

// recorded finds the commands that were carried out before, with their hashes.
func (i *importing) recorded(ctx context.Context, bidden []app.Bidden) (map[core.CommandID][32]byte, error) {
	ids := make([]string, len(bidden))
	for n, c := range bidden {
		ids[n] = string(c.ID)
	}
	found, err := i.tx.Query(ctx, "SELECT id, body_sha FROM command WHERE id = ANY($1)", ids)
	if err != nil {
		return nil, err
	}
	out := map[core.CommandID][32]byte{}
	var id core.CommandID
	var sha []byte
	_, err = pgx.ForEachRow(found, []any{&id, &sha}, func() error { out[id] = [32]byte(sha); return nil })
	return out, err
}

// load reads the rows all commands name, at once.
func (i *importing) load(ctx context.Context, bidden []app.Bidden, known map[core.CommandID][32]byte) (*core.State, error) {
	sc := newScope(core.Names{}, "", i.book)
	for _, c := range bidden {
		if _, done := known[c.ID]; done {
			continue
		}
		n := c.Body.Names()
		more := newScope(n, c.Station, i.book)
		for kind, names := range more.names {
			if kind != anOrder && kind != aNest && kind != anAbrasive {
				return nil, fmt.Errorf("command %s (%s) names a %s; an import's names orders and nests only", c.ID, c.Body.Kind(), kind)
			}
			addAll(sc, kind, slices.Collect(maps.Keys(names)))
		}
		sc.whole = sc.whole || n.Whole && more.names[anOrder] != nil
	}
	b, r := &pgx.Batch{}, newRows(&i.store.known)
	sc.queueLoad(b, r)
	if err := i.tx.SendBatch(ctx, b).Close(); err != nil {
		return nil, fmt.Errorf("load: %w", err)
	}
	return r.whole(), nil
}

// write appends the events, brings the state up to date and keeps the answers.
func (i *importing) write(ctx context.Context, p *projection, events []app.Recorded, commands []commandRow) error {
	for part := range slices.Chunk(events, stretch) {
		b := &pgx.Batch{}
		if err := queueEvents(b, i.now, part, p.after.Lots); err != nil {
			return err
		}
		if err := i.tx.SendBatch(ctx, b).Close(); err != nil {
			return fmt.Errorf("record: %w", err)
		}
	}
	i.numberAnswers(events)
	b := &pgx.Batch{}
	if err := firstError(p.queue(b), insertCommands.queue(b, commands)); err != nil {
		return err
	}
	if err := i.tx.SendBatch(ctx, b).Close(); err != nil {
		return fmt.Errorf("record: %w", err)
	}
	return nil
}

// numberAnswers gives the answers' events the numbers they were recorded under.
func (i *importing) numberAnswers(events []app.Recorded) {
	at := 0
	for n := range i.answers {
		for k := range i.answers[n].Events {
			i.answers[n].Events[k].Seq = events[at].Seq
			at++
		}
	}
}
