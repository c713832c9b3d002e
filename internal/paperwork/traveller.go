// Package paperwork fills in the printed sheets from the record: the one place
// where what the shop knows becomes what its paper says.
package paperwork

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
)

// DemoNotice stands on every sheet of a demo shop.
const DemoNotice = "Invented demo data: no such shop, people, orders or goods."

// Source is what a sheet is filled in from.
type Source interface {
	Shop(ctx context.Context) (app.Shop, error)
	World(ctx context.Context, n core.Names, at core.StationID) (core.World, error)
	Lots(ctx context.Context, ids []core.LotID) ([]core.Lot, error)
	Events(ctx context.Context, q app.HistoryQuery) ([]app.Recorded, error)
	LotEvents(ctx context.Context, lots []core.LotID) (map[core.LotID][]app.Recorded, error)
}

// Sheet is a traveller with what the screen says beside it.
type Sheet struct {
	paper.Traveller
	Newest  int      // number of the pallet's last print
	Changes []string // what is different on the pallet now, a few words each
}

// Stale reports whether the pallet needs another print than this one.
func (s Sheet) Stale() bool { return s.Print != s.Newest || len(s.Changes) > 0 }

// Traveller fills in one numbered print of a pallet's traveller, with the lots
// and counts it was numbered for; 0: the newest. Routes, signatures and holds
// are as they stand now. The error is app.ErrNotFound for a pallet there isn't
// and a *app.Refused for a print never made.
func Traveller(ctx context.Context, from Source, pallet core.PalletCode, print int) (Sheet, error) {
	shop, err := from.Shop(ctx)
	if err != nil {
		return Sheet{}, fmt.Errorf("read the shop: %w", err)
	}
	w, err := from.World(ctx, core.Names{Pallets: []core.PalletCode{pallet}}, "")
	if err != nil {
		return Sheet{}, err
	}
	f := filler{ctx: ctx, from: from, w: w, zone: w.Book.Zone}
	i, err := f.find(pallet, print)
	if err != nil {
		return Sheet{}, err
	}
	row := w.State.Pallets[pallet]
	if err := f.readPast(row.Prints[i].Lines); err != nil {
		return Sheet{}, err
	}
	return f.traveller(shop, row, i)
}

// Newest fills in the newest print of each of several pallets, in their order.
// Its errors are Traveller's.
func Newest(ctx context.Context, from Source, pallets []core.PalletCode) ([]Sheet, error) {
	shop, err := from.Shop(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the shop: %w", err)
	}
	w, err := from.World(ctx, core.Names{Pallets: pallets}, "")
	if err != nil {
		return nil, err
	}
	f := filler{ctx: ctx, from: from, w: w, zone: w.Book.Zone}
	places := make([]int, len(pallets))
	var lines []core.PrintLine
	for n, p := range pallets {
		if places[n], err = f.find(p, 0); err != nil {
			return nil, err
		}
		lines = append(lines, w.State.Pallets[p].Prints[places[n]].Lines...)
	}
	if err := f.readPast(lines); err != nil {
		return nil, err
	}
	var out []Sheet
	for n, p := range pallets {
		sheet, err := f.traveller(shop, w.State.Pallets[p], places[n])
		if err != nil {
			return nil, err
		}
		out = append(out, sheet)
	}
	return out, nil
}

// find is the place of the print asked for among its pallet's.
func (f *filler) find(pallet core.PalletCode, print int) (int, error) {
	row, ok := f.w.State.Pallets[pallet]
	if !ok {
		return 0, app.ErrNotFound
	}
	i := len(row.Prints) - 1
	if print > 0 {
		i = slices.IndexFunc(row.Prints, func(p core.Print) bool { return p.No == print })
	}
	if i < 0 {
		return 0, app.Refuse("print-unknown", "pallet", spaced(pallet), "print", strconv.Itoa(max(print, 1)))
	}
	return i, nil
}

type filler struct {
	ctx  context.Context
	from Source
	w    core.World
	zone *time.Location
	past map[core.LotID][]app.Recorded
}

// readPast reads what happened to the lots that prints name, all at once: lots
// of one pallet share most of their past.
func (f *filler) readPast(lines []core.PrintLine) (err error) {
	lots := make([]core.LotID, len(lines))
	for i, l := range lines {
		lots[i] = l.Lot
	}
	slices.Sort(lots)
	f.past, err = f.from.LotEvents(f.ctx, slices.Compact(lots))
	return err
}

