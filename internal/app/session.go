package app

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// SessionLife is how long signing in to the office pages lasts: a shift and
// what comes before and after it.
const SessionLife = 10 * time.Hour

const tokenBytes = 32 // 256 random bits

// newToken makes a secret for a cookie and the hash the store keeps.
func (s *Service) newToken() (text string, sha [32]byte, err error) {
	var raw [tokenBytes]byte
	if _, err := io.ReadFull(s.Random, raw[:]); err != nil {
		return "", sha, fmt.Errorf("make a session token: %w", err)
	}
	text = base64.RawURLEncoding.EncodeToString(raw[:])
	return text, sha256.Sum256([]byte(text)), nil
}

// SignIn opens an office session for whoever holds the badge and knows its
// PIN, and returns its token. Refused as a signature would be.
func (s *Service) SignIn(ctx context.Context, caller Caller, x Sign) (token string, who core.Person, err error) {
	book, err := s.Store.Book(ctx)
	if err != nil {
		return "", core.Person{}, fmt.Errorf("read the catalogue: %w", err)
	}
	x.Person = "" // only a badge signs in
	who, err = s.prove(ctx, caller, book, x)
	if err != nil {
		return "", core.Person{}, s.noteKnown(ctx, caller, "sign-in", err)
	}
	token, sha, err := s.newToken()
	if err != nil {
		return "", core.Person{}, err
	}
	if err := s.Store.NewSession(ctx, sha, who.ID, s.Clock().Add(SessionLife)); err != nil {
		return "", core.Person{}, fmt.Errorf("open a session: %w", err)
	}
	return token, who, nil
}

// noteKnown records a refusal where a badge said whose it is, though nobody is
// signed in yet.
func (s *Service) noteKnown(ctx context.Context, caller Caller, kind string, err error) error {
	if refused, ok := errors.AsType[*Refused](err); ok && refused.person != "" && !caller.SignedIn() {
		caller.Person = refused.person
	}
	return s.note(ctx, caller, kind, "", err)
}

// SignOut ends a session; one that has ended already is no error.
func (s *Service) SignOut(ctx context.Context, token string) error {
	err := s.Store.EndSession(ctx, sha256.Sum256([]byte(token)))
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	return err
}

// Secrets are what a browser's cookies hold.
type Secrets struct {
	Tablet  string // of an enrolled tablet
	Session string // of a person signed in
	Bearer  string // of a claimed link
}

// CallerOf says who sends a request with these secrets of its cookies, any of
// which may be empty. A secret that is no longer good is as good as none.
func (s *Service) CallerOf(ctx context.Context, x Secrets) (Caller, error) {
	var c Caller
	if err := s.knowTablet(ctx, &c, x.Tablet); err != nil {
		return Caller{}, err
	}
	if err := s.knowPerson(ctx, &c, x.Session); err != nil {
		return Caller{}, err
	}
	if err := s.knowBearer(ctx, &c, x.Bearer); err != nil {
		return Caller{}, err
	}
	return c, nil
}

func (s *Service) knowTablet(ctx context.Context, c *Caller, text string) error {
	secret, err := sign.ParseTabletSecret(text)
	if err != nil {
		return nil // no cookie, or somebody else's
	}
	t, err := s.Store.TabletBySecret(ctx, secret.Hash())
	switch {
	case errors.Is(err, ErrNotFound):
		return nil
	case err != nil:
		return fmt.Errorf("find the tablet: %w", err)
	case !t.Revoked.IsZero():
		c.Revoked = true
		return nil
	}
	c.Tablet, c.Station = t.ID, t.Station
	return nil
}

func (s *Service) knowPerson(ctx context.Context, c *Caller, token string) error {
	if len(token) != base64.RawURLEncoding.EncodedLen(tokenBytes) {
		return nil
	}
	id, err := s.Store.Session(ctx, sha256.Sum256([]byte(token)), s.Clock())
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("find the session: %w", err)
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return fmt.Errorf("read the catalogue: %w", err)
	}
	// Roles are read anew each time: what is taken away is gone at once.
	if p, ok := book.People[id]; ok && !p.Left {
		c.Person, c.Name, c.Roles = p.ID, p.Name, p.Roles
	}
	return nil
}
