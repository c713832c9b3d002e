package app

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"time"

	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// Service is the use cases of one shop over its store.
type Service struct {
	Store  Store
	Keys   sign.Keyring
	PINs   *sign.Verifier
	Clock  func() time.Time // the one application clock
	Random io.Reader        // of badge tokens, one-time codes and sessions
	Decide func(core.World, core.Command) core.Outcome

	// Uploads is the folder of files that were sent and are not stored yet; empty:
	// the machine's own for what is temporary.
	Uploads string

	photos photoTally
	tries  linkTries
}

// New makes a service that tells the time by the machine's clock and hashes
// PINs at the usual cost under the server's keys.
func New(store Store, keys sign.Keyring) (*Service, error) {
	pins, err := sign.NewVerifier(keys, sign.DefaultCost)
	if err != nil {
		return nil, err
	}
	return &Service{Store: store, Keys: keys, PINs: pins, Clock: time.Now, Random: rand.Reader, Decide: core.Decide}, nil
}

// Book is the current catalogue.
func (s *Service) Book(ctx context.Context) (*core.Book, error) { return s.Store.Book(ctx) }

// Shop is the shop's own row.
func (s *Service) Shop(ctx context.Context) (Shop, error) { return s.Store.Shop(ctx) }

// Answers reports, as an error, that the database does not answer.
func (s *Service) Answers(ctx context.Context) error {
	if _, err := s.Store.Shop(ctx); err != nil && !errors.Is(err, ErrNotFound) {
		return err
	}
	return nil
}

// World reads the rows named, to show them or to ask what would come of a step.
// Its time is the service's.
func (s *Service) World(ctx context.Context, n core.Names, at core.StationID) (core.World, error) {
	w, err := s.Store.Load(ctx, n, at)
	w.Now = s.Clock()
	return w, err
}

// SetShop changes the shop's own row.
func (s *Service) SetShop(ctx context.Context, by Caller, row Shop) error {
	if err := onlyAdmin(by); err != nil {
		return err
	}
	if row.Name == "" {
		return Refuse("bad-value", "field", "name", "problem", "the shop has no name yet")
	}
	if _, err := time.LoadLocation(row.Zone); err != nil || row.Zone == "" {
		return Refuse("bad-value", "field", "zone", "problem", "it is not the name of a time zone, such as Europe/London")
	}
	if row.Address != "" {
		if err := code.CheckBase(row.Address); err != nil {
			return Refuse("bad-value", "field", "address", "problem", err.Error())
		}
	}
	if _, _, err := s.Store.SaveBook(ctx, by.Person, "shop", BookRows{Shop: &row}); err != nil {
		return fmt.Errorf("save the shop: %w", err)
	}
	return nil
}
