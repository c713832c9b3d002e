package shopgen

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// floor is the shop being made: its service, its simulated clock, and the state
// as the recorded events make it.
type floor struct {
	ctx     context.Context
	svc     *app.Service
	clock   *Clock
	book    *core.Book
	state   *core.State
	zone    *time.Location
	rng     *rand.Rand
	admin   app.Caller
	badges  map[core.PersonID]string
	tablets map[core.StationID]app.Caller
	sent    map[core.StationID]int64 // commands of each tablet
	last    time.Time                // the server's last answer
	count   int
	told    func(app.Caller, core.Body, []core.PersonID) // what was recorded; may be nil
	crowds  map[core.StationID]int                       // pallets at stations, where the state holds a part of them only
	seen    *sight                                       // nil: to be looked up

	stock     intake.Bundle            // sheets and goods that arrive for the story
	others    *hands                   // who make what the story does not tell of
	own       map[core.PalletCode]bool // what they made
	theirs    bool                     // it is they who work just now
	quiet     bool                     // and beside somebody else: no time passes for it
	meanwhile func() error             // what others do while time passes
	err       error                    // of the meanwhile
}

// watched lets the floor see every event the store records.
type watched struct {
	app.Store
	floor *floor
}

// Execute passes on, and applies what was recorded.
func (w watched) Execute(ctx context.Context, c core.Command, sha [32]byte, decide func(core.World) core.Outcome) (app.Answer, error) {
	answer, err := w.Store.Execute(ctx, c, sha, decide)
	if err != nil {
		return answer, err
	}
	return answer, w.see(answer)
}

// Import passes on, and applies what was recorded.
func (w watched) Import(ctx context.Context, which app.PlannedNames, plan func(app.Planned) (app.Bring, error), decide func(core.World, core.Command) core.Outcome) ([]app.Answer, error) {
	answers, err := w.Store.Import(ctx, which, plan, decide)
	if err != nil || len(answers) == 0 || answers[len(answers)-1].Refusal != nil {
		return answers, err
	}
	return answers, w.see(answers...)
}

func (w watched) see(answers ...app.Answer) error {
	w.floor.seen = nil
	for _, answer := range answers {
		if answer.Again {
			continue
		}
		for _, e := range answer.Events {
			if err := core.Apply(w.floor.state, e.Event); err != nil {
				return fmt.Errorf("what was recorded doesn't fit what was recorded before: %w", err)
			}
		}
	}
	return nil
}

func (f *floor) hour() int        { return f.clock.Now().In(f.zone).Hour() }
func (f *floor) today() core.Date { return core.DateOf(f.clock.Now().In(f.zone)) }

// pass lets between a and b minutes pass, and a third more: what nobody writes
// down. The story then fills the days it has.
func (f *floor) pass(a, b int) {
	if f.quiet {
		return
	}
	d := time.Duration(a)*time.Minute + time.Duration(f.rng.Int64N(int64(b-a)*60+1))*time.Second
	if f.theirs {
		d = d * 4 / 5 // they are many, and work side by side
	}
	f.clock.Pass((d * 4 / 3).Truncate(time.Second))
	if f.meanwhile == nil || f.err != nil {
		return
	}
	f.quiet, f.theirs = true, true
	f.err = f.meanwhile()
	f.quiet, f.theirs = false, false
}

// id is the next command's id, a UUID of version 8 (RFC 9562, 5.8: custom).
func (f *floor) id() core.CommandID {
	a, b := f.rng.Uint64(), f.rng.Uint64()
	return core.CommandID(fmt.Sprintf("%08x-%04x-8%03x-%04x-%012x", a>>32, a>>16&0xffff, a&0xfff, b>>48&0x3fff|0x8000, b&0xffffffffffff))
}

// do sends a command from a station's tablet, signed by the people named.
func (f *floor) do(at core.StationID, body core.Body, signers ...core.PersonID) (core.Event, error) {
	answer, err := f.send(at, body, nil, signers...)
	if err != nil {
		var no *app.Refused
		if errors.As(err, &no) {
			return core.Event{}, fmt.Errorf("%s at %s was refused: %s %v: %w", body.Kind(), at, no.Refusal.Code, no.Refusal.Params, err)
		}
		return core.Event{}, fmt.Errorf("%s at %s: %w", body.Kind(), at, err)
	}
	if f.theirs {
		f.noteOwn(answer.Events[0].Event)
	}
	return answer.Events[0].Event, nil
}

func (f *floor) send(at core.StationID, body core.Body, confirm []string, signers ...core.PersonID) (app.Answer, error) {
	caller, ok := f.tablets[at]
	if !ok {
		return app.Answer{}, fmt.Errorf("no tablet at %q", at)
	}
	return f.sendAs(caller, body, confirm, signers...)
}

