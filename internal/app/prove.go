package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// maxSigners is more than any command takes.
const maxSigners = 3

var meanings = []core.Meaning{core.MeantMade, core.MeantInspected, core.MeantReleased, core.MeantReceived, core.MeantApproved}

// admits judges where a command comes from and, where nobody signs it, the
// roles of the person signed in.
func (p Policy) admits(c Caller) error {
	switch {
	case c.Bears() && p.Bearer:
		return nil
	case c.Bears():
		return Refuse("bearer-may-not", "kind", p.Kind())
	case c.LinkOver != "" && p.Bearer && !c.OnTablet() && !c.SignedIn():
		return Refuse(c.LinkOver)
	case c.machine && p.From == FromEither && p.Signers == 0:
		return nil
	case p.From == FromOffice && !c.SignedIn():
		return Refuse("needs-sign-in", "kind", p.Kind())
	case p.From != FromOffice && c.OnTablet():
		return nil
	case p.From == FromTablet && c.SignedIn():
		return Refuse("needs-tablet", "kind", p.Kind())
	case c.Revoked:
		return Refuse("tablet-revoked")
	case !c.SignedIn():
		return Refuse("unenrolled-tablet")
	case p.Signers == 0 && len(p.Roles) > 0 && !c.Is(p.Roles...):
		return roleRefusal(c.Person, c.Name, p.Roles)
	}
	return nil
}

// signatures proves every signer of a request, in order.
func (s *Service) signatures(ctx context.Context, caller Caller, p Policy, book *core.Book, c core.Command, req Request) ([]core.Signature, error) {
	if caller.Bears() {
		return bearerSigns(caller, p, book, c, req)
	}
	if len(req.Sign) < p.Signers {
		return nil, Refuse("not-signed", "kind", p.Kind())
	}
	if len(req.Sign) > maxSigners {
		return nil, Refuse("bad-value", "field", "sign", "problem", "it holds more than "+strconv.Itoa(maxSigners)+" signatures")
	}
	var out []core.Signature
	for i, x := range req.Sign {
		person, err := s.prove(ctx, caller, book, x)
		if err != nil {
			return nil, err
		}
		if i == 0 && len(p.Roles) > 0 && !person.Is(p.Roles...) {
			return nil, roleRefusal(person.ID, person.Name, p.Roles)
		}
		if slices.ContainsFunc(out, func(o core.Signature) bool { return o.Person == person.ID }) {
			return nil, ofPerson(person.ID, Refuse("signed-twice", "person", person.Name))
		}
		meaning, err := meaningOf(p, book, c.Body, i, x.Meaning)
		if err != nil {
			return nil, err
		}
		out = append(out, core.Signature{
			Person: person.ID, Meaning: meaning, At: c.Happened, Tablet: caller.Tablet, PrintSeen: req.PrintSeen,
		})
	}
	return out, nil
}

// meaningOf is what a signature means: what it says, else what the command or
// its stage means; a second signer approves.
func meaningOf(p Policy, book *core.Book, body core.Body, place int, said core.Meaning) (core.Meaning, error) {
	switch {
	case said != "" && !slices.Contains(meanings, said):
		return "", Refuse("bad-value", "field", "meaning", "problem", "there is no such meaning of a signature")
	case said != "":
		return said, nil
	case place > 0:
		return core.MeantApproved, nil
	}
	if stage, ok := book.Table.Stage(stageOf(body)); ok && p.Meaning == "" {
		return stage.Meaning, nil
	}
	if p.Meaning == "" {
		return core.MeantMade, nil
	}
	return p.Meaning, nil
}

// stageOf is the stage that a command signs, where its body names one.
func stageOf(body core.Body) core.StageName {
	switch b := body.(type) {
	case core.SignOff:
		return b.Stage
	case core.WorkAtSite:
		return b.Stage
	}
	return ""
}

// prove says who is behind a badge and a PIN.
func (s *Service) prove(ctx context.Context, caller Caller, book *core.Book, x Sign) (core.Person, error) {
	holder, err := s.holder(ctx, caller, x)
	if err != nil {
		return core.Person{}, err
	}
	person, ok := book.People[holder.Person]
	switch {
	case !ok:
		return core.Person{}, Refuse("badge-unknown")
	case person.Left:
		return core.Person{}, ofPerson(person.ID, Refuse("signer-left", "person", person.Name))
	case holder.Revoked:
		return core.Person{}, ofPerson(person.ID, Refuse("badge-revoked", "person", person.Name))
	case holder.PINHash == "":
		return core.Person{}, ofPerson(person.ID, Refuse("pin-not-set", "person", person.Name))
	}
	pin, err := sign.ParsePIN(x.PIN)
	if err != nil {
		return core.Person{}, ofPerson(person.ID, Refuse("pin-shape"))
	}
	if err := s.checkPIN(ctx, caller, person, holder.PINHash, pin); err != nil {
		return core.Person{}, err
	}
	return person, nil
}

