package core_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

var writeGolden = flag.Bool("golden", false, "write the golden events of kinds and versions that have none yet")

// everyKind makes the sample shop do one of everything and returns one event of
// each kind, the first.
func everyKind(t *testing.T) map[core.EventKind]core.Event {
	s := newShop(t)
	s.panelParts()
	s.weldPanel()
	s.finish(s.weldPanel())
	id, code := s.four()
	s.must(core.PrintTraveller{Pallet: code}, "BENCH-1", "P06")
	s.must(core.HandOver{Pallet: code, To: "ROUND-AL", Note: "mind the faces"}, "BENCH-1")
	s.must(core.TakeIn{Pallet: code}, "STORE-1")
	s.must(core.TakeIn{Pallet: code, Slot: "C4"}, "STORE-1")
	s.must(core.HandOver{Pallet: code, To: "ROUND-AL", Note: "mind the faces"}, "STORE-1")
	s.bring(id, "ROUND-AL")
	s.must(core.Begin{Pallet: code, Stage: "edge-round"}, "ROUND-AL", "P21")
	w := mustWork(s, id)
	w.Lots[0].Good, w.Lots[0].Bad, w.Lots[0].Why = 3, 1, "scratched face"
	e := s.must(w, "ROUND-AL", "P21")
	s.must(core.Correct{Event: e.ID, Reason: "wrong pallet"}, "", "P21")
	e = s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 1, What: "bent corner"}, "ROUND-AL", "P21")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRemake, Reason: "too far bent"}, "", "P03")
	e = s.must(core.PlaceHold{Scope: core.HoldHeat, Ref: "HT-four", Reason: "certificate in doubt"}, "", "P03")
	s.must(core.LiftHold{Hold: e.Effects[0].HoldPut.ID, Reason: "certificate found"}, "", "P03")
	s.send(core.Command{Body: core.Recount{Pallet: code, Lot: id, Found: 1, Reason: "one gone"}, Confirm: []string{"count-differs"}}, "P06")
	e = s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 1}}}, "ROUND-AL")
	code = e.Pallets[0]
	s.must(core.ChangeOwner{Pallet: code, Lot: s.lotOn(code), Qty: 1, To: core.Owner{Order: "O-4101", Line: 1}, Reason: "they leave first"}, "", "P02")
	s.mix()
	late, _ := s.astray()
	claim, _ := s.work(late)
	s.send(core.Command{Body: claim, Station: "ROUND-SS", Device: core.Device{Offline: true}}, "P21")
	s.gatherAndReturn()
	for _, l := range s.live() {
		if l.Item == panel && len(core.NextSteps(s.book, l)) == 0 {
			e := s.must(core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: []core.PalletCode{core.PalletCode(l.Place.Ref)}}, "DOCK-1", "P25")
			truck := core.ConsignmentCode(e.Ref)
			s.must(core.Weigh{Consignment: truck, Gross: []core.GrossMass{{Pallet: core.PalletCode(l.Place.Ref), Kg: 68.5}}}, "DOCK-1")
			s.send(core.Command{Body: core.Ship{Consignment: truck, Vehicle: "KV26 RNE", HandedTo: core.SignedOnPaper, Consents: crowd.Consents(s.state, truck, "panels first"),
				Carriers: []core.CarrierCount{{Kind: core.ReturnStillage, Count: 1}}}, Station: "DOCK-1", Confirm: []string{"order-short"}}, "P25")
			s.must(core.TakeBack{Consignment: truck, Carriers: []core.CarrierCount{{Kind: core.ReturnStillage, Count: 1}}, Note: "one leg bent"}, "DOCK-1")
			s.must(core.ReceiveAtSite{Consignment: core.ConsignmentCode(e.Ref)}, "SITE-LARKFIELD", "P27")
			break
		}
	}
	out := map[core.EventKind]core.Event{}
	events := append(append(append(append([]core.Event{partlyDone(t)}, s.events...), joinedLate(t)), sentBack(t)), startedAndTakenApart(t)...)
	events = append(events, turnedUpAndSnagged(t)...)
	for _, e := range events {
		if _, there := out[e.Kind]; !there {
			out[e.Kind] = e
		}
	}
	return out
}

