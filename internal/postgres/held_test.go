package postgres_test

import (
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// A hold of every scope, and an open problem, shows in the lists exactly while
// it is open, and only on what it names; as HeldBy of the core says.
func TestHoldsShowInTheLists(t *testing.T) {
	for _, scope := range []core.HoldScope{core.HoldLot, core.HoldPallet, core.HoldItem, core.HoldHeat, core.HoldBatch, core.HoldOrder, core.HoldGauge, "problem"} {
		t.Run(string(scope), func(t *testing.T) {
			f := newFixture(t)
			owner := core.Owner{Order: "O-1", Line: 1}
			order := core.Order{No: "O-1", Customer: "Invented Ltd", Promised: "2026-11-20", Lines: []core.OrderLine{{Owner: owner, Item: bracket, Qty: 5}}}
			f.do(t, "enlist", core.Names{Orders: []string{"O-1"}}, func(w core.World) core.Outcome {
				return happen("enlist", w, core.EvImported, core.Effect{OrderPut: &order})
			})
			code, lot := f.bear(t, "held", 5, owner)
			other := core.ItemRev{Item: "BR-2", Rev: "A"}
			f.do(t, "free", core.Names{}, func(w core.World) core.Outcome {
				at := core.On(w.Fresh[0])
				return happen("free", w, core.EvGoodsReceived,
					core.Effect{PalletPut: &core.PalletRow{Code: w.Fresh[0], Kind: core.PalletCarrier, Station: "bench", Since: w.Now}},
					core.Effect{LotBorn: &core.Lot{ID: "free/1", Item: other, Place: at, Heats: []string{"H2"}}},
					core.Effect{Moved: &core.Move{Lot: "free/1", Item: other, From: core.Place{Kind: core.FromSupplier}, To: at, Qty: 1}})
			})
			f.do(t, "work", on(code), func(w core.World) core.Outcome {
				return happen("work", w, core.EvSigned,
					core.Effect{BatchUsed: &core.BatchUsed{Lot: lot, Batch: "PB-1"}},
					core.Effect{Gauged: &core.Gauged{Lot: lot, Instrument: "G-1", At: w.Now}})
			})
			ref := map[core.HoldScope]string{core.HoldLot: string(lot), core.HoldPallet: string(code), core.HoldItem: bracket.Key(),
				core.HoldHeat: "H1", core.HoldBatch: "PB-1", core.HoldOrder: "O-1", core.HoldGauge: "G-1"}[scope]
			hold := core.Hold{ID: "H", Scope: scope, Ref: ref, Reason: "doubt", At: f.clock.Now(), Since: f.clock.Now().Add(-time.Hour)}
			problem := core.Problem{ID: "Q", Lot: lot, Qty: 5, What: "bent", At: f.clock.Now()}
			put := func(id string) {
				f.do(t, id, core.Names{Holds: []core.HoldID{"H"}, Problems: []core.ProblemID{"Q"}}, func(w core.World) core.Outcome {
					if scope == "problem" {
						return happen(id, w, core.EvProblemReported, core.Effect{ProblemPut: &problem})
					}
					return happen(id, w, core.EvHeld, core.Effect{HoldPut: &hold})
				})
			}
			shown := func(want bool) {
				t.Helper()
				there, err := f.AtStation(t.Context(), "bench", app.Part{})
				here := there.Here
				if err != nil || len(here) != 2 {
					t.Fatalf("at the bench: %+v, %v", here, err)
				}
				for _, c := range here {
					if c.Held != (want && c.Code == code) {
						t.Errorf("pallet %s counts as held=%v", c.Code, c.Held)
					}
				}
				cards := must(f.Docket(t.Context(), 10))(t)
				if cards[0].Held != want || !cards[0].Late || cards[0].Live != 5 {
					t.Errorf("the order: %+v, want held=%v", cards[0], want)
				}
				wall := must(f.Wall(t.Context()))(t)
				if got := len(wall.Held) == 1; got != want {
					t.Errorf("the wall: %+v, want held=%v", wall.Held, want)
				}
				if len(wall.Late) != 1 || wall.Late[0].Order != "O-1" || wall.Pallets != 2 {
					t.Errorf("the wall: %+v", wall)
				}
				w := must(f.Load(t.Context(), on(code), ""))(t)
				if _, held := core.HeldBy(w.State, w.State.Lots[lot]); held != (want && scope != "problem") {
					t.Errorf("the core says held=%v", held)
				}
				holds, problems := must(f.OpenHolds(t.Context()))(t), must(f.Problems(t.Context()))(t)
				if (len(holds)+len(problems) == 1) != want {
					t.Errorf("open: %v, %v", holds, problems)
				}
			}
			shown(false)
			put("stop")
			shown(true)
			hold.Released, problem.Closed = f.clock.Now(), f.clock.Now()
			put("go")
			shown(false)
			f.verified(t)
		})
	}
}
