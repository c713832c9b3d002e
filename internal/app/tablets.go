package app

import (
	"context"
	"errors"
	"fmt"
	"io"

	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// EnrolmentCode makes a one-time code that enrols a tablet to a station within
// an hour. It is shown once.
func (s *Service) EnrolmentCode(ctx context.Context, by Caller, station core.StationID) (sign.OneTime, error) {
	if err := onlyAdmin(by); err != nil {
		return sign.OneTime{}, err
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return sign.OneTime{}, fmt.Errorf("read the catalogue: %w", err)
	}
	if _, ok := book.Stations[station]; !ok {
		return sign.OneTime{}, Refuse("no-such-station", "station", Shorten(string(station), 40))
	}
	return s.enrolmentCode(ctx, station, by.Person)
}

func (s *Service) enrolmentCode(ctx context.Context, station core.StationID, by core.PersonID) (sign.OneTime, error) {
	one, err := sign.NewOneTime(s.Random)
	if err != nil {
		return sign.OneTime{}, err
	}
	sha := s.Keys.Hash(sign.EnrolTablet, one)
	if err := s.Store.NewEnrolment(ctx, sha, station, s.Clock().Add(sign.OneTimeLife), by); err != nil {
		return sign.OneTime{}, fmt.Errorf("store a one-time code: %w", err)
	}
	return one, nil
}

// Enrol uses a one-time code up and returns the secret for the tablet's cookie
// and its station.
func (s *Service) Enrol(ctx context.Context, text string) (sign.TabletSecret, core.StationID, error) {
	one, err := sign.ParseOneTime(text)
	if err != nil {
		return sign.TabletSecret{}, "", Refuse("code-shape")
	}
	secret, err := sign.NewTabletSecret(s.Random)
	if err != nil {
		return sign.TabletSecret{}, "", err
	}
	id, err := s.newID("t")
	if err != nil {
		return sign.TabletSecret{}, "", err
	}
	station, err := s.Store.Enrol(ctx, s.Keys.Hash(sign.EnrolTablet, one), secret.Hash(), core.TabletID(id), s.Clock())
	switch {
	case errors.Is(err, ErrNotFound):
		return sign.TabletSecret{}, "", Refuse("code-not-good")
	case err != nil:
		return sign.TabletSecret{}, "", fmt.Errorf("enrol a tablet: %w", err)
	}
	return secret, station, nil
}

// Tablets lists all tablets ever enrolled, newest first.
func (s *Service) Tablets(ctx context.Context, by Caller) ([]Tablet, error) {
	if err := onlyAdmin(by); err != nil {
		return nil, err
	}
	return s.Store.Tablets(ctx)
}

// RevokeTablet ends an enrolment, as when the tablet is lost.
func (s *Service) RevokeTablet(ctx context.Context, by Caller, id core.TabletID) error {
	if err := onlyAdmin(by); err != nil {
		return err
	}
	err := s.Store.RevokeTablet(ctx, id, by.Person)
	if errors.Is(err, ErrNotFound) {
		return Refuse("tablet-unknown")
	}
	return err
}

// newID makes a short identifier that is never typed.
func (s *Service) newID(kind string) (string, error) {
	const letters = "23456789abcdefghjkmnpqrstuvwxyz"
	var raw [10]byte
	if _, err := io.ReadFull(s.Random, raw[:]); err != nil {
		return "", fmt.Errorf("make an identifier: %w", err)
	}
	out := []byte(kind + "-")
	for _, b := range raw {
		out = append(out, letters[int(b)%len(letters)])
	}
	return string(out), nil
}

func onlyAdmin(c Caller) error {
	switch {
	case c.machine:
		return nil
	case !c.SignedIn():
		return Refuse("needs-sign-in", "kind", "this page")
	case !c.Is(core.Admin):
		return roleRefusal(c.Person, c.Name, []core.Role{core.Admin})
	}
	return nil
}