// partlyDone signs three of four, with rounding begun on the fourth.
func partlyDone(t *testing.T) core.Event {
	s, _, w := atRounding(t)
	w.Lots[0].Good, w.Lots[0].NotDone, w.Lots[0].Rest = 3, 1, core.RestBegun
	return s.must(w, "ROUND-AL", "P21")
}

// joinedLate changes a stiffener of a welded panel.
func joinedLate(t *testing.T) core.Event {
	s, unit := opened(t)
	return s.must(core.JoinLate{Pallet: core.PalletCode(unit.Place.Ref), Unit: unit.ID, In: []core.Pick{{Lot: s.onBench(stiffener).ID, Qty: 1}},
		Out: []core.Pick{{Lot: s.inside(unit.ID, stiffener).ID, Qty: 1}}, Why: "wrong gauge"}, "WELD-1", "P13")
}

// sentBack returns a tray from its site.
func sentBack(t *testing.T) core.Event {
	s, l := received(t)
	return s.must(core.WorkAtSite{Stage: "return", Picks: []core.Pick{{Lot: l.ID, Qty: 1}}, Note: "corner dented"}, core.StationID(l.Place.Ref), "P27")
}

// startedAndTakenApart starts a unit short, by concession, and takes another apart.
func startedAndTakenApart(t *testing.T) []core.Event {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	apart := s.must(core.TakeApart{Pallet: core.PalletCode(s.state.Lots[id].Place.Ref), Unit: id, Why: "skin of the wrong alloy"}, "WELD-1", "P13")
	e := s.must(core.Gather{Item: panel, Owner: panels, Picks: []core.Pick{{Lot: s.toBench(post), Qty: 1}}}, "WELD-1")
	out := s.send(core.Command{Body: core.BeginUnit{Build: core.BuildCode(e.Ref)}, Station: "WELD-1",
		Waive: []core.Waiver{{Code: "start-short", Reason: "the skins come at noon"}}}, "P13", "P03")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	return append(out.Events, apart)
}

// gatherAndReturn gathers part of a third panel for stock and puts it back.
func (s *shop) gatherAndReturn() {
	s.nest("T-stock", sheet5005, core.Owner{}, core.Component{Item: skin, Qty: 2})
	l := s.separate("T-stock")[0]
	s.finish(l.ID)
	s.bring(l.ID, "WELD-1")
	e := s.must(core.Gather{Item: panel}, "WELD-1")
	s.must(core.PutBack{Build: core.BuildCode(e.Ref), Picks: []core.Pick{{Lot: l.ID, Qty: 2}}}, "WELD-1")
}

// astray is a lot of aluminium trays at the stainless line, where a tablet out of
// touch lets it be rounded.
func (s *shop) astray() (core.LotID, core.PalletCode) {
	s.nest("T-claim", sheet5005, trays, core.Component{Item: tray, Qty: 2})
	l := s.separate("T-claim")[0]
	s.bring(l.ID, "ROUND-SS")
	return l.ID, core.PalletCode(l.Place.Ref)
}

// lotOn is a lot that is left on a pallet, or on the newest pallet.
func (s *shop) lotOn(code core.PalletCode) core.LotID {
	return s.state.LotsAt(core.On(code))[0].ID
}

// mix fuses two unlike lots and settles what became unsure.
func (s *shop) mix() {
	s.nest("T-mix", sheet5005, trays, core.Component{Item: tray, Qty: 4})
	l := s.separate("T-mix")[0]
	code := core.PalletCode(l.Place.Ref)
	e := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: l.ID, Qty: 2}}}, "BENCH-1")
	other := s.state.LotsAt(core.On(e.Pallets[0]))[0].ID
	s.step(l.ID)
	s.must(core.Divide{From: e.Pallets[0], To: code, Picks: []core.Pick{{Lot: other, Qty: 2}}}, "ROUND-AL")
	s.must(core.Fuse{Pallet: code, Lots: []core.LotID{l.ID, other}, Mix: true}, "ROUND-AL")
	s.must(core.Settle{Lot: s.lotOn(code), Fact: core.Fact{Name: core.EdgesRounded}, Value: core.Yes, Reason: "looked"}, "", "P18", "P03")
}

