package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// Imported says what an import brought, by kind of row in the order of the
// files, and what is worth knowing of it.
type Imported struct {
	Rows  []ImportCount
	Notes []intake.Note
}

// ImportCount counts one kind of row of an import.
type ImportCount struct {
	What    string // "items"
	Added   int    // not known before
	Changed int    // known in another form
	Same    int    // known in just this form: nothing was stored
}

// Added counts what is new or changed; nought means the shop knew it all.
func (i Imported) Added() int {
	n := 0
	for _, c := range i.Rows {
		n += c.Added + c.Changed
	}
	return n
}

// Import reads a folder of CSV files whole and brings into the shop what it
// does not have yet, in one transaction. Where a line is wrong it returns every
// fault. Then, as after any error, nothing was stored. The same folder again
// stores nothing. Source is where the files came from, for the record; by is
// who imports, empty on the command line of the server's machine.
func (s *Service) Import(ctx context.Context, by core.PersonID, source string, files fs.FS) (Imported, []intake.Fault, error) {
	return s.importFolder(ctx, importer{id: by, all: true}, source, intake.Open(files))
}

// ImportBundle brings in what was read before; see [Service.Import].
func (s *Service) ImportBundle(ctx context.Context, by core.PersonID, source string, b intake.Bundle) (Imported, error) {
	var out Imported
	err := s.bring(ctx, by, namesOf(b.Asks()), func(k intake.Known) (Bring, error) {
		var bring Bring
		var err error
		out, bring, err = s.brought(by, source, b, k)
		return bring, err
	})
	return out, err
}

// importer is who imports: all says that they may change people too.
type importer struct {
	id  core.PersonID
	all bool
}

// errFaulty ends an import whose files are wrong.
var errFaulty = errors.New("lines of the files are wrong")

func (s *Service) importFolder(ctx context.Context, by importer, source string, folder *intake.Folder) (Imported, []intake.Fault, error) {
	var out Imported
	var faults []intake.Fault
	err := s.bring(ctx, by.id, namesOf(folder.Asks()), func(k intake.Known) (Bring, error) {
		var bundle intake.Bundle
		if bundle, faults = readAs(by, folder, k); len(faults) > 0 {
			return Bring{}, errFaulty
		}
		var bring Bring
		var err error
		out, bring, err = s.brought(by.id, source, bundle, k)
		return bring, err
	})
	if errors.Is(err, errFaulty) {
		return Imported{}, faults, nil
	}
	if err != nil {
		return Imported{}, nil, err
	}
	return out, nil, nil
}

// bring runs one import; plan makes of what the shop has what is to be stored.
func (s *Service) bring(ctx context.Context, by core.PersonID, names PlannedNames, plan func(intake.Known) (Bring, error)) error {
	var bidden []Bidden
	answers, err := s.Store.Import(ctx, names, func(p Planned) (Bring, error) {
		b, err := plan(knownOf(p))
		bidden = b.Commands
		return b, err
	}, s.Decide)
	switch {
	case errors.Is(err, errFaulty), errors.Is(err, ErrPlanMoved):
		return err
	case errors.Is(err, ErrOtherBody):
		return Refuse("id-used")
	case err != nil:
		return fmt.Errorf("import: %w", err)
	case len(answers) == 0 || answers[len(answers)-1].Refusal == nil:
		return nil
	}
	refusal := *answers[len(answers)-1].Refusal
	c := bidden[len(answers)-1]
	row := RefusalRow{At: s.Clock(), Command: c.ID, Kind: c.Body.Kind(), Station: c.Station, Person: by, Refusal: refusal}
	if err := s.Store.NoteRefusal(ctx, row); err != nil {
		return fmt.Errorf("record the refusal: %w", err)
	}
	return &ImportRefused{Of: labelOf(c.Body), Refused: &Refused{Refusal: refusal}}
}

// ImportRefused is the error of an import that a rule of the shop refused, whole.
type ImportRefused struct {
	Of      string // the line it was about: "delivery D-2609"
	Refused *Refused
}

func (r *ImportRefused) Error() string { return r.Of + ": " + r.Refused.Error() }

// Unwrap is the rule's own refusal.
func (r *ImportRefused) Unwrap() error { return r.Refused }

// labelOf is which line of the files a command came of.
func labelOf(b core.Body) string {
	g, ok := b.(core.ReceiveGoods)
	switch {
	case !ok:
		return "orders and nests"
	case g.Qty == 1 && g.Heat != "":
		return "sheet or delivery " + g.Label
	}
	return "delivery " + g.Label
}

// brought is what is stored of a bundle, and how it is counted.
func (s *Service) brought(by core.PersonID, source string, b intake.Bundle, k intake.Known) (Imported, Bring, error) {
	news := b.News(k)
	bring := Bring{By: by, Source: source, Rows: BookRows{Routes: news.Routes, Items: news.Items, Stations: news.Stations,
		People: news.People, Instruments: news.Instruments, Batches: news.Batches}}
	var err error
	bring.Commands, err = s.bidden(by, source, news, goodsIn(k.Book, news.Stations))
	return countsOf(b, news, k), bring, err
}

// countsOf says how many rows of each kind were new, changed or the same.
func countsOf(all, news intake.Bundle, k intake.Known) Imported {
	return Imported{Notes: all.Notes, Rows: []ImportCount{
		countNews("stations", all.Stations, news.Stations, func(x core.Station) bool { _, ok := k.Book.Stations[x.ID]; return ok }),
		countNews("people", all.People, news.People, func(x core.Person) bool { _, ok := k.Book.People[x.ID]; return ok }),
		countNews("instruments", all.Instruments, news.Instruments, func(x core.Instrument) bool { _, ok := k.Book.Instruments[x.ID]; return ok }),
		countNews("batches", all.Batches, news.Batches, func(x core.Batch) bool { _, ok := k.Book.Batches[x.Batch]; return ok }),
		countNews("routes", all.Routes, news.Routes, func(x core.Route) bool { _, ok := k.Book.Routes[x.RouteRef]; return ok }),
		countNews("items", all.Items, news.Items, func(x core.Revision) bool { _, ok := k.Book.Items[x.ItemRev]; return ok }),
		countNews("orders", all.Orders, news.Orders, func(x core.Order) bool { _, ok := k.Orders[x.No]; return ok }),
		countNews("nests", all.Nests, news.Nests, func(x core.Nest) bool { _, ok := k.Nests[x.ID]; return ok }),
		countNews("sheets", all.Sheets, news.Sheets, func(intake.Sheet) bool { return false }),
		countNews("deliveries", all.Bought, news.Bought, func(intake.Bought) bool { return false }),
	}}
}

func countNews[T any](what string, all, news []T, known func(T) bool) ImportCount {
	c := ImportCount{What: what, Same: len(all) - len(news)}
	for _, x := range news {
		if known(x) {
			c.Changed++
		} else {
			c.Added++
		}
	}
	return c
}