// sendAs sends a command from a tablet or from somebody's desk.
func (f *floor) sendAs(caller app.Caller, body core.Body, confirm []string, signers ...core.PersonID) (app.Answer, error) {
	if f.err != nil && !f.quiet {
		return app.Answer{}, f.err
	}
	text, err := json.Marshal(body)
	if err != nil {
		return app.Answer{}, err
	}
	f.sent[caller.Station]++
	req := app.Request{ID: f.id(), Happened: f.clock.Now(), Sequence: f.sent[caller.Station], LastContact: f.last, Body: text, Confirm: confirm}
	for _, p := range signers {
		req.Sign = append(req.Sign, app.Sign{Badge: f.badges[p], PIN: PIN(p)})
	}
	f.count++
	answer, err := f.svc.Do(f.ctx, caller, body.Kind(), req)
	f.last = f.clock.Now()
	if err == nil && f.told != nil {
		f.told(caller, body, signers)
	}
	return answer, err
}

// refused sends a command that must be refused with a code: what people try.
func (f *floor) refused(code string, at core.StationID, body core.Body, signers ...core.PersonID) error {
	f.pass(1, 3)
	_, err := f.send(at, body, nil, signers...)
	var no *app.Refused
	switch {
	case errors.As(err, &no) && no.Refusal.Code == code:
		return nil
	case err == nil:
		return fmt.Errorf("%s at %s went through; it should have been refused with %s", body.Kind(), at, code)
	}
	return fmt.Errorf("%s at %s came to %w instead of %s", body.Kind(), at, err, code)
}

// lots lists what rests on a pallet, by id.
func (f *floor) lots(p core.PalletCode) []core.Lot { return f.sight().on[p] }

// lotsOf lists the lots of an order that have parts anywhere, by id.
func (f *floor) lotsOf(no string) []core.Lot { return f.sight().of[no] }

// sight is every lot with parts in it, by where it lies and by whose it is. All
// are looked through at once, and remembered until something is recorded.
type sight struct {
	on map[core.PalletCode][]core.Lot
	of map[string][]core.Lot // by order
}

func (f *floor) sight() *sight {
	if f.seen != nil {
		return f.seen
	}
	s := &sight{on: map[core.PalletCode][]core.Lot{}, of: map[string][]core.Lot{}}
	for _, id := range slices.Sorted(maps.Keys(f.state.Lots)) {
		l := f.state.Lots[id]
		if l.Qty == 0 {
			continue
		}
		if l.Place.Kind == core.OnPallet {
			code := core.PalletCode(l.Place.Ref)
			s.on[code] = append(s.on[code], l)
		}
		if !l.Owner.Stock() {
			s.of[l.Owner.Order] = append(s.of[l.Owner.Order], l)
		}
	}
	f.seen = s
	return s
}

// find lists the lots of an item made for an owner that lie on pallets, by id.
func (f *floor) find(item core.ItemID, owner core.Owner) []core.Lot {
	var out []core.Lot
	for _, l := range f.state.Lots {
		if l.Item.Item == item && l.Owner == owner && l.Qty > 0 && l.Place.Kind == core.OnPallet {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b core.Lot) int { return strings.Compare(string(a.ID), string(b.ID)) })
	return out
}

// palletOf is the pallet an owner's lot of an item lies on.
func (f *floor) palletOf(item core.ItemID, owner core.Owner) (core.PalletCode, error) {
	l := f.find(item, owner)
	if len(l) == 0 {
		return "", fmt.Errorf("no %s of %s on a pallet", item, owner)
	}
	return core.PalletCode(l[0].Place.Ref), nil
}

// print prints a pallet's traveller where the last print no longer says what is
// on it.
func (f *floor) print(p core.PalletCode, at core.StationID) error {
	row := f.state.Pallets[p]
	if n := len(row.Prints); n > 0 {
		if changes, _ := core.StalePrint(f.state, f.book, row, row.Prints[n-1].No); len(changes) == 0 {
			return nil
		}
	}
	f.pass(1, 2)
	_, err := f.do(at, core.PrintTraveller{Pallet: p})
	return err
}

// bring hands a pallet over to a station and takes it in there.
func (f *floor) bring(p core.PalletCode, to core.StationID) error {
	if err := f.sendOn(p, to); err != nil {
		return err
	}
	row := f.state.Pallets[p]
	if row.Bound != to {
		return nil // it was there already
	}
	f.pass(3, 9)
	_, err := f.do(to, core.TakeIn{Pallet: p, PrintSeen: lastPrint(row)})
	return err
}

// sendOn hands a pallet over to a station and leaves it on its way.
func (f *floor) sendOn(p core.PalletCode, to core.StationID) error {
	row := f.state.Pallets[p]
	if row.Station == to || row.Bound == to {
		return nil
	}
	if err := f.print(p, row.Station); err != nil {
		return err
	}
	f.pass(1, 4)
	_, err := f.do(row.Station, core.HandOver{Pallet: p, To: to})
	return err
}

func lastPrint(p core.PalletRow) int {
	if n := len(p.Prints); n > 0 {
		return p.Prints[n-1].No
	}
	return 0
}
