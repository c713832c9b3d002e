package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// maxName is the longest name of a person, in characters.
const maxName = 80

// PersonRow is a person in the office's list.
type PersonRow struct {
	core.Person
	Holder // badge and PIN, the zero Holder where none was ever given
}

// HasPIN reports whether the person has set a PIN.
func (r PersonRow) HasPIN() bool { return r.PINHash != "" }

// HasBadge reports whether a badge of theirs is in force.
func (r PersonRow) HasBadge() bool { return !r.Badge.IsZero() }

// People lists everybody, those who left last, by name.
func (s *Service) People(ctx context.Context, by Caller) ([]PersonRow, error) {
	if err := onlyAdmin(by); err != nil {
		return nil, err
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the catalogue: %w", err)
	}
	holders, err := s.Store.Holders(ctx)
	if err != nil {
		return nil, fmt.Errorf("list the badges: %w", err)
	}
	known := map[core.PersonID]Holder{}
	for _, h := range holders {
		known[h.Person] = h
	}
	var out []PersonRow
	for _, p := range book.People {
		out = append(out, PersonRow{p, known[p.ID]})
	}
	slices.SortFunc(out, func(a, b PersonRow) int {
		if a.Left != b.Left {
			if a.Left {
				return 1
			}
			return -1
		}
		if c := strings.Compare(a.Name, b.Name); c != 0 {
			return c
		}
		return strings.Compare(string(a.ID), string(b.ID))
	})
	return out, nil
}

// AddPerson takes somebody on, with roles and without a badge.
func (s *Service) AddPerson(ctx context.Context, by Caller, name string, roles []core.Role) (core.Person, error) {
	if err := onlyAdmin(by); err != nil {
		return core.Person{}, err
	}
	id, err := s.newID("p")
	if err != nil {
		return core.Person{}, err
	}
	return s.savePerson(ctx, by.Person, core.Person{ID: core.PersonID(id), Name: name, Roles: roles})
}

// ChangePerson gives somebody another name or other roles, or notes that they
// left: then their badge ends too.
func (s *Service) ChangePerson(ctx context.Context, by Caller, id core.PersonID, name string, roles []core.Role, left bool) (core.Person, error) {
	if err := onlyAdmin(by); err != nil {
		return core.Person{}, err
	}
	book, p, err := s.person(ctx, id)
	if err != nil {
		return core.Person{}, err
	}
	p.Name, p.Roles, p.Left = name, roles, left
	if !hasAdmin(book, p) {
		return core.Person{}, Refuse("last-admin", "person", p.Name)
	}
	p, err = s.savePerson(ctx, by.Person, p)
	if err != nil || !left {
		return p, err
	}
	return p, s.endBadge(ctx, id, by.Person)
}

// hasAdmin reports whether somebody could still do what only an admin may,
// with one person as they would be.
func hasAdmin(b *core.Book, changed core.Person) bool {
	if changed.Is(core.Admin) && !changed.Left {
		return true
	}
	for _, p := range b.People {
		if p.ID != changed.ID && p.Is(core.Admin) && !p.Left {
			return true
		}
	}
	return false
}

func (s *Service) savePerson(ctx context.Context, by core.PersonID, p core.Person) (core.Person, error) {
	p.Name = strings.Join(strings.Fields(p.Name), " ")
	switch {
	case p.Name == "", utf8.RuneCountInString(p.Name) > maxName, strings.ContainsFunc(p.Name, unicode.IsControl), !utf8.ValidString(p.Name):
		return core.Person{}, Refuse("bad-value", "field", "name", "problem", fmt.Sprintf("a name has 1 to %d characters", maxName))
	}
	var roles []core.Role
	for _, r := range core.Roles {
		if slices.Contains(p.Roles, r) {
			roles = append(roles, r)
		}
	}
	if len(roles) != len(p.Roles) {
		return core.Person{}, Refuse("bad-value", "field", "roles", "problem", "there is no such role, or one stands twice")
	}
	p.Roles = roles
	if _, _, err := s.Store.SaveBook(ctx, by, "people page", BookRows{People: []core.Person{p}}); err != nil {
		return core.Person{}, fmt.Errorf("save a person: %w", err)
	}
	return p, nil
}

func (s *Service) person(ctx context.Context, id core.PersonID) (*core.Book, core.Person, error) {
	book, err := s.Store.Book(ctx)
	if err != nil {
		return nil, core.Person{}, fmt.Errorf("read the catalogue: %w", err)
	}
	p, ok := book.People[id]
	if !ok {
		return nil, core.Person{}, Refuse("person-unknown")
	}
	return book, p, nil
}

// IssueBadge makes a badge and ends the one before. Its text is shown once, to
// print it.
func (s *Service) IssueBadge(ctx context.Context, by Caller, id core.PersonID) (sign.Badge, core.Person, error) {
	if err := onlyAdmin(by); err != nil {
		return sign.Badge{}, core.Person{}, err
	}
	_, p, err := s.person(ctx, id)
	if err != nil {
		return sign.Badge{}, core.Person{}, err
	}
	if p.Left {
		return sign.Badge{}, core.Person{}, Refuse("signer-left", "person", p.Name)
	}
	badge, err := s.issueBadge(ctx, id, by.Person)
	return badge, p, err
}