// holder finds whose badge it is, without a word on the PIN.
func (s *Service) holder(ctx context.Context, caller Caller, x Sign) (Holder, error) {
	if x.Badge == "" && x.Person != "" && x.Person == caller.Person {
		h, err := s.Store.HolderOf(ctx, x.Person)
		if errors.Is(err, ErrNotFound) {
			return Holder{}, ofPerson(x.Person, Refuse("pin-not-set", "person", caller.Name))
		}
		return h, err
	}
	badge, err := sign.ParseBadge(x.Badge)
	if err != nil {
		return Holder{}, Refuse("badge-unreadable")
	}
	h, err := s.Store.BadgeHolder(ctx, badge.Hash())
	if errors.Is(err, ErrNotFound) {
		return Holder{}, Refuse("badge-unknown")
	}
	return h, err
}

// officeLimit never makes anybody wait: all office browsers share it, and one
// holder of a badge could lock the others out. The limit of a person holds
// there all the same.
var officeLimit = sign.Limit{Free: math.MaxInt, Lock: math.MaxInt, Forget: time.Minute}

// checkPIN checks and counts one try, the counters locked from before the look
// to after the count, so that many tries at one moment don't pass as one.
func (s *Service) checkPIN(ctx context.Context, caller Caller, person core.Person, hash string, pin sign.PIN) error {
	now, limit := s.Clock(), sign.TabletLimit
	if !caller.OnTablet() {
		limit = officeLimit
	}
	right := false
	var refused *Refused
	err := s.Store.Try(ctx, person.ID, caller.Tablet, func(p, t Tries) (Tries, Tries, error) {
		right, refused = false, nil
		if v := sign.PersonLimit.May(p, now); v != (sign.Verdict{}) {
			refused = personWaits(person, v)
			return p, t, nil
		}
		if v := limit.May(t, now); v != (sign.Verdict{}) {
			refused = tabletWaits(person, v)
			return p, t, nil
		}
		var err error
		if right, err = s.PINs.Verify(ctx, hash, pin); err != nil {
			return p, t, err
		}
		p = sign.PersonLimit.After(p, right, now)
		t = limit.After(t, right, now)
		if !right {
			refused = wrongRefusal(person, p, t, limit, now)
		}
		return p, t, nil
	})
	switch {
	case err != nil:
		return fmt.Errorf("check a PIN: %w", err)
	case refused != nil:
		return refused
	}
	return s.freshen(ctx, person.ID, hash, pin)
}

// freshen makes a PIN's hash again where it was made at another cost or under
// an older server key.
func (s *Service) freshen(ctx context.Context, p core.PersonID, hash string, pin sign.PIN) error {
	if !s.PINs.Outdated(hash) {
		return nil
	}
	anew, err := s.PINs.Rehash(ctx, pin)
	if err != nil {
		return err
	}
	return s.Store.SetPIN(ctx, p, anew, p)
}

func wrongRefusal(person core.Person, p, t Tries, limit sign.Limit, now time.Time) *Refused {
	next := "You can try again at once."
	wait := max(sign.PersonLimit.May(p, now).Wait, limit.May(t, now).Wait)
	switch left := min(sign.PersonLimit.Left(p, now), limit.Left(t, now)); {
	case wait > 0:
		next = "Wait " + spoken(wait) + " before the next try."
	case left == 0:
		next = "After one more wrong try there is a wait."
	}
	return ofPerson(person.ID, Refuse("pin-wrong", "person", person.Name, "next", next))
}

func personWaits(person core.Person, v sign.Verdict) *Refused {
	if v.Locked {
		return ofPerson(person.ID, Refuse("pin-locked", "person", person.Name))
	}
	return ofPerson(person.ID, Refuse("pin-wait", "person", person.Name, "wait", spoken(v.Wait)).after(v.Wait))
}

func tabletWaits(person core.Person, v sign.Verdict) *Refused {
	if v.Locked {
		return ofPerson(person.ID, Refuse("tablet-locked"))
	}
	return ofPerson(person.ID, Refuse("tablet-wait", "wait", spoken(v.Wait)).after(v.Wait))
}

func ofPerson(p core.PersonID, r *Refused) *Refused { r.person = p; return r }

func roleRefusal(p core.PersonID, name string, roles []core.Role) *Refused {
	names := make([]string, len(roles))
	for i, r := range roles {
		names[i] = string(r)
	}
	return ofPerson(p, Refuse("role-lacking", "person", name, "roles", strings.Join(names, " or ")))
}
