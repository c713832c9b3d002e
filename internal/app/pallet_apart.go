package app

import (
	"context"
	"slices"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// ApartPage is a made unit on a pallet at a station that may take it apart: what
// would come out of it, and what keeps it whole.
type ApartPage struct {
	PalletPage
	Unit    LotView
	Making  core.Stage
	Comes   []ApartPart
	Others  []LotView     // other units on the pallet
	Refusal *core.Refusal // what taking apart would be refused with now, whoever signs
	Why     words.Text    // its text
}

// ApartPart is so many of a component that would come out.
type ApartPart struct {
	Name string
	Qty  int
	Heat string
	Held bool // until somebody has looked at it
}

// CutApart reports whether the unit comes apart by cutting only.
func (p ApartPage) CutApart() bool { return core.CutApart(p.Making) }

// UnitsApart lists the made units on a pallet that its station may take apart.
func (p PalletPage) UnitsApart(b *core.Book) []LotView {
	if !p.Here {
		return nil
	}
	var out []LotView
	for _, l := range p.Lots {
		_, making, made := core.Making(b, l.Lot.Item)
		if made && l.Lot.Unit != "" && p.At.Does(making.Name) {
			out = append(out, l)
		}
	}
	return out
}

// ApartPage reads a unit on a pallet of the caller's station that it may take
// apart. An empty unit is the first such one on the pallet. The error is
// ErrNotFound where there is none.
func (s *Service) ApartPage(ctx context.Context, caller Caller, code core.PalletCode, print int, unit core.LotID) (ApartPage, error) {
	pallet, err := s.PalletPage(ctx, caller, code, print, "")
	if err != nil {
		return ApartPage{}, err
	}
	p := ApartPage{PalletPage: pallet}
	asked := core.TakeApart{Pallet: code, Why: "to see what it would come to"}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return p, err
	}
	units := pallet.UnitsApart(book)
	i := slices.IndexFunc(units, func(l LotView) bool { return l.Lot.ID == unit || unit == "" })
	if i < 0 {
		return p, ErrNotFound
	}
	p.Unit, p.Others = units[i], slices.Delete(slices.Clone(units), i, i+1)
	asked.Unit = p.Unit.Lot.ID
	w, err := s.World(ctx, asked.Names(), caller.Station)
	if err != nil {
		return p, err
	}
	_, p.Making, _ = core.Making(book, p.Unit.Lot.Item)
	for _, l := range core.Components(w.State, p.Unit.Lot) {
		p.comes(ApartPart{itemName(w.Book, l.Item), l.Qty, strings.Join(l.Heats, ", "), core.HeldApart(w.Book, p.Making, l.Item)})
	}
	if r := core.Decide(w, core.Command{Station: caller.Station, Happened: w.Now, Body: asked}).Refusal; r != nil && r.Code != "signature-missing" {
		p.Refusal, p.Why = r, words.Refusal(r.Code, r.Params)
	}
	return p, nil
}

// comes adds what would come out, with others of its kind and heat.
func (p *ApartPage) comes(part ApartPart) {
	for i, c := range p.Comes {
		if c.Name == part.Name && c.Heat == part.Heat {
			p.Comes[i].Qty += part.Qty
			return
		}
	}
	p.Comes = append(p.Comes, part)
}
