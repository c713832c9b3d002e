package core_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

func carriers(kind core.ReturnKind, n int) []core.CarrierCount {
	return []core.CarrierCount{{Kind: kind, Count: n}}
}

// The shop's own carriers are counted out and back by consignment; no more can
// come back than left, and what never will is given up with a reason.
func TestCarriersComeBack(t *testing.T) {
	s := newShop(t)
	truck := s.loaded(s.packedPanels(1)...)
	back := func(cs []core.CarrierCount) core.TakeBack { return core.TakeBack{Consignment: truck, Carriers: cs} }
	s.refused("not-shipped", back(carriers(core.ReturnStillage, 1)), "DOCK-1")
	ship := core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: core.SignedOnPaper, Consents: crowd.Consents(s.state, truck, "one bay is ready")}
	send := func(cs ...core.CarrierCount) core.Outcome {
		ship.Carriers = cs
		return s.send(core.Command{Body: ship, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25")
	}
	for _, wrong := range []core.CarrierCount{{Kind: "barrow", Count: 1}, {Kind: core.ReturnCrate, Count: -1}, {Kind: core.ReturnCrate, Count: 1000}} {
		if out := send(wrong); out.Refusal == nil || out.Refusal.Code != "carriers-wrong" {
			t.Errorf("%+v: %v", wrong, out.Refusal)
		}
	}
	if out := send(core.CarrierCount{Kind: core.ReturnPallet, Count: 1}, core.CarrierCount{Kind: core.ReturnStillage, Count: 2}, core.CarrierCount{Kind: core.ReturnCrate}); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	owed := func() string { return core.CarriersText(s.state.Consignments[truck].Owed()) }
	same(t, "out", owed(), "2 stillages, 1 pallet")
	s.refused("carriers-none", back(nil), "DOCK-1")
	s.refused("carriers-none", back(carriers(core.ReturnStillage, 0)), "DOCK-1")
	s.refused("carriers-wrong", back(carriers(core.ReturnStillage, -1)), "DOCK-1")
	s.refused("carriers-too-many", back(carriers(core.ReturnCrate, 1)), "DOCK-1")
	s.refused("consignment-unknown", core.TakeBack{Consignment: "C0", Carriers: carriers(core.ReturnStillage, 1)}, "DOCK-1")
	s.must(core.ReceiveAtSite{Consignment: truck}, "SITE-LARKFIELD", "P27")
	s.must(back(carriers(core.ReturnStillage, 1)), "DOCK-1")
	same(t, "one back", owed(), "1 stillage, 1 pallet")
	r := s.refused("carriers-too-many", back(carriers(core.ReturnStillage, 2)), "DOCK-1")
	same(t, "can come", r.Params["out"], "1 stillage, 1 pallet")
	lost := core.TakeBack{Consignment: truck, Carriers: carriers(core.ReturnPallet, 1), Lost: true}
	s.refused("reason-missing", lost, "DOCK-1")
	lost.Note = "broken up at the site"
	s.must(lost, "DOCK-1")
	s.must(back(carriers(core.ReturnStillage, 1)), "DOCK-1")
	same(t, "settled", owed(), "")
	s.agrees()
}

// Out is back, lost and owed, whatever is counted in.
func TestCarriersAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(name string) []core.CarrierCount {
			var out []core.CarrierCount
			for _, k := range core.ReturnKinds {
				out = append(out, core.CarrierCount{Kind: k, Count: rapid.IntRange(0, 4).Draw(rt, name+" "+string(k))})
			}
			return out
		}
		state := core.NewState()
		state.Consignments["C1"] = core.Consignment{Code: "C1", Gone: wednesday, Out: draw("out")}
		for range 6 {
			b := core.TakeBack{Consignment: "C1", Carriers: draw("back"), Lost: rapid.Bool().Draw(rt, "lost"), Note: "counted"}
			out := core.Decide(core.World{Now: wednesday, Book: &core.Book{}, State: state}, core.Command{ID: "c", Body: b})
			for _, e := range out.Events {
				if err := core.Apply(state, e); err != nil {
					rt.Fatal(err)
				}
			}
		}
		c := state.Consignments["C1"]
		for i, k := range core.ReturnKinds {
			n := map[string]int{}
			for name, cs := range map[string][]core.CarrierCount{"back": c.Back, "lost": c.Lost, "owed": c.Owed()} {
				for _, x := range cs {
					if x.Kind == k {
						n[name] += x.Count
					}
				}
			}
			if n["back"]+n["lost"]+n["owed"] != c.Out[i].Count || n["owed"] < 0 {
				rt.Fatalf("%s: %v of %d", k, n, c.Out[i].Count)
			}
		}
	})
}

