package shopgen

import (
	"context"
	"io"
	"maps"
	"slices"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// memory is a store in memory, as far as making a demo shop needs one. Asking
// anything else of it panics.
type memory struct {
	app.Store
	clock     func() time.Time
	random    io.Reader
	shop      *app.Shop
	book      *core.Book
	state     *core.State
	events    []app.Recorded
	refusals  []app.RefusalRow
	answers   map[core.CommandID]app.Answer
	shas      map[core.CommandID][32]byte
	badges    map[[32]byte]app.Holder
	pins      map[core.PersonID]string
	codes     map[[32]byte]core.PersonID
	enrolment map[[32]byte]core.StationID
	tablets   map[[32]byte]app.Tablet
	sessions  map[[32]byte]core.PersonID
}

func newMemory(clock func() time.Time) *memory {
	return &memory{
		clock: clock, random: Random("codes"), state: core.NewState(),
		book: &core.Book{Routes: map[core.RouteRef]core.Route{}, Items: map[core.ItemRev]core.Revision{}, Stations: map[core.StationID]core.Station{},
			People: map[core.PersonID]core.Person{}, Instruments: map[string]core.Instrument{}, Batches: map[string]core.Batch{},
			Zone: time.UTC, Table: core.DefaultStages()},
		answers: map[core.CommandID]app.Answer{}, shas: map[core.CommandID][32]byte{}, badges: map[[32]byte]app.Holder{},
		pins: map[core.PersonID]string{}, codes: map[[32]byte]core.PersonID{}, enrolment: map[[32]byte]core.StationID{}, tablets: map[[32]byte]app.Tablet{},
		sessions: map[[32]byte]core.PersonID{},
	}
}

func (m *memory) Shop(context.Context) (app.Shop, error) {
	if m.shop == nil {
		return app.Shop{}, app.ErrNotFound
	}
	return *m.shop, nil
}

func (m *memory) Book(context.Context) (*core.Book, error) { return m.book, nil }

func (m *memory) SaveBook(_ context.Context, _ core.PersonID, _ string, rows app.BookRows) (int, int, error) {
	b := *m.book
	b.Routes, b.Items, b.Stations, b.People = maps.Clone(b.Routes), maps.Clone(b.Items), maps.Clone(b.Stations), maps.Clone(b.People)
	b.Instruments, b.Batches = maps.Clone(b.Instruments), maps.Clone(b.Batches)
	b.Version++
	if rows.Shop != nil {
		m.shop = rows.Shop
		zone, err := time.LoadLocation(rows.Shop.Zone)
		if err != nil {
			return 0, 0, err
		}
		b.Shop, b.Zone = rows.Shop.Name, zone
	}
	for _, x := range rows.Routes {
		b.Routes[x.RouteRef] = x
	}
	for _, x := range rows.Items {
		b.Items[x.ItemRev] = x
	}
	for _, x := range rows.Stations {
		b.Stations[x.ID] = x
	}
	for _, x := range rows.People {
		b.People[x.ID] = x
	}
	for _, x := range rows.Instruments {
		b.Instruments[x.ID] = x
	}
	for _, x := range rows.Batches {
		b.Batches[x.Batch] = x
	}
	m.book = &b
	return 0, 0, nil
}

// Import stores rows and carries out commands one after another: whether it is
// one transaction is the database's to show.
func (m *memory) Import(ctx context.Context, _ app.PlannedNames, plan func(app.Planned) (app.Bring, error), decide func(core.World, core.Command) core.Outcome) ([]app.Answer, error) {
	b, err := plan(app.Planned{Book: m.book})
	if err != nil {
		return nil, err
	}
	if _, _, err := m.SaveBook(ctx, b.By, b.Source, b.Rows); err != nil {
		return nil, err
	}
	var out []app.Answer
	for _, c := range b.Commands {
		a, err := m.Execute(ctx, c.Command, c.SHA, func(w core.World) core.Outcome { return decide(w, c.Command) })
		if err != nil {
			return out, err
		}
		if out = append(out, a); a.Refusal != nil {
			return out, nil
		}
	}
	return out, nil
}

func (m *memory) Execute(_ context.Context, c core.Command, sha [32]byte, decide func(core.World) core.Outcome) (app.Answer, error) {
	if first, there := m.answers[c.ID]; there {
		if m.shas[c.ID] != sha {
			return app.Answer{}, app.ErrOtherBody
		}
		first.Again = true
		return first, nil
	}
	w := core.World{Now: m.clock(), Book: m.book, State: m.state}
	for range 20 {
		w.Fresh = append(w.Fresh, core.PalletCode(m.code(code.Pallet)))
		w.Codes.Sheets = append(w.Codes.Sheets, core.PalletCode(m.code(code.Sheet)))
	}
	w.Codes.Builds = []core.BuildCode{core.BuildCode(m.code(code.Unit))}
	w.Codes.Consignments = []core.ConsignmentCode{core.ConsignmentCode(m.code(code.Consignment))}
	out := decide(w)
	a := app.Answer{Command: c.ID, Refusal: out.Refusal, Notices: out.Notices}
	for _, e := range out.Events {
		if err := core.Apply(m.state, e); err != nil {
			return a, err
		}
		r := app.Recorded{Seq: int64(len(m.events) + 1), Recorded: w.Now, Command: c.ID, Device: c.Device, Event: e}
		m.events = append(m.events, r)
		a.Events = append(a.Events, r)
	}
	m.answers[c.ID], m.shas[c.ID] = a, sha
	return a, nil
}

func (m *memory) code(k code.Kind) code.Code {
	c, err := code.New(k, m.random)
	if err != nil {
		panic(err)
	}
	return c
}

func (m *memory) NoteRefusal(_ context.Context, r app.RefusalRow) error {
	m.refusals = append(m.refusals, r)
	return nil
}

func (m *memory) Load(context.Context, core.Names, core.StationID) (core.World, error) {
	return core.World{Now: m.clock(), Book: m.book, State: m.state}, nil
}

func (m *memory) Lots(_ context.Context, ids []core.LotID) ([]core.Lot, error) {
	var out []core.Lot
	for _, id := range ids {
		if l, ok := m.state.Lots[id]; ok {
			out = append(out, l)
		}
	}
	return out, nil
}

func (m *memory) History(_ context.Context, q app.HistoryQuery) ([]app.Recorded, error) {
	var out []app.Recorded
	for _, e := range m.events {
		if len(out) < q.Limit && slices.ContainsFunc(e.Lots, func(c core.LotCount) bool { return c.Lot == q.Lot }) {
			out = append(out, e)
		}
	}
	return out, nil
}

func (m *memory) IssueBadge(_ context.Context, p core.PersonID, sha [32]byte, _ core.PersonID) error {
	for k, h := range m.badges {
		if h.Person == p {
			h.Revoked = true
			m.badges[k] = h
		}
	}
	m.badges[sha] = app.Holder{Person: p, Badge: m.clock()}
	return nil
}

func (m *memory) BadgeHolder(_ context.Context, sha [32]byte) (app.Holder, error) {
	h, ok := m.badges[sha]
	if !ok {
		return h, app.ErrNotFound
	}
	h.PINHash = m.pins[h.Person]
	return h, nil
}

func (m *memory) NewPINCode(_ context.Context, sha [32]byte, p core.PersonID, _ time.Time, _ core.PersonID) error {
	m.codes[sha] = p
	return nil
}

func (m *memory) UsePINCode(_ context.Context, sha [32]byte, p core.PersonID, hash string, _ time.Time) error {
	if m.codes[sha] != p {
		return app.ErrNotFound
	}
	delete(m.codes, sha)
	m.pins[p] = hash
	return nil
}

func (m *memory) Try(_ context.Context, _ core.PersonID, _ core.TabletID, f func(a, b app.Tries) (app.Tries, app.Tries, error)) error {
	_, _, err := f(app.Tries{}, app.Tries{})
	return err
}

func (m *memory) NewEnrolment(_ context.Context, sha [32]byte, s core.StationID, _ time.Time, _ core.PersonID) error {
	m.enrolment[sha] = s
	return nil
}

func (m *memory) Enrol(_ context.Context, code, secret [32]byte, id core.TabletID, now time.Time) (core.StationID, error) {
	s, ok := m.enrolment[code]
	if !ok {
		return "", app.ErrNotFound
	}
	m.tablets[secret] = app.Tablet{ID: id, Station: s, Enrolled: now}
	return s, nil
}

func (m *memory) TabletBySecret(_ context.Context, secret [32]byte) (app.Tablet, error) {
	t, ok := m.tablets[secret]
	if !ok {
		return t, app.ErrNotFound
	}
	return t, nil
}

func (m *memory) NewSession(_ context.Context, token [32]byte, p core.PersonID, _ time.Time) error {
	m.sessions[token] = p
	return nil
}

func (m *memory) Session(_ context.Context, token [32]byte, _ time.Time) (core.PersonID, error) {
	p, ok := m.sessions[token]
	if !ok {
		return "", app.ErrNotFound
	}
	return p, nil
}
