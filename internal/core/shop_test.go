package core_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"testing"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

// shop drives the core over a whole state in memory, as the store does row by
// row. It keeps every event, so that a test can fold them again.
type shop struct {
	t      tester
	book   *core.Book
	state  *core.State
	now    time.Time
	n      int
	events []core.Event
	pushed []core.PalletCode // moved behind the log's back by a test
	quick  bool              // leaves it to other tests that Decide changes nothing it is given
}

var wednesday = time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)

// tester is what testing.T and rapid.T have in common here.
type tester interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
	Error(...any)
	Errorf(string, ...any)
}

// newShop is the sample shop with its orders and nests enlisted.
func newShop(t testing.TB) *shop {
	t.Helper()
	book, bundle := sampleBook(t)
	for _, o := range bundle.Orders {
		if o.No == trays.Order {
			o.Lines[0].Qty = 100 // enough for every test's trays
		}
	}
	s := &shop{t: t, book: book, state: core.NewState(), now: wednesday}
	s.must(core.Enlist{Orders: bundle.Orders, Nests: bundle.Nests, Source: "samples"}, "")
	return s
}

// do decides a command at a station, signed by the people named, and applies
// what it comes to.
func (s *shop) do(body core.Body, at core.StationID, signers ...core.PersonID) core.Outcome {
	return s.send(core.Command{Body: body, Station: at}, signers...)
}

func (s *shop) send(c core.Command, signers ...core.PersonID) core.Outcome {
	s.t.Helper()
	s.n++
	s.now = s.now.Add(time.Minute)
	c.ID = core.CommandID(fmt.Sprintf("c%05d", s.n))
	c.Happened = s.now
	for _, p := range signers {
		c.Signers = append(c.Signers, core.Signature{Person: p, At: s.now})
	}
	w := core.World{Now: s.now, Book: s.book, State: s.state, Past: s.past(c.Body)}
	for i := range 40 {
		w.Fresh = append(w.Fresh, core.PalletCode(fmt.Sprintf("P%d.%d", s.n, i)))
		w.Codes.Sheets = append(w.Codes.Sheets, core.PalletCode(fmt.Sprintf("S%d.%d", s.n, i)))
	}
	w.Codes.Builds = []core.BuildCode{core.BuildCode(fmt.Sprintf("U%d", s.n))}
	w.Codes.Consignments = []core.ConsignmentCode{core.ConsignmentCode(fmt.Sprintf("C%d", s.n))}

	out := s.decide(w, c)
	if (out.Refusal == nil) == (len(out.Events) == 0) {
		s.t.Fatalf("%s came to neither events nor a refusal, or to both", c.Body.Kind())
	}
	for _, e := range out.Events {
		if err := core.Apply(s.state, e); err != nil {
			s.t.Fatalf("%s: %v", c.Body.Kind(), err)
		}
		s.events = append(s.events, e)
	}
	return out
}

// decide decides, and sees to it that the state given is left as it was.
func (s *shop) decide(w core.World, c core.Command) core.Outcome {
	s.t.Helper()
	if s.quick {
		return core.Decide(w, c)
	}
	before := text(s.t, s.state)
	out := core.Decide(w, c)
	if after := text(s.t, s.state); after != before {
		s.t.Fatalf("Decide changed the state it was given (%s)", c.Body.Kind())
	}
	return out
}

// past is what the store loads for a correction.
func (s *shop) past(b core.Body) []core.Event {
	c, ok := b.(core.Correct)
	if !ok {
		return nil
	}
	i := slices.IndexFunc(s.events, func(e core.Event) bool { return e.ID == c.Event })
	if i < 0 {
		return nil
	}
	return s.events[i:]
}

// must does what has to work.
func (s *shop) must(body core.Body, at core.StationID, signers ...core.PersonID) core.Event {
	s.t.Helper()
	out := s.do(body, at, signers...)
	if out.Refusal != nil {
		s.t.Fatalf("%s at %s: refused %s %v", body.Kind(), at, out.Refusal.Code, out.Refusal.Params)
	}
	return out.Events[0]
}

// refused does what must be refused, with this code, changing nothing.
func (s *shop) refused(code string, body core.Body, at core.StationID, signers ...core.PersonID) *core.Refusal {
	s.t.Helper()
	out := s.do(body, at, signers...)
	if out.Refusal == nil {
		s.t.Fatalf("%s at %s was not refused; want %s", body.Kind(), at, code)
	}
	if out.Refusal.Code != code {
		s.t.Fatalf("%s at %s: refused %s %v; want %s", body.Kind(), at, out.Refusal.Code, out.Refusal.Params, code)
	}
	return out.Refusal
}