// What a carrier weighed stays with its consignment until something is put on it
// or taken off it, and leaves with it.
func TestCarriersAreWeighed(t *testing.T) {
	s := newShop(t)
	pallets := s.packedPanels(2)
	truck := s.loaded(pallets...)
	weigh := func(p core.PalletCode, kg float64) core.Weigh {
		return core.Weigh{Consignment: truck, Gross: []core.GrossMass{{Pallet: p, Kg: kg}}}
	}
	s.refused("consignment-unknown", core.Weigh{Consignment: "C0", Gross: weigh(pallets[0], 1).Gross}, "DOCK-1")
	s.refused("gross-none", core.Weigh{Consignment: truck}, "DOCK-1")
	s.refused("box-not-listed", weigh("P0", 60), "DOCK-1")
	for _, kg := range []float64{0, -3, 10_001, math.NaN(), math.Inf(1)} {
		s.refused("gross-wrong", weigh(pallets[0], kg), "DOCK-1")
	}
	s.must(weigh(pallets[0], 61), "DOCK-1")
	e := s.must(core.Weigh{Consignment: truck, Gross: []core.GrossMass{{pallets[0], 62.5}, {pallets[1], 70}}}, "DOCK-1")
	same(t, "weighed again", s.state.Consignments[truck].GrossOf(pallets[0]), 62.5)
	same(t, "about", len(e.Pallets), 2)

	lot := s.lotOn(pallets[1])
	s.send(core.Command{Body: core.Recount{Pallet: pallets[1], Lot: lot, Found: 0, Reason: "not there"}, Confirm: []string{"count-differs"}}, "P06")
	same(t, "of what was taken off", s.state.Consignments[truck].GrossOf(pallets[1]), 0)
	same(t, "of the other", s.state.Consignments[truck].GrossOf(pallets[0]), 62.5)
	if out := s.sendOff(truck, "KV26 RNE", "one bay is ready"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	same(t, "as it left", s.state.Consignments[truck].GrossOf(pallets[0]), 62.5)
	s.refused("consignment-gone", weigh(pallets[0], 60), "DOCK-1")
	s.agrees()
}

// What a correction puts back on a carrier, or takes off it again, was not there
// when it was weighed.
func TestACorrectionTakesBackWhatACarrierWeighed(t *testing.T) {
	s := newShop(t)
	pallet := s.packedPanels(1)[0]
	truck := s.loaded(pallet)
	out := s.send(core.Command{Body: core.Recount{Pallet: pallet, Lot: s.lotOn(pallet), Found: 0, Reason: "not there"}, Confirm: []string{"count-differs"}}, "P06")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	s.must(core.Weigh{Consignment: truck, Gross: []core.GrossMass{{Pallet: pallet, Kg: 22}}}, "DOCK-1")
	same(t, "the bare pallet", s.state.Consignments[truck].GrossOf(pallet), 22.0)
	s.must(core.Correct{Event: out.Events[0].ID, Reason: "it stood behind the pillar"}, "DOCK-1", "P18")
	same(t, "with the panel back on it", s.state.Consignments[truck].GrossOf(pallet), 0.0)
	s.agrees()
}
