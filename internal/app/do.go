package app

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"tagalong/internal/core"
)

// MaxRequest is the most bytes a command's request may have.
const MaxRequest = 64 << 10

// Request is a command as a device sends it; see [Service.Do].
type Request struct {
	ID          core.CommandID  `json:"id"` // a UUID made on the device, one for every intention
	Happened    time.Time       `json:"happened"`
	Sequence    int64           `json:"sequence,omitempty"`   // counts the device's commands
	LastContact time.Time       `json:"lastContact,omitzero"` // the server's time at its last answer
	Offline     bool            `json:"offline,omitempty"`
	PrintSeen   int             `json:"printSeen,omitempty"` // number of the print the signer saw
	Confirm     []string        `json:"confirm,omitempty"`   // codes of questions answered yes
	Waive       []core.Waiver   `json:"waive,omitempty"`     // rules to set aside under concession
	Body        json.RawMessage `json:"body"`                // of the kind the endpoint names
	Sign        []Sign          `json:"sign,omitempty"`
	Seal        json.RawMessage `json:"seal,omitempty"` // room for PINs sealed offline
}

// Sign is one person's signature as it is given: the badge's token and the PIN.
type Sign struct {
	Badge string `json:"badge,omitempty"`
	// Person stands for the badge of the person signed in to the office page
	// the command comes from, and of nobody else.
	Person  core.PersonID `json:"person,omitempty"`
	PIN     string        `json:"pin"`
	Meaning core.Meaning  `json:"meaning,omitempty"` // empty: the stage's or the command's own
}

// Do carries out one command of a kind: it proves who signs, decides, and
// records. A command the rules refuse comes back as *[Refused], recorded; so
// does a request that never reached them, recorded where the tablet or the
// person is known, without using the id up. The same id again returns the
// first answer, with Again set.
func (s *Service) Do(ctx context.Context, caller Caller, kind string, req Request) (Answer, error) {
	c, sha, err := s.admit(ctx, caller, kind, req)
	if err != nil {
		return Answer{}, s.note(ctx, caller, kind, req.ID, err, palletsOf(c)...)
	}
	decide := s.Decide
	if caller.Bears() {
		bears, err := s.bearingOf(ctx, caller)
		if err != nil {
			return Answer{}, fmt.Errorf("do %s %s: %w", kind, c.ID, err)
		}
		decide = func(w core.World, c core.Command) core.Outcome { return bears.decide(w, c, s.Decide) }
	}
	answer, err := s.Store.Execute(ctx, c, sha, func(w core.World) core.Outcome {
		return decide(w, c)
	})
	switch {
	case errors.Is(err, ErrOtherBody):
		return Answer{}, s.note(ctx, caller, kind, c.ID, Refuse("id-used"), palletsOf(c)...)
	case err != nil:
		return Answer{}, fmt.Errorf("do %s %s: %w", kind, c.ID, err)
	}
	return s.told(ctx, answer)
}

// told makes of an answer what people read: persons by their names. The answer
// on record has their ids only.
func (s *Service) told(ctx context.Context, a Answer) (Answer, error) {
	if a.Refusal == nil && len(a.Notices) == 0 {
		return a, nil
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return Answer{}, fmt.Errorf("read the catalogue: %w", err)
	}
	a.Notices = slices.Clone(a.Notices)
	for i, n := range a.Notices {
		a.Notices[i] = named(book, n)
	}
	if a.Refusal != nil {
		x := named(book, *a.Refusal)
		a.Refusal = &x
		return a, &Refused{Refusal: x}
	}
	return a, nil
}

// admit checks everything that can be checked before the shop's rules: the
// shape, where it comes from, and who signs. A command that could be read comes
// back with the error too.
func (s *Service) admit(ctx context.Context, caller Caller, kind string, req Request) (core.Command, [32]byte, error) {
	none := [32]byte{}
	policy, ok := PolicyOf(kind)
	if !ok {
		return core.Command{}, none, Refuse("kind-unknown", "kind", Shorten(kind, 40))
	}
	if err := policy.admits(caller); err != nil {
		return core.Command{}, none, err
	}
	if len(req.Seal) > 0 && string(req.Seal) != "null" {
		return core.Command{}, none, Refuse("seal-not-taken")
	}
	c, err := s.command(caller, policy, req)
	if err != nil {
		return core.Command{}, none, err
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return c, none, fmt.Errorf("read the catalogue: %w", err)
	}
	if at := book.Stations[caller.Station]; policy.Dock && !at.Dock {
		return c, none, Refuse("needs-dock", "kind", kind, "station", at.Name)
	}
	if err := s.knowPhotos(ctx, c.Body); err != nil {
		return c, none, err
	}
	if c.Signers, err = s.signatures(ctx, caller, policy, book, c, req); err != nil {
		return c, none, err
	}
	sha, err := bodySHA(kind, c, req.Happened)
	return c, sha, err
}

