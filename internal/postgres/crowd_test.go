package postgres_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"sync"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/postgres"
)

// tablet is one of several that work the floor at once, each choosing what to do
// by its own seed. What it does may be refused; it may never fail.
type tablet struct {
	*floor
	no, n int
	r     *rand.Rand
	done  map[string]int
}

func (x *tablet) send(c core.Command, signers ...core.PersonID) {
	x.n++
	c.ID, c.Happened = core.CommandID(fmt.Sprintf("t%d-%04d", x.no, x.n)), x.clock.Now()
	for _, p := range signers {
		c.Signers = append(c.Signers, core.Signature{Person: p, At: c.Happened})
	}
	a, err := x.Execute(x.t.Context(), c, shaOf(string(c.ID)), func(w core.World) core.Outcome { return core.Decide(w, c) })
	if err != nil {
		x.t.Errorf("%v", err)
		return
	}
	x.done[c.Body.Kind()]++
	if a.Refusal == nil {
		x.done[c.Body.Kind()+" done"]++
	}
}

// any picks a lot on some pallet, by what the screens list.
func (x *tablet) any() (core.World, core.Lot, bool) {
	cards, err := x.Pallets(x.t.Context(), 200)
	if err != nil || len(cards) == 0 {
		return core.World{}, core.Lot{}, false
	}
	code := cards[x.r.IntN(len(cards))].Code
	w, err := x.Load(x.t.Context(), on(code), "")
	if err != nil {
		x.t.Error(err)
		return w, core.Lot{}, false
	}
	lots := w.State.LotsAt(core.On(code))
	if len(lots) == 0 {
		return w, core.Lot{}, false
	}
	return w, lots[x.r.IntN(len(lots))], true
}

func (x *tablet) act() {
	w, l, found := x.any()
	if !found {
		return
	}
	code := core.PalletCode(l.Place.Ref)
	switch x.r.IntN(14) {
	case 0:
		x.send(core.Command{Body: core.Divide{From: code, Picks: []core.Pick{{Lot: l.ID, Qty: 1 + x.r.IntN(l.Qty)}}}, Station: "BENCH-1"})
	case 1:
		if _, other, ok := x.any(); ok {
			x.send(core.Command{Body: core.Divide{From: code, To: core.PalletCode(other.Place.Ref), Picks: []core.Pick{{Lot: l.ID, Qty: 1}}}, Station: "BENCH-1"})
		}
	case 2:
		x.send(core.Command{Body: core.ReportProblem{Pallet: code, Lot: l.ID, Qty: 1, What: "dent"}, Station: w.State.Pallets[code].Station}, "P21")
	case 3:
		x.dispose()
	case 4:
		x.send(core.Command{Body: core.Recount{Pallet: code, Lot: l.ID, Found: x.r.IntN(l.Qty + 2), Reason: "counted"}, Confirm: []string{"count-differs"}}, "P06")
	case 5:
		x.send(core.Command{Body: core.PlaceHold{Scope: core.HoldLot, Ref: string(l.ID), Reason: "doubt"}}, "P03")
	case 6, 7:
		if holds, err := x.OpenHolds(x.t.Context()); err == nil && len(holds) > 0 {
			x.send(core.Command{Body: core.LiftHold{Hold: holds[x.r.IntN(len(holds))].ID, Reason: "looked"}}, "P03")
		}
	case 8:
		x.send(core.Command{Body: core.Gather{Item: panel, Owner: panels}, Station: "WELD-1"})
	case 9:
		x.send(core.Command{Body: core.ChangeOwner{Pallet: code, Lot: l.ID, Qty: 1, Reason: "lent"}}, "P02")
	case 10:
		own := core.EventID(fmt.Sprintf("t%d-%04d.1", x.no, 1+x.r.IntN(x.n+1)))
		x.send(core.Command{Body: core.Correct{Event: own, Reason: "wrong"}}, "P18", "P03")
	default:
		x.work(w, l)
	}
}

