package shopgen

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// unfinished marks the shop's row while the demo is being made, so that one
// broken off halfway is not taken for a shop.
const unfinished = " (demo, being made)"

// ErrUnfinished says that the making of a demo shop was broken off.
var ErrUnfinished = errors.New("the making of this demo shop was broken off halfway")

// Made says what a demo shop came to.
type Made struct {
	Commands int
	Events   int
	Pallets  int // with parts on them, sheets not counted
	Took     time.Duration
}

// State tells whether a database holds a shop: empty, a demo shop, one that is
// not a demo, or ErrUnfinished.
func State(ctx context.Context, svc *app.Service) (empty, demo bool, err error) {
	shop, err := svc.Shop(ctx)
	switch {
	case errors.Is(err, app.ErrNotFound), err == nil && shop == (app.Shop{}):
		return true, false, nil
	case err != nil:
		return false, false, err
	case shop.Name == Name+unfinished:
		return false, true, ErrUnfinished
	}
	return false, shop.Demo, nil
}

// Demo makes the demo shop in an empty database. The service's store must tell
// the time by clock and take its codes from [Random]; the service itself is set
// to the clock here and is not to be used for real work after.
func Demo(ctx context.Context, svc *app.Service, clock *Clock) (Made, error) {
	began := time.Now()
	zone, err := time.LoadLocation(Zone)
	if err != nil {
		return Made{}, err
	}
	f := &floor{ctx: ctx, svc: svc, clock: clock, zone: zone, state: core.NewState(), rng: rand.New(rand.NewPCG(1041, 2026)),
		badges: map[core.PersonID]string{}, tablets: map[core.StationID]app.Caller{}, sent: map[core.StationID]int64{}, own: map[core.PalletCode]bool{}}
	svc.Clock, svc.Store = clock.Now, watched{svc.Store, f}
	f.last = clock.Now()
	for _, step := range []func() error{f.open, f.admit, f.stockUp, f.badgeAll, f.enrolAll, f.weeks, f.work, f.close} {
		if err := step(); err != nil {
			return Made{}, fmt.Errorf("make the demo shop: %w", err)
		}
	}
	made := Made{Commands: f.count, Took: time.Since(began)}
	for code, p := range f.state.Pallets {
		if p.Kind != core.SheetCarrier && len(f.lots(code)) > 0 {
			made.Pallets++
		}
	}
	return made, nil
}

// open lays down the shop's own row.
func (f *floor) open() error {
	shop := app.Shop{Name: Name + unfinished, Zone: Zone, Demo: true, Address: Address}
	_, _, err := f.svc.Store.SaveBook(f.ctx, "", "demo", app.BookRows{Shop: &shop})
	return err
}

// stockUp imports the sample files. Their sheets and goods arrive when the story
// begins.
func (f *floor) stockUp() error {
	book, err := f.svc.Book(f.ctx)
	if err != nil {
		return err
	}
	bundle, err := catalogue(book, f.clock.end().In(f.zone))
	if err != nil {
		return err
	}
	f.stock = intake.Bundle{Sheets: bundle.Sheets, Bought: bundle.Bought}
	bundle.Sheets, bundle.Bought = nil, nil
	if _, err := f.svc.ImportBundle(f.ctx, f.admin.Person, "sample files", bundle); err != nil {
		return err
	}
	f.book, err = f.svc.Book(f.ctx)
	return err
}

// close names the shop by its own name: it is whole now.
func (f *floor) close() error {
	f.clock.Until(0)
	shop := app.Shop{Name: Name, Zone: Zone, Demo: true, Address: Address}
	_, _, err := f.svc.Store.SaveBook(f.ctx, "", "demo", app.BookRows{Shop: &shop})
	return err
}
