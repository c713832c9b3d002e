package shopgen

import (
	"context"
	"slices"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// finder looks for what the trials are about.
type finder struct {
	ctx   context.Context
	svc   *app.Service
	book  *core.Book
	cards []app.PalletCard // those nobody else is busy with
	world core.World       // of the cards that were asked about
}

// Tries lists what is worth trying now. Pallets for which busy says yes are
// passed over; nil: none is.
func Tries(ctx context.Context, svc *app.Service, busy func(core.PalletCode) bool) ([]Try, error) {
	f := &finder{ctx: ctx, svc: svc}
	var err error
	if f.book, err = svc.Book(ctx); err != nil {
		return nil, err
	}
	if f.cards, err = svc.Store.Pallets(ctx, 500); err != nil {
		return nil, err
	}
	if busy != nil {
		f.cards = slices.DeleteFunc(f.cards, func(c app.PalletCard) bool { return busy(c.Code) })
	}
	if err := f.look(); err != nil {
		return nil, err
	}
	var out []Try
	for _, x := range trials {
		t := x.Try
		t.None = !x.find(f, &t)
		if t.None {
			t.Pallet, t.Next = "", ""
		} else if t.Next == "" && t.Pallet != "" {
			t.Next = "/station/pallets/" + string(t.Pallet)
		}
		out = append(out, t)
	}
	return out, nil
}

// look reads the pallets that some trials have to see more of than a card.
func (f *finder) look() error {
	var codes []core.PalletCode
	for _, c := range f.cards {
		if c.Kind == core.PalletCarrier && (c.Held || slices.ContainsFunc(c.Stages, func(s core.StageName) bool {
			return s == "weld-inspect" || s == "edge-round" || s == "fold"
		})) {
			codes = append(codes, c.Code)
		}
	}
	w, err := f.svc.World(f.ctx, core.Names{Pallets: codes}, "")
	f.world = w
	return err
}

// at finds the first pallet at a station, or anywhere, on which something
// unheld waits for a stage. Of several orders is better.
func at(station core.StationID, stage core.StageName) func(*finder, *Try) bool {
	return func(f *finder, t *Try) bool {
		c, ok := f.card(station, stage)
		t.Pallet = c.Code
		if t.At == "BRAKE-1" {
			t.At = c.Station // whichever brake it is at
		}
		return ok
	}
}

func (f *finder) card(station core.StationID, stage core.StageName) (app.PalletCard, bool) {
	var best app.PalletCard
	for _, c := range f.cards {
		if station != "" && c.Station != station || c.Station == "" || c.Bound != "" || c.Held || c.Kind != core.PalletCarrier ||
			!slices.Contains(c.Stages, stage) || station == "" && !f.book.Stations[c.Station].Does(stage) {
			continue
		}
		if best.Code == "" || len(c.Orders) > len(best.Orders) {
			best = c
		}
	}
	return best, best.Code != ""
}

// lots are those on a pallet that was looked at.
func (f *finder) lots(p core.PalletCode) []core.Lot { return f.world.State.LotsAt(core.On(p)) }

func (f *finder) welder(t *Try) bool {
	c, ok := f.card("INSPECT-1", "weld-inspect")
	if !ok {
		return false
	}
	t.Pallet = c.Code
	for _, l := range f.lots(c.Code) {
		if who := l.Makers["weld"]; len(who) > 0 {
			t.By = who[0]
			return true
		}
	}
	return false
}

// sharp is a pallet of parts to be coated whose edges are to be rounded yet.
func (f *finder) sharp(t *Try) bool {
	for _, c := range f.cards {
		if c.Kind != core.PalletCarrier || c.Bound != "" || c.Held || c.Station == "" || !slices.Contains(c.Stages, "edge-round") {
			continue
		}
		if !slices.ContainsFunc(f.lots(c.Code), func(l core.Lot) bool { return !f.book.Routes[l.Route].Has("coat") }) {
			t.Pallet = c.Code
			return true
		}
	}
	return false
}

func (f *finder) held(t *Try) bool {
	for _, c := range f.cards {
		if c.Held && c.Station == t.At && c.Bound == "" && slices.Contains(c.Stages, t.Stage) {
			t.Pallet = c.Code
			return true
		}
	}
	return false
}

func (f *finder) lostBadge(t *Try) bool {
	c, ok := f.card(t.At, t.Stage)
	badge, err := LostBadge()
	t.Pallet, t.Badge, t.By, t.PIN = c.Code, badge, Lost, PIN(Lost)
	return ok && err == nil
}

// mistyped takes a real code and changes two letters over.
func (f *finder) mistyped(t *Try) bool {
	for _, c := range f.cards {
		text := []byte(c.Code)
		for i := 2; i < len(text)-1; i++ {
			if text[i] != text[i+1] {
				text[i], text[i+1] = text[i+1], text[i]
				t.Code = core.PalletCode(text)
				return true
			}
		}
	}
	return false
}

// oldPrint is a pallet that was printed more than once, its first print stale.
func (f *finder) oldPrint(t *Try) bool {
	for _, c := range f.cards {
		row, seen := f.world.State.Pallets[c.Code]
		if !seen || c.Bound != "" || c.Station == "" || len(row.Prints) < 2 {
			continue
		}
		if changes, _ := core.StalePrint(f.world.State, f.book, row, row.Prints[0].No); len(changes) > 0 {
			t.At, t.Pallet = c.Station, c.Code
			t.Next = "/station/pallets/" + string(c.Code) + "?print=1"
			return true
		}
	}
	return false
}

func (f *finder) sheet(t *Try) bool {
	for _, c := range f.cards {
		if c.Kind == core.SheetCarrier && c.Station == t.At && c.Bound == "" && slices.Contains(c.Stages, "separate") && !strings.HasPrefix(c.Label, received) {
			t.Pallet, t.Next = c.Code, "/separate"
			return true
		}
	}
	return false
}

func (f *finder) unit(t *Try) bool {
	builds, err := f.svc.Store.OpenBuilds(f.ctx, t.At)
	return err == nil && len(builds) > 0
}

func (f *finder) truck(*Try) bool {
	return f.consignment(func(c core.Consignment) bool { return c.Gone.IsZero() && len(c.Pallets) > 0 }) != nil
}

func (f *finder) onRoad(t *Try) bool {
	c := f.consignment(func(c core.Consignment) bool {
		return !c.Gone.IsZero() && c.Received.IsZero() && f.book.Stations[core.StationID(c.Site)].Site
	})
	if c == nil {
		return false
	}
	t.At = core.StationID(c.Site)
	return true
}

func (f *finder) consignment(fits func(core.Consignment) bool) *core.Consignment {
	all, err := f.svc.Store.Consignments(f.ctx, 50)
	if err != nil {
		return nil
	}
	if i := slices.IndexFunc(all, fits); i >= 0 {
		return &all[i]
	}
	return nil
}

func (f *finder) problem(*Try) bool {
	open, err := f.svc.Store.Problems(f.ctx)
	return err == nil && len(open) > 0
}
