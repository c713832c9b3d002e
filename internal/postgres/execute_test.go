package postgres_test

import (
	"errors"
	"reflect"
	"sync"
	"sync/atomic"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

func TestExecuteRecordsAndProjects(t *testing.T) {
	f := newFixture(t)
	a, lot := f.bear(t, "born", 20, core.Owner{})
	b, _ := f.bear(t, "other", 1, core.Owner{})
	answer := f.do(t, "cut", on(a, b), split("cut", a, b, 8))
	if len(answer.Events) != 1 || answer.Events[0].Seq == 0 || answer.Events[0].Recorded.IsZero() {
		t.Fatalf("answer %+v", answer)
	}
	if got := f.parts(t, a); got != 12 {
		t.Errorf("%d parts left on %s, want 12", got, a)
	}
	if got := f.parts(t, b); got != 9 {
		t.Errorf("%d parts on %s, want 9", got, b)
	}
	lots := must(f.Lots(t.Context(), []core.LotID{lot, "cut/1"}))(t)
	if len(lots) != 2 || lots[0].Qty != 12 || lots[0].Heats[0] != "H1" {
		t.Errorf("lots %+v", lots)
	}
}

func TestSameCommandAgainGetsTheFirstAnswer(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "born", 20, core.Owner{})
	b, _ := f.bear(t, "other", 1, core.Owner{})
	first := f.do(t, "cut", on(a, b), split("cut", a, b, 8))
	again := f.do(t, "cut", on(a, b), func(core.World) core.Outcome {
		t.Error("decided again")
		return core.Outcome{}
	})
	if !again.Again {
		t.Error("the second answer doesn't say it was given before")
	}
	again.Again = false
	if !reflect.DeepEqual(first, again) {
		t.Errorf("answers differ:\n%+v\n%+v", first, again)
	}
	if got := f.parts(t, b); got != 9 {
		t.Errorf("%d parts on %s, want 9", got, b)
	}
	_, err := f.Execute(t.Context(), core.Command{ID: "cut", Body: asked{"test", on(a)}}, shaOf("something else"), split("cut", a, b, 1))
	if !errors.Is(err, app.ErrOtherBody) {
		t.Errorf("another body under the same id: %v", err)
	}
}

func TestRefusalIsTheAnswer(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "born", 5, core.Owner{})
	b, _ := f.bear(t, "other", 1, core.Owner{})
	first := f.do(t, "cut", on(a, b), split("cut", a, b, 8))
	again := f.do(t, "cut", on(a, b), split("cut", a, b, 1))
	if first.Refusal == nil || again.Refusal == nil || again.Refusal.Code != "too-few" || !again.Again {
		t.Fatalf("first %+v, again %+v", first, again)
	}
	if err := f.NoteRefusal(t.Context(), app.RefusalRow{Command: "cut", Kind: "test", Refusal: core.Refusal{Code: "pin-wrong"}}); err != nil {
		t.Fatal(err)
	}
	rows := must(f.Refusals(t.Context(), app.RefusalQuery{Limit: 10}))(t)
	if len(rows) != 2 || rows[0].Refusal.Code != "pin-wrong" || rows[1].Refusal.Code != "too-few" || rows[1].Station != "bench" {
		t.Errorf("refusals %+v", rows)
	}
}

func TestSameCommandTwiceAtOnce(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "born", 20, core.Owner{})
	b, _ := f.bear(t, "other", 1, core.Owner{})
	var decided, again atomic.Int32
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			answer := f.do(t, "cut", on(a, b), func(w core.World) core.Outcome {
				decided.Add(1)
				return split("cut", a, b, 3)(w)
			})
			if answer.Again {
				again.Add(1)
			}
			if len(answer.Events) != 1 {
				t.Errorf("answer %+v", answer)
			}
		})
	}
	wg.Wait()
	if decided.Load() != 1 || again.Load() != 7 {
		t.Errorf("decided %d times, answered again %d times", decided.Load(), again.Load())
	}
	if got := f.parts(t, b); got != 4 {
		t.Errorf("%d parts on %s, want 4", got, b)
	}
}

// Many tablets move parts between few pallets: none is lost, none is made, and
// nobody waits for ever.
func TestConcurrentCommandsOnSharedPallets(t *testing.T) {
	f := newFixture(t)
	const tablets, rounds, pallets, each = 8, 25, 4, 50
	codes := make([]core.PalletCode, pallets)
	for i := range codes {
		codes[i], _ = f.bear(t, name("born", i), each, core.Owner{})
	}
	var wg sync.WaitGroup
	var moved atomic.Int32
	for tablet := range tablets {
		wg.Go(func() {
			for round := range rounds {
				from, to := codes[(tablet+round)%pallets], codes[(tablet*3+round*7+1)%pallets]
				if from == to {
					continue
				}
				id := name("move", tablet, round)
				// Named in either order; the locks must not mind.
				if f.do(t, id, on(to, from), split(id, from, to, 1+round%3)).Refusal == nil {
					moved.Add(1)
				}
			}
		})
	}
	wg.Wait()
	sum := 0
	for _, c := range codes {
		sum += f.parts(t, c)
	}
	if sum != pallets*each {
		t.Errorf("%d parts, want %d", sum, pallets*each)
	}
	if moved.Load() < tablets*rounds/4 {
		t.Errorf("only %d moves were made", moved.Load())
	}
	f.verified(t)
}