func (s *Service) issueBadge(ctx context.Context, id, by core.PersonID) (sign.Badge, error) {
	badge, err := sign.NewBadge(s.Random)
	if err != nil {
		return sign.Badge{}, err
	}
	if err := s.Store.IssueBadge(ctx, id, badge.Hash(), by); err != nil {
		return sign.Badge{}, fmt.Errorf("issue a badge: %w", err)
	}
	return badge, nil
}

// RevokeBadge ends a badge, as when it is lost.
func (s *Service) RevokeBadge(ctx context.Context, by Caller, id core.PersonID) error {
	if err := onlyAdmin(by); err != nil {
		return err
	}
	if _, _, err := s.person(ctx, id); err != nil {
		return err
	}
	return s.endBadge(ctx, id, by.Person)
}

func (s *Service) endBadge(ctx context.Context, id, by core.PersonID) error {
	err := s.Store.RevokeBadge(ctx, id, by)
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	return err
}

// PINCode makes a one-time code with which a person sets their own PIN within
// an hour. Nobody makes one for themselves: a PIN is reset by two people, who
// both stay on record, and the one who hands out the code never sees the PIN.
func (s *Service) PINCode(ctx context.Context, by Caller, id core.PersonID) (sign.OneTime, core.Person, error) {
	if err := onlyAdmin(by); err != nil {
		return sign.OneTime{}, core.Person{}, err
	}
	_, p, err := s.person(ctx, id)
	switch {
	case err != nil:
		return sign.OneTime{}, core.Person{}, err
	case p.Left:
		return sign.OneTime{}, core.Person{}, Refuse("signer-left", "person", p.Name)
	case id == by.Person:
		return sign.OneTime{}, core.Person{}, ofPerson(id, Refuse("own-reset", "person", p.Name))
	}
	one, err := s.pinCode(ctx, id, by.Person)
	return one, p, err
}

func (s *Service) pinCode(ctx context.Context, id, by core.PersonID) (sign.OneTime, error) {
	one, err := sign.NewOneTime(s.Random)
	if err != nil {
		return sign.OneTime{}, err
	}
	if err := s.Store.NewPINCode(ctx, s.Keys.Hash(sign.SetPIN, one), id, s.Clock().Add(sign.OneTimeLife), by); err != nil {
		return sign.OneTime{}, fmt.Errorf("store a one-time code: %w", err)
	}
	return one, nil
}

// SetPIN lets the holder of a badge and of a one-time code choose a PIN.
func (s *Service) SetPIN(ctx context.Context, badgeText, codeText, pinText, again string) (core.Person, error) {
	pin, err := sign.ParsePIN(pinText)
	switch {
	case err != nil:
		return core.Person{}, Refuse("pin-shape")
	case strings.TrimSpace(pinText) != strings.TrimSpace(again):
		return core.Person{}, Refuse("pin-twice")
	case pin.CheckNew() != nil:
		return core.Person{}, Refuse("pin-weak")
	}
	one, err := sign.ParseOneTime(codeText)
	if err != nil {
		return core.Person{}, Refuse("code-shape")
	}
	holder, err := s.holder(ctx, Caller{}, Sign{Badge: badgeText})
	if err != nil {
		return core.Person{}, err
	}
	_, p, err := s.person(ctx, holder.Person)
	switch {
	case err != nil:
		return core.Person{}, err
	case p.Left:
		return core.Person{}, Refuse("signer-left", "person", p.Name)
	case holder.Revoked:
		return core.Person{}, Refuse("badge-revoked", "person", p.Name)
	}
	hash, err := s.PINs.Hash(ctx, pin)
	if err != nil {
		return core.Person{}, fmt.Errorf("hash a PIN: %w", err)
	}
	err = s.Store.UsePINCode(ctx, s.Keys.Hash(sign.SetPIN, one), p.ID, hash, s.Clock())
	switch {
	case errors.Is(err, ErrNotFound):
		return core.Person{}, ofPerson(p.ID, Refuse("code-not-good"))
	case err != nil:
		return core.Person{}, fmt.Errorf("set a PIN: %w", err)
	}
	s.PINs.Forget(holder.PINHash)
	return p, nil
}

// FirstAdmin makes the shop's first admin, with a badge and a code to set the
// PIN. It is for the command line of the server's own machine, and refused as
// soon as there is an admin.
func (s *Service) FirstAdmin(ctx context.Context, name string) (core.Person, sign.Badge, sign.OneTime, error) {
	fail := func(err error) (core.Person, sign.Badge, sign.OneTime, error) {
		return core.Person{}, sign.Badge{}, sign.OneTime{}, err
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return fail(fmt.Errorf("read the catalogue: %w", err))
	}
	if hasAdmin(book, core.Person{}) {
		return fail(Refuse("admin-there"))
	}
	id, err := s.newID("p")
	if err != nil {
		return fail(err)
	}
	p, err := s.savePerson(ctx, "", core.Person{ID: core.PersonID(id), Name: name, Roles: []core.Role{core.Admin}})
	if err != nil {
		return fail(err)
	}
	badge, err := s.issueBadge(ctx, p.ID, "")
	if err != nil {
		return fail(err)
	}
	one, err := s.pinCode(ctx, p.ID, "")
	if err != nil {
		return fail(err)
	}
	return p, badge, one, nil
}