var uuid = regexp.MustCompile(`^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$`)

// command reads the request into a command nobody has signed yet.
func (s *Service) command(caller Caller, policy Policy, req Request) (core.Command, error) {
	id := strings.ToLower(string(req.ID))
	switch {
	case !uuid.MatchString(id):
		return core.Command{}, Refuse("bad-value", "field", "id", "problem", "it is not a UUID")
	case req.Happened.IsZero():
		return core.Command{}, Refuse("bad-value", "field", "happened", "problem", "it is missing")
	case len(req.Body) == 0 || string(req.Body) == "null":
		return core.Command{}, Refuse("bad-value", "field", "body", "problem", "it is missing")
	}
	body, err := policy.decode(req.Body)
	if err != nil {
		return core.Command{}, err
	}
	if err := checkCodes(body.Names()); err != nil {
		return core.Command{}, err
	}
	return core.Command{
		ID:       core.CommandID(id),
		Happened: believed(req, s.Clock()),
		Device: core.Device{
			Tablet: caller.Tablet, Sequence: req.Sequence,
			LastContact: req.LastContact.UTC().Truncate(time.Microsecond), Offline: req.Offline,
		},
		Station: caller.Station,
		Body:    body,
		Confirm: req.Confirm,
		Waive:   req.Waive,
	}, nil
}

// believed is when something happened: the device's word, as far as it can be
// true. It was not before the server last answered the device, and is not to
// come; a device that can't say when that was is not believed at all. So a tablet whose clock is wrong stops nobody, and a clock set back
// signs nothing with a qualification that has run out since.
func believed(req Request, now time.Time) time.Time {
	at := req.Happened
	if at.Before(req.LastContact) {
		at = req.LastContact
	}
	if at.After(now) || req.LastContact.IsZero() {
		at = now
	}
	return at.UTC().Truncate(time.Microsecond) // what the database keeps
}

// bodySHA is what makes two requests of one id the same: everything asked for
// and by whom, and the time the device said. PIN and seal are left out, since a million tries at a PIN would
// turn the hash back; so is what a second sending may change (sequence, last
// contact).
func bodySHA(kind string, c core.Command, happened time.Time) ([32]byte, error) {
	type signer struct {
		Person  core.PersonID `json:"person"`
		Meaning core.Meaning  `json:"meaning"`
		Print   int           `json:"print,omitempty"`
	}
	asked := struct {
		Kind     string         `json:"kind"`
		Station  core.StationID `json:"station"`
		Happened time.Time      `json:"happened"`
		Body     core.Body      `json:"body"`
		Confirm  []string       `json:"confirm,omitempty"`
		Waive    []core.Waiver  `json:"waive,omitempty"`
		Signers  []signer       `json:"signers,omitempty"`
	}{Kind: kind, Station: c.Station, Happened: happened.UTC(), Body: c.Body, Confirm: c.Confirm, Waive: c.Waive}
	for _, x := range c.Signers {
		asked.Signers = append(asked.Signers, signer{x.Person, x.Meaning, x.PrintSeen})
	}
	text, err := json.Marshal(asked)
	if err != nil {
		return [32]byte{}, fmt.Errorf("hash a %s: %w", kind, err)
	}
	return sha256.Sum256(text), nil
}

// NoteDenied records that somebody known was not let in to an endpoint that
// would have changed something. Only a *[Refused] is recorded; err comes back.
func (s *Service) NoteDenied(ctx context.Context, caller Caller, kind string, err error) error {
	return s.note(ctx, caller, kind, "", err)
}

// palletsOf are those a command names, as far as it could be read.
func palletsOf(c core.Command) []core.PalletCode {
	if c.Body == nil {
		return nil
	}
	return c.Body.Names().Pallets
}

// note records a refusal that never reached the rules, where somebody is known
// to whom it was said. Other errors pass through.
func (s *Service) note(ctx context.Context, caller Caller, kind string, id core.CommandID, err error, pallets ...core.PalletCode) error {
	refused, ok := errors.AsType[*Refused](err)
	if !ok || !caller.OnTablet() && caller.Signer() == "" {
		return err
	}
	row := RefusalRow{
		At: s.Clock(), Command: core.CommandID(Shorten(string(id), 36)), Kind: Shorten(kind, 40),
		Station: caller.Station, Person: caller.Signer(), Refusal: unnamed(refused.Refusal, refused.person),
		Pallets: pallets,
	}
	if refused.person != "" {
		row.Person = refused.person
	}
	if noteErr := s.Store.NoteRefusal(ctx, row); noteErr != nil {
		return errors.Join(err, fmt.Errorf("record the refusal: %w", noteErr))
	}
	return err
}
