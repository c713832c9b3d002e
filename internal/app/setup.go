package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// SetupStep is one of the things a shop needs before its first pallet has a
// traveller.
type SetupStep string

// The steps, in the order they are led through.
const (
	SetupShop     SetupStep = "shop"
	SetupStations SetupStep = "stations"
	SetupPerson   SetupStep = "person"
	SetupTablet   SetupStep = "tablet"
	SetupItem     SetupStep = "item"
	SetupOrder    SetupStep = "order"
	SetupSheet    SetupStep = "sheet"
	SetupNest     SetupStep = "nest"
	SetupCut      SetupStep = "cut"
	SetupBreakOut SetupStep = "break-out"
	SetupPrint    SetupStep = "print"
)

// SetupSteps is every step, in order.
var SetupSteps = []SetupStep{SetupShop, SetupStations, SetupPerson, SetupTablet, SetupItem, SetupOrder, SetupSheet,
	SetupNest, SetupCut, SetupBreakOut, SetupPrint}

// Setup is how far a shop is on the way to its first printed traveller. It is
// read from what the shop has, however that came: typed, imported or worked.
type Setup struct {
	done map[SetupStep]bool

	Shop    Shop // the zero Shop before it has a name
	Book    *core.Book
	Sheet   SheetCard       // the first sheet that is cut, else the first; zero: none
	At      core.StationID  // where that sheet lies
	Coming  bool            // it is on its way to a station
	Pallet  core.PalletCode // the first pallet, once there is one
	Missing []core.Person   // people here who have no badge or no PIN yet, by name
}

// Done reports whether a step is behind the shop.
func (s Setup) Done(step SetupStep) bool { return s.done[step] }

// Next is the first step left; false where there is none.
func (s Setup) Next() (SetupStep, bool) {
	for _, step := range SetupSteps {
		if !s.done[step] {
			return step, true
		}
	}
	return "", false
}

// Finished reports whether a first traveller was printed.
func (s Setup) Finished() bool { return s.done[SetupPrint] }

// Count is how many steps are done.
func (s Setup) Count() int {
	n := 0
	for _, step := range SetupSteps {
		if s.done[step] {
			n++
		}
	}
	return n
}

// mostLooked is how many pallets are looked at for a print: a shop where that
// many stand about unprinted is not at its beginning.
const mostLooked = 20

// Setup reads how far the shop is.
func (s *Service) Setup(ctx context.Context) (Setup, error) {
	out := Setup{done: map[SetupStep]bool{}}
	var err error
	if out.Book, err = s.Store.Book(ctx); err != nil {
		return out, fmt.Errorf("read the catalogue: %w", err)
	}
	out.Shop, err = s.Store.Shop(ctx)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return out, fmt.Errorf("read the shop: %w", err)
	}
	out.done[SetupShop] = out.Shop.Name != ""
	out.done[SetupStations] = doing(out.Book, "cut") && doing(out.Book, "separate")
	for _, read := range []func(context.Context, *Service) error{out.readPeople, out.readTablets, out.readWork} {
		if err := read(ctx, s); err != nil {
			return out, err
		}
	}
	return out, nil
}

func doing(b *core.Book, stage core.StageName) bool {
	for _, st := range b.Stations {
		if st.Does(stage) {
			return true
		}
	}
	return false
}

// readPeople: somebody who may sign a cut and break out parts, badge and PIN in hand.
func (s *Setup) readPeople(ctx context.Context, from *Service) error {
	holders, err := from.Store.Holders(ctx)
	if err != nil {
		return fmt.Errorf("list the badges: %w", err)
	}
	ready := map[core.PersonID]bool{}
	for _, h := range holders {
		ready[h.Person] = !h.Badge.IsZero() && h.PINHash != ""
	}
	for _, p := range s.Book.People {
		switch {
		case p.Left || !p.Is(core.Separator, core.Operator):
		case ready[p.ID]:
			s.done[SetupPerson] = true
		default:
			s.Missing = append(s.Missing, p)
		}
	}
	slices.SortFunc(s.Missing, func(a, b core.Person) int { return strings.Compare(a.Name+string(a.ID), b.Name+string(b.ID)) })
	return nil
}

