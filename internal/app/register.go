package app

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"tagalong/internal/core"
)

// mostRegister bounds the register of one period.
const mostRegister = 5000

// RegisterQuery chooses nonconformities by when they were found, [From, To); by
// the stage they came about at, where it is not known the one they were found
// at; and those still open.
type RegisterQuery struct {
	From, To time.Time
	Arose    core.StageName // empty: any
	Open     bool
}

// RegisterEntry is a nonconformity with the lot it was found on as it is now.
type RegisterEntry struct {
	Problem core.Problem
	Lot     core.Lot
	Cut     bool // a remake's nest was broken out
}

// Register is the record of nonconforming parts of a period. It holds what
// ISO 9001:2015, 8.7.2 asks to be retained of each: what was not as it should
// be, what was done, concessions obtained, and who decided.
type Register struct {
	AsOf  time.Time
	Query RegisterQuery
	Rows  []RegisterRow
	Sums  []RegisterSum // by the stage they came about at, the dearest first
	More  bool          // there are more than are listed
	Arose []core.Stage  // to choose from
}

// RegisterRow is one nonconformity in words.
type RegisterRow struct {
	core.Problem
	Name       string // of the item
	Item       core.ItemRev
	Owner      core.Owner
	FoundAt    string // stage, station or site
	CameFrom   string // title of the stage it came about at; empty: nobody has said
	Reporter   string
	Decision   string   // "rework"; empty while it is open
	Deciders   []string // who decided, in the order they signed
	Concession bool     // used as it is: two people agreed
	Stands     string   // of a remake: "asked for", "cut again"
}

// RegisterSum is what came about at one stage.
type RegisterSum struct {
	Stage string // title; "not said yet"
	Count int
	Parts int
	Hours float64
}

// Register reads the register.
func (s *Service) Register(ctx context.Context, q RegisterQuery) (Register, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return Register{}, err
	}
	r := Register{AsOf: inZone(s.Clock(), b), Query: q, Arose: stagesOf(b)}
	entries, err := s.Store.Register(ctx, q, mostRegister+1)
	if err != nil {
		return r, err
	}
	if r.More = len(entries) > mostRegister; r.More {
		entries = entries[:mostRegister]
	}
	for _, e := range entries {
		r.Rows = append(r.Rows, registerRow(b, e))
	}
	r.Sums = registerSums(r.Rows)
	return r, nil
}

// stagesOf lists the stages in the order of work.
func stagesOf(b *core.Book) []core.Stage {
	var out []core.Stage
	for _, n := range b.Table.Order {
		if st, ok := b.Table.Stage(n); ok {
			out = append(out, st)
		}
	}
	return out
}

func registerRow(b *core.Book, e RegisterEntry) RegisterRow {
	p := e.Problem
	p.At, p.Closed = inZone(p.At, b), inZone(p.Closed, b)
	row := RegisterRow{Problem: p, Name: itemName(b, e.Lot.Item), Item: e.Lot.Item, Owner: e.Lot.Owner, Reporter: PersonName(b, p.By)}
	var at []string
	if st, ok := b.Table.Stage(p.Stage); ok {
		at = append(at, st.Title)
	}
	if name := stationName(b, p.Station); name != "" {
		at = append(at, name)
	}
	row.FoundAt = strings.Join(at, ", ")
	if st, ok := b.Table.Stage(p.Arose); ok {
		row.CameFrom = st.Title
	}
	if p.Open() {
		return row
	}
	row.Decision, row.Concession = dispositionText(p.Disposition), p.Disposition == core.DisposeUseAsIs
	if p.Disposition == "" {
		row.Decision = "taken back"
	}
	for _, id := range p.Disposers {
		row.Deciders = append(row.Deciders, PersonName(b, id))
	}
	if p.Disposition == core.DisposeRemake {
		row.Stands = "to be cut again"
		if e.Cut {
			row.Stands = "cut again"
		}
	}
	return row
}

// registerSums adds up by where the faults came about.
func registerSums(rows []RegisterRow) []RegisterSum {
	by := map[string]*RegisterSum{}
	for _, r := range rows {
		name := cmp.Or(r.CameFrom, "not said yet")
		if by[name] == nil {
			by[name] = &RegisterSum{Stage: name}
		}
		by[name].Count++
		by[name].Parts += r.Qty
		by[name].Hours += r.Hours
	}
	var out []RegisterSum
	for _, s := range by {
		out = append(out, *s)
	}
	slices.SortFunc(out, func(a, b RegisterSum) int {
		return cmp.Or(cmp.Compare(b.Hours, a.Hours), cmp.Compare(b.Count, a.Count), cmp.Compare(a.Stage, b.Stage))
	})
	return out
}

// MissingEntry is a lot with parts nobody can find, and the count that found
// them gone.
type MissingEntry struct {
	Lot     core.Lot
	From    string // code of the pallet, sheet or consignment they were missed on
	Qty     int    // in that count
	At      time.Time
	Station core.StationID
	Person  core.PersonID
}

// MissingRow is one of them in words.
type MissingRow struct {
	MissingEntry
	Name    string
	Station string
	Who     string
}

// Missing lists what nobody can find, the latest first.
func (s *Service) Missing(ctx context.Context) ([]MissingRow, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return nil, err
	}
	all, err := s.Store.Missing(ctx, 200)
	if err != nil {
		return nil, err
	}
	var out []MissingRow
	for _, e := range all {
		e.At = inZone(e.At, b)
		out = append(out, MissingRow{e, itemName(b, e.Lot.Item), stationName(b, e.Station), PersonName(b, e.Person)})
	}
	return out, nil
}