// text is a state as canonical JSON.
func text(t tester, s *core.State) string {
	t.Helper()
	b, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// hand is who signs a stage.
func hand(stage core.StageName) core.PersonID { return crowd.Hand(stage) }

// inputs are the batches a stage asks for on a lot.
func inputs(b *core.Book, l core.Lot, step core.Step, stage core.StageName) []string {
	step.Stage = stage
	return crowd.Inputs(b, l, step)
}

// checks answers every characteristic of a step well.
func checks(b *core.Book, step core.Step) []core.CheckReading { return crowd.Checks(b, step) }

// keys are a map's keys in order, so that a random run can be run again.
func keys[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }

// stationFor is the first station that does a stage, with the right belt.
func (s *shop) stationFor(stage core.StageName, metal core.Metal) core.StationID {
	return crowd.StationFor(s.book, stage, metal)
}

// work is the sign-off of one lot's next step, whole and good, ready to be sent.
func (s *shop) work(id core.LotID) (core.SignOff, core.StationID) {
	return crowd.Work(s.book, s.state, id)
}

// asked is a step as it is asked of a lot, with what its order's distance takes.
func (s *shop) asked(l core.Lot, step core.Step) core.Step {
	return core.StepOf(s.book, s.state.Orders[l.Owner.Order], l, step)
}

// sendOff ships a consignment short of what its orders ask, which their
// customers agreed to.
func (s *shop) sendOff(c core.ConsignmentCode, vehicle, reason string) core.Outcome {
	s.t.Helper()
	return s.send(core.Command{Body: core.Ship{Consignment: c, Vehicle: vehicle, HandedTo: core.SignedOnPaper, Consents: crowd.Consents(s.state, c, reason)},
		Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25")
}

// bring takes the lot's pallet in at a station, unless it is there.
func (s *shop) bring(id core.LotID, at core.StationID) {
	s.t.Helper()
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	if s.state.Pallets[code].Station != at {
		s.must(core.TakeIn{Pallet: code}, at)
	}
}

// step takes a lot through its next step and returns the stage it was.
func (s *shop) step(id core.LotID) core.StageName {
	s.t.Helper()
	w, at := s.work(id)
	s.bring(id, at)
	s.must(w, at, hand(w.Stage))
	return w.Stage
}

// until works a lot until its next step is the stage named.
func (s *shop) until(id core.LotID, stage core.StageName) {
	s.t.Helper()
	for range 40 {
		next := core.NextSteps(s.book, s.state.Lots[id])
		if len(next) == 0 || next[0].Stage == stage {
			return
		}
		s.step(id)
	}
	s.t.Fatalf("lot %s never came to %s", id, stage)
}

// finish works a lot to the end of its route.
func (s *shop) finish(id core.LotID) { s.t.Helper(); s.until(id, "") }

// sheet receives and cuts a sheet of a nest's material; a remake's nest names
// none, and is cut here from aluminium of 3 mm.
func (s *shop) sheet(nest string) core.PalletCode {
	s.t.Helper()
	metal := s.state.Nests[nest].Material
	if metal.Item == "" {
		metal = sheet5005
	}
	return s.cutSheet(nest, metal)
}

// cutSheet receives a sheet of a material and cuts it.
func (s *shop) cutSheet(nest string, metal core.ItemRev) core.PalletCode {
	s.t.Helper()
	e := s.must(core.ReceiveGoods{Item: metal, Qty: 1, Heat: "H" + nest, Label: "sheet " + nest, Identified: true}, "GOODS-1", "P06")
	code := e.Pallets[0]
	id := s.state.LotsAt(core.On(code))[0].ID
	s.until(id, "separate")
	s.must(core.TakeIn{Pallet: code}, "BENCH-1")
	return code
}

// separate breaks a nest out whole, every line on a pallet of its own, and
// returns the lots.
func (s *shop) separate(nest string) []core.Lot {
	s.t.Helper()
	b := core.Separate{Sheet: s.sheet(nest), Nest: nest}
	for _, p := range s.state.Nests[nest].Parts {
		b.Ticks = append(b.Ticks, core.PartTick{Line: p.No, Good: p.Qty, To: core.PalletCode(fmt.Sprintf("new:%d", p.No))})
	}
	e := s.must(b, "BENCH-1", "P06")
	var out []core.Lot
	for _, c := range e.Lots {
		out = append(out, s.state.Lots[c.Lot])
	}
	return out
}

// nest enlists a nest of our own for an order line.
func (s *shop) nest(id string, material core.ItemRev, owner core.Owner, parts ...core.Component) {
	s.t.Helper()
	n := core.Nest{ID: id, Material: material}
	for i, p := range parts {
		n.Parts = append(n.Parts, core.NestPart{No: i + 1, Item: p.Item, Owner: owner, Qty: p.Qty})
	}
	s.must(core.Enlist{Nests: []core.Nest{n}, Source: "test"}, "")
}

// rebuilt folds every event into an empty state, through JSON as the log does.
func (s *shop) rebuilt() *core.State {
	s.t.Helper()
	out := core.NewState()
	for _, e := range s.events {
		b, err := json.Marshal(e)
		if err != nil {
			s.t.Fatal(err)
		}
		var again core.Event
		if err := json.Unmarshal(b, &again); err != nil {
			s.t.Fatal(err)
		}
		if err := core.Apply(out, again); err != nil {
			s.t.Fatal(err)
		}
	}
	return out
}

func (s *shop) agrees() {
	s.t.Helper()
	again := s.rebuilt()
	for _, code := range s.pushed {
		again.Pallets[code] = s.state.Pallets[code]
	}
	if a, b := text(s.t, s.state), text(s.t, again); a != b {
		s.t.Fatalf("a rebuild from the log differs from the state:\n%s\n%s", a, b)
	}
}

func same[T any](t tester, what string, got, want T) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("%s: got %v, want %v", what, got, want)
	}
}