func (s *Setup) readTablets(ctx context.Context, from *Service) error {
	all, err := from.Store.Tablets(ctx)
	if err != nil {
		return fmt.Errorf("list the tablets: %w", err)
	}
	s.done[SetupTablet] = slices.ContainsFunc(all, func(t Tablet) bool { return t.Revoked.IsZero() })
	return nil
}

// readWork: items, orders, sheets, and how far the first sheet has come.
func (s *Setup) readWork(ctx context.Context, from *Service) error {
	sheets, err := from.Store.OpenSheets(ctx)
	if err != nil {
		return fmt.Errorf("list the sheets: %w", err)
	}
	for _, c := range sheets {
		if s.Sheet.Code == "" || c.Cut && !s.Sheet.Cut {
			s.Sheet = c
		}
	}
	printed, err := s.readPallets(ctx, from)
	if err != nil {
		return err
	}
	if printed {
		for _, step := range SetupSteps {
			s.done[step] = true
		}
		return nil
	}
	for _, it := range s.Book.Items {
		s.done[SetupItem] = s.done[SetupItem] || it.Kind == core.PartItem
	}
	s.done[SetupBreakOut] = s.Pallet != ""
	s.done[SetupCut] = s.done[SetupBreakOut] || s.Sheet.Cut
	s.done[SetupSheet] = s.done[SetupCut] || s.Sheet.Code != ""
	nested, err := s.readOrders(ctx, from)
	s.done[SetupNest] = nested || s.done[SetupCut]
	return err
}

// mostAsked is how many orders are looked through for a nest.
const mostAsked = 20

// readOrders reports whether a nest waits to be cut for an open order.
func (s *Setup) readOrders(ctx context.Context, from *Service) (nested bool, err error) {
	orders, err := from.Store.Docket(ctx, mostAsked)
	if err != nil {
		return false, fmt.Errorf("list the orders: %w", err)
	}
	s.done[SetupOrder] = len(orders) > 0 || s.done[SetupBreakOut]
	for _, o := range orders {
		w, err := from.Store.LoadOrder(ctx, o.No)
		if err != nil {
			return false, fmt.Errorf("read order %s: %w", o.No, err)
		}
		if len(w.State.Nests) > 0 {
			return true, nil
		}
	}
	return false, nil
}

// readPallets finds the first pallet, whether a traveller was ever printed, and
// where the sheet lies.
func (s *Setup) readPallets(ctx context.Context, from *Service) (printed bool, err error) {
	cards, err := from.Store.Pallets(ctx, mostLooked)
	if err != nil {
		return false, fmt.Errorf("list the pallets: %w", err)
	}
	names := core.Names{}
	for _, c := range cards {
		if c.Kind == core.PalletCarrier {
			names.Pallets = append(names.Pallets, c.Code)
		}
	}
	if len(names.Pallets) == mostLooked {
		return true, nil
	}
	if s.Sheet.Code != "" {
		names.Pallets = append(names.Pallets, s.Sheet.Code)
	}
	if len(names.Pallets) > 0 {
		w, err := from.World(ctx, names, "")
		if err != nil {
			return false, fmt.Errorf("look at the pallets: %w", err)
		}
		for _, code := range names.Pallets {
			row := w.State.Pallets[code]
			switch {
			case code == s.Sheet.Code:
				s.At, s.Coming = row.Station, row.Bound != ""
			case len(row.Prints) > 0:
				printed, s.Pallet = true, code
			case s.Pallet == "":
				s.Pallet = code
			}
		}
	}
	if printed {
		return true, nil
	}
	sent, err := from.Store.Consignments(ctx, 1) // all of it may have left on trucks
	if err != nil {
		return false, fmt.Errorf("list the consignments: %w", err)
	}
	return len(sent) > 0, nil
}

// NothingOrdered reports whether there is no open order to find anything of.
func (s *Service) NothingOrdered(ctx context.Context) (bool, error) {
	orders, err := s.Store.Docket(ctx, 1)
	if err != nil {
		return false, fmt.Errorf("list the orders: %w", err)
	}
	return len(orders) == 0, nil
}

// WantsFirstAdmin reports whether nobody could sign in to the office yet: the
// first admin is made on the server's own machine.
func (s *Service) WantsFirstAdmin(ctx context.Context) (bool, error) {
	book, err := s.Store.Book(ctx)
	if err != nil {
		return false, fmt.Errorf("read the catalogue: %w", err)
	}
	return !hasAdmin(book, core.Person{}), nil
}