func goldenPath(kind core.EventKind, v int) string {
	return filepath.Join("../../testdata/events", string(kind)+".v"+strconv.Itoa(v)+".json")
}

// Each kind of event has a golden file for each of its versions, which must
// read for ever; one of the present version writes again to the same bytes.
func TestGoldenEventsReadForEver(t *testing.T) {
	made := everyKind(t)
	for _, kind := range core.EventKinds() {
		e, ok := made[kind]
		if !ok {
			t.Errorf("nothing in the test shop makes %s", kind)
			continue
		}
		now := core.EventVersion(kind)
		if *writeGolden {
			writeGoldenEvent(t, goldenPath(kind, now), e)
		}
		for v := 1; v <= now; v++ {
			stored, err := os.ReadFile(goldenPath(kind, v))
			if err != nil {
				t.Fatal(err)
			}
			read, err := core.ReadEvent(kind, v, stored)
			if err != nil {
				t.Errorf("%s, version %d: %v", kind, v, err)
				continue
			}
			if read.V != now || len(read.Effects) == 0 {
				t.Errorf("%s, version %d, reads to version %d with %d effects", kind, v, read.V, len(read.Effects))
			}
			again, err := json.MarshalIndent(read, "", "  ")
			if err != nil {
				t.Fatal(err)
			}
			if v == now && !bytes.Equal(append(again, '\n'), stored) {
				t.Errorf("%s reads to another event than was stored", kind)
			}
		}
	}
}

// writeGoldenEvent writes a golden file that is not there yet: those that are
// stay as they were recorded.
func writeGoldenEvent(t *testing.T, path string, e core.Event) {
	if _, err := os.Stat(path); err == nil {
		return
	}
	b, err := json.MarshalIndent(e, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, append(b, '\n'), 0o644); err != nil {
		t.Fatal(err)
	}
}

// Consignments of version 1 carried a driver's name. It is not read any more;
// all else is.
func TestAnOldConsignmentReadsWithoutItsDriver(t *testing.T) {
	for _, kind := range []core.EventKind{core.EvShipped, core.EvReceived} {
		stored, err := os.ReadFile(goldenPath(kind, 1))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Contains(stored, []byte("R. Vane")) {
			t.Fatalf("%s: the golden file names no driver", kind)
		}
		read, err := core.ReadEvent(kind, 1, stored)
		if err != nil {
			t.Fatal(err)
		}
		written, err := json.Marshal(read)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(written, []byte("Vane")) {
			t.Errorf("%s still names the driver: %s", kind, written)
		}
		i := slices.IndexFunc(read.Effects, func(f core.Effect) bool { return f.ConsignmentPut != nil })
		if i < 0 || read.Effects[i].ConsignmentPut.Code == "" || read.Effects[i].ConsignmentPut.Gone.IsZero() {
			t.Errorf("%s lost its consignment: %s", kind, written)
		}
	}
}

func TestUnknownEventsStopAReader(t *testing.T) {
	for name, c := range map[string]struct {
		kind    core.EventKind
		v       int
		payload string
		want    string
	}{
		"kind":    {"teleported", 1, `{}`, "unknown kind"},
		"version": {core.EvSigned, 99, `{}`, "knows up to version"},
		"field":   {core.EvSigned, 1, `{"kind":"signed","id":"x.1","v":1,"mood":"good","effects":[]}`, "mood"},
		"effect":  {core.EvSigned, 1, `{"kind":"signed","id":"x.1","v":1,"effects":[{"vanished":{"lot":"a"}}]}`, "vanished"},
		"nothing": {core.EvSigned, 1, `{"kind":"signed","id":"x.1","v":1,"effects":[{}]}`, "changes nothing"},
		"other":   {core.EvSigned, 1, `{"kind":"shipped","id":"x.1","v":1,"effects":[]}`, "its row says"},
	} {
		_, err := core.ReadEvent(c.kind, c.v, []byte(c.payload))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