// work takes a lot through its next step.
func (x *tablet) work(w core.World, l core.Lot) {
	next := core.NextSteps(x.book, l)
	if len(next) == 0 {
		x.send(core.Command{Body: core.TakeIn{Pallet: core.PalletCode(l.Place.Ref)}, Station: "WELD-1"})
		return
	}
	code, at := core.PalletCode(l.Place.Ref), x.stationFor(next[0].Stage, x.book.Items[l.Item].Metal)
	if w.State.Pallets[code].Station != at {
		x.send(core.Command{Body: core.TakeIn{Pallet: code}, Station: at})
	}
	signer, named := hands[next[0].Stage]
	if !named {
		signer = "P21"
	}
	good := 1 + x.r.IntN(l.Qty)
	x.send(core.Command{Station: at, Body: core.SignOff{Pallet: code, Stage: next[0].Stage, Inputs: x.inputs(l, next[0]),
		Lots: []core.LotWork{{Lot: l.ID, Good: good, NotDone: l.Qty - good, Checks: x.checks(core.StepOf(x.book, w.State.Orders[l.Owner.Order], l, next[0]))}}}}, signer)
}

func (x *tablet) dispose() {
	problems, err := x.Problems(x.t.Context())
	if err != nil || len(problems) == 0 {
		return
	}
	how := []core.Disposition{core.DisposeScrap, core.DisposeRemake, core.DisposeUseAsIs}[x.r.IntN(3)]
	x.send(core.Command{Body: core.Dispose{Problem: problems[x.r.IntN(len(problems))].ID, Disposition: how, Reason: "looked"}}, "P18", "P03")
}

// Six tablets work one small shop at once, with the real core: whatever they
// come to, nothing fails, no part is lost or made, every order line adds up, and
// the record, the state and a rebuild agree.
func TestACrowdOnTheFloor(t *testing.T) { crowd(t, 6, 40) }

// The same by eight tablets, as long as TAGALONG_SOAK_FLOOR says.
func TestSoakTheFloor(t *testing.T) {
	text := os.Getenv("TAGALONG_SOAK_FLOOR")
	if text == "" {
		t.Log("make soak sets TAGALONG_SOAK_FLOOR; a few hundred acts are in the test of the same crowd")
		return
	}
	acts, err := strconv.Atoi(text)
	if err != nil || acts < 1 {
		t.Fatalf("TAGALONG_SOAK_FLOOR is %q, not a count of acts", text)
	}
	crowd(t, 8, acts/8)
}

func crowd(t *testing.T, tablets, acts int) {
	s := newFloor(t)
	s.nest("T-1", sheet5005, panels, core.Component{Item: skin, Qty: 4}, core.Component{Item: stiffener, Qty: 6})
	s.nest("T-2", bar, panels, core.Component{Item: post, Qty: 4})
	s.separate("T-1", sheet5005)
	s.separate("T-2", bar)
	var wg sync.WaitGroup
	all := make([]*tablet, tablets)
	for i := range all {
		x := &tablet{floor: s, no: i, r: rand.New(rand.NewPCG(4, uint64(i))), done: map[string]int{}}
		all[i] = x
		wg.Go(func() {
			for range acts {
				x.act()
			}
		})
	}
	wg.Wait()
	did := map[string]int{}
	for _, x := range all {
		for k, n := range x.done {
			did[k] += n
		}
	}
	for _, k := range []string{"sign-off done", "divide done", "report-problem done", "place-hold done", "lift-hold done", "recount done"} {
		if did[k] == 0 {
			t.Errorf("nobody came to %s: %v", k, did)
		}
	}
	t.Logf("%d tablets, %d acts each: %v", tablets, acts, did)
	_, faults, err := s.Verify(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range faults {
		t.Errorf("fault: %v", f)
	}
	before := s.dump()
	if _, err := postgres.Rebuild(t.Context(), s.db.OwnerURL); err != nil {
		t.Fatal(err)
	}
	if s.dump() != before {
		t.Error("a rebuild changed the rows")
	}
}