// A lot is named by its id alone while others carry it to and fro: whoever
// names it must see the pallet it rests on, locked.
func TestLotFoundOnlyAfterItsPallet(t *testing.T) {
	f := newFixture(t)
	a, lot := f.bear(t, "born", 1, core.Owner{})
	b, _ := f.bear(t, "other", 1, core.Owner{})
	var wg sync.WaitGroup
	carry := func(w core.World, id string) core.Outcome {
		l := w.State.Lots[lot]
		to := a
		if l.Place == core.On(a) {
			to = b
		}
		return happen(id, w, core.EvDivided, core.Effect{Moved: &core.Move{Lot: lot, Item: l.Item, From: l.Place, To: core.On(to), Qty: 1}})
	}
	for tablet := range 3 {
		wg.Go(func() {
			for round := range 15 {
				id := name("carry", tablet, round)
				f.do(t, id, on(a, b), func(w core.World) core.Outcome { return carry(w, id) })
			}
		})
		wg.Go(func() {
			for round := range 15 {
				f.do(t, name("look", tablet, round), core.Names{Lots: []core.LotID{lot}}, func(w core.World) core.Outcome {
					l := w.State.Lots[lot]
					if _, there := w.State.Pallets[core.PalletCode(l.Place.Ref)]; !there {
						t.Errorf("the lot is at %s, which was not loaded", l.Place)
					}
					return core.Outcome{Refusal: &core.Refusal{Code: "looked"}}
				})
			}
		})
	}
	wg.Wait()
	f.verified(t)
}

func TestWhatNoDecisionMakesIsNotRecorded(t *testing.T) {
	f := newFixture(t)
	a, lot := f.bear(t, "born", 5, core.Owner{})
	b, _ := f.bear(t, "other", 1, core.Owner{})
	move := func(from, to core.Place, qty int) core.Effect {
		return core.Effect{Moved: &core.Move{Lot: lot, Item: bracket, From: from, To: to, Qty: qty}}
	}
	descent := core.Place{Kind: core.Descent, Ref: "x"}
	for what, effects := range map[string][]core.Effect{
		"more than there is":      {move(core.On(a), core.Place{Kind: core.Scrapped}, 6)},
		"from nothing":            {move(descent, core.On(a), 1)},
		"to a pallet not named":   {move(core.On(a), core.On(b), 5)},
		"an effect without a lot": {{}},
	} {
		_, err := f.Execute(t.Context(), core.Command{ID: core.CommandID(what), Body: asked{"test", on(a)}}, shaOf(what),
			func(w core.World) core.Outcome { return happen(what, w, core.EvDivided, effects...) })
		if err == nil {
			t.Errorf("%s was recorded", what)
		}
	}
	if got := f.parts(t, a); got != 5 {
		t.Errorf("%d parts on %s, want 5", got, a)
	}
	f.verified(t)
}

// Every table's rows can be changed after they were made.
func TestEveryRowCanChange(t *testing.T) {
	f := newFixture(t)
	n := core.Names{Abrasives: []string{"BELT"}, Nests: []string{"N"}, Holds: []core.HoldID{"H"}, Problems: []core.ProblemID{"Q"},
		Orders: []string{"O"}, Builds: []core.BuildCode{"UB"}, Consignments: []core.ConsignmentCode{"CC"}, Pallets: []core.PalletCode{"PP"}}
	for i, text := range []string{"one", "two", "three"} {
		id := name("put", i)
		f.do(t, id, n, func(w core.World) core.Outcome {
			return happen(id, w, core.EvCorrected,
				core.Effect{AbrasivePut: &core.Abrasive{ID: "BELT", Touched: []core.Metal{core.Metal(text)}}},
				core.Effect{NestPut: &core.Nest{ID: "N", Sheet: core.PalletCode(text)}},
				core.Effect{HoldPut: &core.Hold{ID: "H", Reason: text}},
				core.Effect{ProblemPut: &core.Problem{ID: "Q", What: text}},
				core.Effect{OrderPut: &core.Order{No: "O", Customer: text, Lines: []core.OrderLine{{Owner: core.Owner{Order: "O", Line: 1}, Item: bracket, Qty: i + 1}}}},
				core.Effect{BuildPut: &core.Build{Code: "UB", Unit: i}},
				core.Effect{ConsignmentPut: &core.Consignment{Code: "CC", Vehicle: text}},
				core.Effect{PalletPut: &core.PalletRow{Code: "PP", Label: text}})
		})
		s := must(f.Load(t.Context(), n, ""))(t).State
		if s.Abrasives["BELT"].Touched[0] != core.Metal(text) || string(s.Nests["N"].Sheet) != text || s.Holds["H"].Reason != text ||
			s.Problems["Q"].What != text || s.Orders["O"].Customer != text || s.Builds["UB"].Unit != i || s.Consignments["CC"].Vehicle != text ||
			s.Pallets["PP"].Label != text {
			t.Errorf("after %s: %+v", text, s)
		}
		f.verified(t)
	}
}