func (f *filler) traveller(shop app.Shop, row core.PalletRow, i int) (Sheet, error) {
	p := row.Prints[i]
	t := paper.Traveller{
		Code: spaced(row.Code), Address: code.Address(shop.Address, code.Code(row.Code), p.No), Print: p.No,
		PrintedAt: p.At.In(f.zone), PrintedBy: f.name(p.By), Shop: shop.Name,
	}
	if i > 0 {
		t.Replaces = row.Prints[i-1].No
	}
	if shop.Demo {
		t.Notice = DemoNotice
	}
	where, err := f.printedWhere(row.Code, p.No)
	if err != nil {
		return Sheet{}, err
	}
	t.PrintedWhere = where
	for _, h := range f.open(func(h core.Hold) bool { return h.Scope == core.HoldPallet && h.Ref == string(row.Code) }) {
		t.Holds = append(t.Holds, f.hold(h))
	}
	lots, err := f.lots(p.Lines)
	if err != nil {
		return Sheet{}, err
	}
	for n, line := range p.Lines {
		l, ok := lots[line.Lot]
		if !ok {
			return Sheet{}, fmt.Errorf("print %d of %s names lot %s, which is not there", p.No, row.Code, line.Lot)
		}
		out := f.lot(l, line)
		out.Letter = app.Letter(n)
		t.Lots = append(t.Lots, out)
	}
	changes, _ := core.StalePrint(f.w.State, f.w.Book, row, p.No)
	return Sheet{Traveller: t, Newest: row.Prints[len(row.Prints)-1].No, Changes: changes}, nil
}

// lots reads the lots a print names, wherever they are by now.
func (f *filler) lots(lines []core.PrintLine) (map[core.LotID]core.Lot, error) {
	out := map[core.LotID]core.Lot{}
	var gone []core.LotID
	for _, x := range lines {
		if l, here := f.w.State.Lots[x.Lot]; here {
			out[x.Lot] = l
		} else {
			gone = append(gone, x.Lot)
		}
	}
	if len(gone) == 0 {
		return out, nil
	}
	more, err := f.from.Lots(f.ctx, gone)
	if err != nil {
		return nil, err
	}
	for _, l := range more {
		out[l.ID] = l
	}
	return out, nil
}

// printedWhere is the station a print was made at.
func (f *filler) printedWhere(pallet core.PalletCode, no int) (string, error) {
	events, err := f.from.Events(f.ctx, app.HistoryQuery{Pallet: pallet, Kind: core.EvPrinted, Limit: app.HistoryLimit})
	if err != nil {
		return "", err
	}
	for _, e := range events {
		if e.Kind == core.EvPrinted && e.Note == strconv.Itoa(no) && slices.Contains(e.Pallets, pallet) {
			return f.w.Book.Stations[e.Station].Name, nil
		}
	}
	return "", nil
}

func (f *filler) name(p core.PersonID) string {
	if p == "" {
		return ""
	}
	return app.PersonName(f.w.Book, p)
}

// open lists open holds, oldest first.
func (f *filler) open(of func(core.Hold) bool) []core.Hold {
	var out []core.Hold
	for _, h := range f.w.State.Holds {
		if h.Open() && of(h) {
			out = append(out, h)
		}
	}
	slices.SortFunc(out, func(a, b core.Hold) int {
		if c := a.At.Compare(b.At); c != 0 {
			return c
		}
		return strings.Compare(string(a.ID), string(b.ID))
	})
	return out
}

// stops reports whether a hold stops a lot.
func stops(h core.Hold, l core.Lot) bool {
	_, held := core.HeldBy(&core.State{Holds: map[core.HoldID]core.Hold{h.ID: h}}, l)
	return held
}

func (f *filler) hold(h core.Hold) paper.Hold {
	release := "an inspector or quality, once the reason is gone"
	if h.Problem != "" {
		release = "quality or an inspector, by saying what becomes of the parts"
	}
	return paper.Hold{Reason: h.Reason, Since: h.At.In(f.zone), By: f.name(h.By), Release: release}
}

func spaced(c core.PalletCode) string { return code.Code(c).Spaced() }
