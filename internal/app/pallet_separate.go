package app

import (
	"context"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// SheetPage is a cut sheet or bar at a bench, with one nest to tick off.
type SheetPage struct {
	Pallet  core.PalletRow
	Lot     core.Lot
	Item    core.Revision
	Here    bool
	Place   string
	Cut     bool
	Nests   []core.Nest // it may have been cut for; one where that is known
	Nest    core.Nest   // the one chosen; zero while there are several
	Lines   []NestLine
	Checks  []core.Characteristic // of the sheet's own step
	Fresh   []FreshPallet         // suggested, by letter
	Pallets []BenchPallet         // at the bench already
	Hands   bool                  // left and right hands of one part lie on the sheet
	Mass    float64               // kg of all parts asked; 0: not known
}

// NestLine is one line of the nest, with where its parts are suggested to go.
type NestLine struct {
	core.NestPart
	Revision core.Revision
	Customer string
	Promised core.Date
	Next     string                // title of the stage its parts go to
	To       string                // "new:A", or the code of a pallet at the bench
	Twin     string                // name of the look-alike of the other hand, on the same nest
	Checks   []core.Characteristic // of the part's own cut and separate steps
}

// FreshPallet is a pallet yet to be made.
type FreshPallet struct {
	Key  string // "new:A"
	Name string // "new A: Fold, order O-4101"
}

// BenchPallet is a pallet at the bench that parts may join.
type BenchPallet struct {
	Code  core.PalletCode
	Name  string // what it carries and waits for
	Metal core.Metal
	Apart bool // bare steel would lie on bare aluminium
	next  core.StageName
	order string
}

// SheetPage reads a sheet for the caller's bench. Nest chooses among several.
// The error is ErrNotFound where the code names no sheet with parts to break out.
func (s *Service) SheetPage(ctx context.Context, caller Caller, sheet core.PalletCode, nest string) (SheetPage, error) {
	cards, err := s.Store.OpenSheets(ctx)
	if err != nil {
		return SheetPage{}, err
	}
	names := core.Names{Pallets: []core.PalletCode{sheet}, Near: true}
	var nests []core.Nest
	cut := false
	for _, c := range cards {
		if c.Code != sheet {
			continue
		}
		cut = cut || c.Cut
		if c.Nest.ID == "" {
			continue
		}
		nests = append(nests, c.Nest)
		for _, p := range c.Nest.Parts {
			if p.Owner.Order != "" && !slices.Contains(names.Orders, p.Owner.Order) {
				names.Orders = append(names.Orders, p.Owner.Order)
			}
		}
	}
	w, err := s.World(ctx, names, caller.Station)
	if err != nil {
		return SheetPage{}, err
	}
	row, ok := w.State.Pallets[sheet]
	lots := w.State.LotsAt(core.On(sheet))
	if !ok || len(lots) == 0 || row.Kind != core.SheetCarrier {
		return SheetPage{}, ErrNotFound
	}
	p := SheetPage{
		Pallet: row, Lot: lots[0], Item: w.Book.Items[lots[0].Item], Cut: cut, Nests: nests,
		Here:  row.Station == caller.Station && row.Bound == "" && caller.Station != "",
		Place: palletPlace(w, row, inZone(w.Now, w.Book)),
	}
	if i := slices.IndexFunc(nests, func(n core.Nest) bool { return n.ID == nest || len(nests) == 1 }); i >= 0 {
		p.Nest = nests[i]
		p.Checks = separationChecks(w.Book, lots[0])
		p.tickList(w, caller.Station)
	}
	return p, nil
}

// separationChecks are those of the step in which a sheet is broken out.
func separationChecks(b *core.Book, sheet core.Lot) []core.Characteristic {
	for _, s := range core.NextSteps(b, sheet) {
		if s.Stage == "separate" {
			return s.Checks
		}
	}
	return nil
}

// tickList fills lines and where their parts may go.
func (p *SheetPage) tickList(w core.World, at core.StationID) {
	p.Pallets = benchPallets(w, at, p.Item.Metal)
	known := true
	for _, part := range p.Nest.Parts {
		rev := w.Book.Items[part.Item]
		l := NestLine{NestPart: part, Revision: rev, Checks: core.BirthChecks(w.Book, part.Item, "cut", "separate")}
		if o, ok := w.State.Orders[part.Owner.Order]; ok {
			l.Customer, l.Promised = o.Customer, o.Promised
		}
		next := afterSeparation(w.Book, rev)
		l.Next = "nothing more"
		if next != "" {
			l.Next = stageTitle(w.Book, next)
		}
		l.To = p.suggest(next, part.Owner, l.Next)
		p.Lines = append(p.Lines, l)
		m := MassEach(rev)
		known = known && m > 0
		p.Mass += m * float64(part.Qty)
	}
	if !known {
		p.Mass = 0
	}
	p.pairHands()
}

// suggest chooses a pallet: one at the bench that waits for the same stage for
// the same order, else a fresh one shared by all of that stage and order.
func (p *SheetPage) suggest(next core.StageName, owner core.Owner, title string) string {
	for _, b := range p.Pallets {
		if b.next == next && b.order == owner.Order && !b.Apart {
			return string(b.Code)
		}
	}
	what := title + ", stock"
	if owner.Order != "" {
		what = title + ", " + owner.Order
	}
	for _, f := range p.Fresh {
		if strings.HasSuffix(f.Name, ": "+what) {
			return f.Key
		}
	}
	letter := letter(len(p.Fresh))
	p.Fresh = append(p.Fresh, FreshPallet{Key: "new:" + letter, Name: "new " + letter + ": " + what})
	return "new:" + letter
}

// pairHands finds parts of the nest that differ in their hand only.
func (p *SheetPage) pairHands() {
	plain := func(r core.Revision) string {
		return strings.TrimSpace(strings.ReplaceAll(strings.ReplaceAll(r.Name, "left", ""), "right", ""))
	}
	for i := range p.Lines {
		a := &p.Lines[i]
		for _, b := range p.Lines {
			if a.Revision.Hand != "" && b.Revision.Hand != "" && a.Revision.Hand != b.Revision.Hand && plain(a.Revision) == plain(b.Revision) {
				a.Twin, p.Hands = b.Revision.Name, true
			}
		}
	}
}

// afterSeparation is the stage a part goes to once it is broken out.
func afterSeparation(b *core.Book, rev core.Revision) core.StageName {
	for _, s := range b.Routes[rev.Route].Steps {
		if s.Stage != "cut" && s.Stage != "separate" {
			return s.Stage
		}
	}
	return ""
}

// benchPallets lists the pallets at a station that broken-out parts may join.
func benchPallets(w core.World, at core.StationID, metal core.Metal) []BenchPallet {
	var out []BenchPallet
	for code, row := range w.State.Pallets {
		lots := w.State.LotsAt(core.On(code))
		if row.Station != at || row.Bound != "" || row.Kind != core.PalletCarrier || len(lots) == 0 || at == "" {
			continue
		}
		b := BenchPallet{Code: code, Metal: w.Book.Items[lots[0].Item].Metal, order: lots[0].Owner.Order}
		for _, l := range lots {
			m := w.Book.Items[l.Item].Metal
			b.Apart = b.Apart || metal != "" && m != "" && (m == core.Aluminium) != (metal == core.Aluminium)
		}
		b.Name = spaced(string(code))
		if next := core.NextSteps(w.Book, lots[0]); len(next) > 0 {
			b.next = next[0].Stage
			b.Name += ": " + stageTitle(w.Book, b.next)
		}
		if b.order != "" {
			b.Name += ", " + b.order
		}
		out = append(out, b)
	}
	slices.SortFunc(out, func(a, b BenchPallet) int { return strings.Compare(string(a.Code), string(b.Code)) })
	return out
}
