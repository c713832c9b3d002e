package app_test

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
)

// told is a sequence of events on one pallet, as the core records them.
func told(f *apptest.Floor) []app.Recorded {
	panel, owner := f.Item("WP-2400"), core.Owner{Order: "4117", Line: 1}
	lots := func(good, bad, notDone int) []core.LotCount {
		return []core.LotCount{{Lot: "L001", Item: panel, Owner: owner, Good: good, Bad: bad, NotDone: notDone}}
	}
	const p = core.PalletCode("P4K7M2QX")
	move := func(from, to core.Place, qty int) core.Effect {
		return core.Effect{Moved: &core.Move{Lot: "L001", Item: panel, From: from, To: to, Qty: qty}}
	}
	rested := func(good, notDone int, rest core.Rest) []core.LotCount {
		out := lots(good, 0, notDone)
		out[0].Rest = rest
		return out
	}
	mean := 62.4
	events := []core.Event{
		{Kind: core.EvAssembled, Stage: "weld", Step: 10, Ref: "U4K7M2QX", Lots: lots(4, 0, 0), Station: "WELD-2"},
		{Kind: core.EvTakenIn, Station: "INSPECT-1", Pallets: []core.PalletCode{p}, Lots: lots(4, 0, 0)},
		{Kind: core.EvBegun, Stage: "weld-inspect", Step: 30, Lots: lots(4, 0, 0), Station: "INSPECT-1"},
		{Kind: core.EvSigned, Stage: "weld-inspect", Step: 30, Station: "INSPECT-1", Pallets: []core.PalletCode{p}, Lots: lots(3, 1, 0),
			Signed:  []core.Signature{{Person: "P18", Meaning: core.MeantReleased, PrintSeen: 2}},
			Effects: []core.Effect{{PalletPut: &core.PalletRow{Code: p, Bound: "PRETREAT-1"}}}},
		{Kind: core.EvDivided, Pallets: []core.PalletCode{p, "PT6V4EJK"}, Lots: lots(2, 0, 0), Effects: []core.Effect{
			move(core.On(p), core.Place{Kind: core.Descent, Ref: "E5"}, 2), move(core.Place{Kind: core.Descent, Ref: "E5"}, core.On("PT6V4EJK"), 2)}},
		{Kind: core.EvSigned, Stage: "coat-inspect", Step: 140, Station: "COAT-TABLE-1", Lots: lots(2, 0, 1), Note: "lamp changed",
			Checks: []core.Reading{{Lot: "L001", Characteristic: "film-outside", Met: true, Value: &mean, Unit: "µm", Instrument: "TG-2"}},
			Waived: []core.Waiver{{Code: "pretreat-lapsed", Reason: "rinsed again"}}},
		{Kind: core.EvPrinted, Pallets: []core.PalletCode{p}, Note: "3"},
		{Kind: core.EvHeld, Ref: "B-77", Note: "recalled by its maker", Effects: []core.Effect{{HoldPut: &core.Hold{Scope: core.HoldBatch, Ref: "B-77"}}}},
		{Kind: core.EvProblemReported, Lots: lots(1, 1, 0), Note: "scratched"},
		{Kind: core.EvDisposed, Lots: lots(1, 0, 0), Note: "rework: to be ground out"},
		{Kind: core.EvCorrected, Corrects: "E9", Lots: lots(1, 0, 0), Note: "wrong pallet scanned"},
		{Kind: core.EvShipped, Ref: "C4K7M2QX", Lots: lots(4, 0, 0), Note: "vehicle VN26 TLG"},
		{Kind: core.EvTakenIn, Station: "STORE-1", Ref: "C4", Pallets: []core.PalletCode{p}, Lots: lots(4, 0, 0)},
		{Kind: core.EvSlotted, Station: "STORE-1", Ref: "A12", Pallets: []core.PalletCode{p}, Lots: lots(4, 0, 0)},
		{Kind: core.EvShipped, Ref: "C4K7M2QX", Lots: lots(4, 0, 0), Note: "vehicle VN26 TLG", Effects: []core.Effect{{ConsignmentPut: &core.Consignment{
			Code: "C4K7M2QX", HandedTo: core.SignedOnPaper, Out: []core.CarrierCount{{Kind: core.ReturnStillage, Count: 2}},
			Consents: []core.Consent{{Order: "A-1", Missing: "1 × kit", Who: "site management", Means: "e-mail", Reason: "first bay"}, {Order: "A-2", Missing: "1 × door", Standing: true}}}}}},
		{Kind: core.EvTakenBack, Ref: "C4K7M2QX", Carriers: []core.CarrierCount{{Kind: core.ReturnStillage, Count: 1}}},
		{Kind: core.EvTakenBack, Ref: "C4K7M2QX", Carriers: []core.CarrierCount{{Kind: core.ReturnPallet, Count: 2}}, GivenUp: true, Note: "burnt at the site"},
		{Kind: core.EvSigned, Stage: "weld-dress", Step: 20, Station: "WELD-2", Lots: rested(3, 1, core.RestBegun)},
		{Kind: core.EvSigned, Stage: "weld-dress", Step: 20, Station: "WELD-2", Lots: append(rested(2, 2, core.RestWaits), rested(1, 3, core.RestBegun)...)},
		{Kind: core.EvSigned, Stage: "weld-dress", Step: 20, Station: "WELD-2", Lots: rested(0, 4, core.RestBegun)},
		{Kind: "levitated", Note: "from the future"},
	}
	var out []app.Recorded
	for i, e := range events {
		e.ID, e.V = core.EventID("E"+string(rune('1'+i))), 1
		e.Happened = apptest.Now.Add(time.Duration(i-20) * time.Minute)
		if e.Signed == nil {
			e.Signed = []core.Signature{{Person: "P12", Meaning: core.MeantMade}}
		}
		out = append(out, app.Recorded{Seq: int64(i + 1), Recorded: e.Happened.Add(time.Second), Command: core.CommandID("c" + string(rune('1'+i))), Event: e})
	}
	return out
}

func TestHistoryWords(t *testing.T) {
	s := order41(t, "2026-12-03")
	s.Pallet("P4K7M2QX", "INSPECT-1")
	s.Lot("P4K7M2QX", "WP-2400", panels, 4, "weld-inspect")
	store := &apptest.Store{Floor: s, Events: told(s)}
	h, err := store.Service(t).History(context.Background(), app.HistoryQuery{Pallet: "P4K7M2QX"})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"Welded 4 wall panels 2400 from the parts gathered for unit U4K7 M2QX.",
		"Took pallet P4K7 M2QX in at the inspection bay.",
		"Began weld inspection of 4 wall panels 2400.",
		"Inspected the welds of 3 wall panels 2400; not good: 1 wall panel 2400; handed over to the pretreat line.",
		"Moved 2 wall panels 2400 from pallet P4K7 M2QX to pallet PT6V 4EJK.",
		"Inspected the coat of 2 wall panels 2400; not done yet: 1 wall panel 2400; lamp changed; “pretreat-lapsed” set aside by concession (rinsed again).",
		"Printed traveller 3 of pallet P4K7 M2QX.",
		"Held batch B-77: recalled by its maker.",
		"Reported 1 wall panel 2400: scratched.",
		"Decided on 1 wall panel 2400: rework: to be ground out.",
		"Took back an earlier entry on 1 wall panel 2400: wrong pallet scanned.",
		"Sent consignment C4K7 M2QX off with 4 wall panels 2400: vehicle VN26 TLG.",
		"Took pallet P4K7 M2QX in at the pallet store, slot C4.",
		"Put pallet P4K7 M2QX into slot A12 of the pallet store.",
		"Sent consignment C4K7 M2QX off with 4 wall panels 2400: vehicle VN26 TLG; the driver signed on paper; to come back: 2 stillages; " +
			"part shipment of order A-1, rest to follow (1 × kit), agreed by site management, e-mail: first bay; part shipment of order A-2, rest to follow (1 × door), as agreed with the order.",
		"Took back 1 stillage that left with consignment C4K7 M2QX.",
		"Gave up 2 pallets that left with consignment C4K7 M2QX: burnt at the site.",
		"Dressed the welds of 3 wall panels 2400; not done yet, but begun: 1 wall panel 2400.",
		"Dressed the welds of 3 wall panels 2400; not done yet, but begun: 3 wall panels 2400; not done yet, and not begun: 2 wall panels 2400.",
		"Signed “dress the welds” without a good part; not done yet, but begun: 4 wall panels 2400.",
		"Recorded “levitated”: from the future.",
	}
	if len(h.Events) != len(want) {
		t.Fatalf("%d events, want %d", len(h.Events), len(want))
	}
	for i, w := range want {
		if h.Events[i].What != w {
			t.Errorf("event %d\ngot  %s\nwant %s", i+1, h.Events[i].What, w)
		}
	}
	if h.Title != "Pallet P4K7 M2QX" || h.Events[3].Signed[0].Name != "Rafe Tolliver" || h.Events[6].Print != 3 {
		t.Errorf("title %q, signed %+v, print %d", h.Title, h.Events[3].Signed, h.Events[6].Print)
	}
	if h.Events[8].CorrectedBy != "E;" {
		t.Errorf("the entry taken back does not say so: %+v", h.Events[8])
	}
}

// A reading taken on a rework route says what was asked, as one on the main route does.
func TestReadingsOfReworkSayWhatWasAsked(t *testing.T) {
	s := order41(t, "2026-12-03")
	s.Pallet("P4K7M2QX", "WELD-1")
	id := s.Lot("P4K7M2QX", "BF-2400", panels, 1, "weld-inspect")
	lot := s.World.State.Lots[id]
	e := core.Event{ID: "E1", V: 1, Kind: core.EvSigned, Stage: "weld-dress", Step: 30, Station: "WELD-1", Happened: apptest.Now,
		Pallets: []core.PalletCode{"P4K7M2QX"}, Lots: []core.LotCount{{Lot: id, Item: lot.Item, Owner: lot.Owner, Good: 1}},
		Signed: []core.Signature{{Person: "P12", Meaning: core.MeantMade}},
		Checks: []core.Reading{{Lot: id, Characteristic: "edges-broken-again", Met: true}}}
	store := &apptest.Store{Floor: s, Events: []app.Recorded{{Seq: 1, Recorded: apptest.Now, Command: "c1", Event: e}}}
	h, err := store.Service(t).History(context.Background(), app.HistoryQuery{Pallet: "P4K7M2QX"})
	if err != nil {
		t.Fatal(err)
	}
	want := ""
	route := s.World.Book.Routes[core.RouteRef{Name: "WELD-REPAIR", Version: 1}]
	if step, ok := route.Step(30); ok && len(step.Checks) > 0 {
		want = step.Checks[0].Text
	}
	if got := h.Events[0].Readings[0].Text; want == "" || got != want {
		t.Errorf("the reading says %q, want %q", got, want)
	}
}

// What each default stage's sign-off is called in the history.
func TestStagesInThePast(t *testing.T) {
	s := apptest.New(t)
	for stage, want := range map[core.StageName]string{
		"goods-in":      "Identified the goods: 4 hinge plates.",
		"cut":           "Cut the sheet: 4 hinge plates.",
		"separate":      "Broke out and counted 4 hinge plates.",
		"edge-round":    "Rounded the edges of 4 hinge plates.",
		"hand-round":    "Rounded the edges of 4 hinge plates by hand.",
		"fold":          "Folded 4 hinge plates.",
		"assemble":      "Assembled 4 hinge plates.",
		"weld":          "Welded 4 hinge plates.",
		"grind-out":     "Ground the weld out of 4 hinge plates.",
		"join-late":     "Joined the late component in 4 hinge plates.",
		"weld-dress":    "Dressed the welds of 4 hinge plates.",
		"weld-inspect":  "Inspected the welds of 4 hinge plates.",
		"drill":         "Drilled 4 hinge plates.",
		"tap":           "Tapped the threads of 4 hinge plates.",
		"rivet-nut":     "Set the rivet nuts in 4 hinge plates.",
		"rivet":         "Riveted 4 hinge plates.",
		"mask":          "Masked 4 hinge plates.",
		"unmask":        "Took the masking off 4 hinge plates.",
		"pretreat":      "Pretreated 4 hinge plates.",
		"key-and-clean": "Keyed and cleaned 4 hinge plates.",
		"coat":          "Coated 4 hinge plates.",
		"cure":          "Cured 4 hinge plates.",
		"coat-inspect":  "Inspected the coat of 4 hinge plates.",
		"sort":          "Sorted the good from the bad: 4 hinge plates.",
		"strip":         "Stripped the coat of 4 hinge plates.",
		"final-check":   "Checked the finished parts: 4 hinge plates.",
		"kit-check":     "Checked the kit: 4 hinge plates.",
		"pack":          "Packed 4 hinge plates.",
		"ship":          "Shipped 4 hinge plates.",
		"receive":       "Received 4 hinge plates at the site.",
		"unpack":        "Unpacked 4 hinge plates.",
		"fit-out":       "Fitted out 4 hinge plates.",
		"accept":        "Accepted 4 hinge plates.",
		"return":        "Returned 4 hinge plates.",
	} {
		e := core.Event{ID: "E1", Kind: core.EvSigned, Stage: stage, Lots: []core.LotCount{{Lot: "L1", Item: s.Item("HP-80"), Good: 4}}}
		store := &apptest.Store{Floor: s, Events: []app.Recorded{{Event: e}}}
		h, err := store.Service(t).History(context.Background(), app.HistoryQuery{Lot: "L1"})
		if err != nil {
			t.Fatal(err)
		}
		if got := h.Events[0].What; got != want {
			t.Errorf("%s: got %q, want %q", stage, got, want)
		}
	}
	for name := range s.World.Book.Table.Stages {
		if noun := app.StageNoun(s.World.Book.Table.Stages[name]); noun == "" || strings.Contains(noun, "“") {
			t.Errorf("stage %s has no noun of its own: %q", name, noun)
		}
	}
	own := core.Stage{Name: "engrave", Title: "Engrave the number"}
	if got := app.StageNoun(own); got != "“engrave the number”" {
		t.Errorf("a stage of the shop's own: %q", got)
	}
}

func TestHistoryRefusalsAndNames(t *testing.T) {
	s := order41(t, "2026-12-03")
	s.Lot("P4K7M2QX", "WP-2400", panels, 4, "coat")
	store := &apptest.Store{Floor: s, Events: told(s), Said: []app.RefusalRow{
		{At: apptest.Now.Add(-time.Minute), Command: "r2", Kind: "sign-off", Person: "P12", Refusal: core.Refusal{Code: "unknown-command", Params: map[string]string{"kind": "x", "pallet": "P4K7M2QX"}}},
		{At: apptest.Now.Add(-time.Hour), Command: "r1", Kind: "sign-off", Refusal: core.Refusal{Code: "unknown-command", Lots: []core.LotID{"L001"}, Absolute: true}},
		{At: apptest.Now, Command: "r3", Kind: "sign-off", Refusal: core.Refusal{Code: "unknown-command", Params: map[string]string{"pallet": "PT6V4EJK"}}},
	}}
	p := s.World.Book.People["P12"]
	p.Name = ""
	s.World.Book.People["P12"] = p
	h, err := store.Service(t).History(context.Background(), app.HistoryQuery{Pallet: "P4K7M2QX"})
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Refusals) != 2 || h.Refusals[0].Command != "r1" || !h.Refusals[0].Absolute || h.Refusals[1].Name != "P12" {
		t.Errorf("refusals: %+v", h.Refusals)
	}
	if !strings.Contains(h.Refusals[1].What, "“x”") {
		t.Errorf("its sentence: %q", h.Refusals[1].What)
	}
	if got := h.Events[0].Signed[0].Name; got != "P12" {
		t.Errorf("a blanked person shows as %q, not as the id", got)
	}
	if len(h.Lots) != 1 || h.Lots[0].Name != "wall panel 2400" || h.Lots[0].Place != "pallet:P4K7M2QX" {
		t.Errorf("lots: %+v", h.Lots)
	}
	if r := h.Events[5].Readings; len(r) != 1 || *r[0].Value != 62.4 || r[0].Instrument != "TG-2" {
		t.Errorf("readings: %+v", r)
	}
}

// The JSON's field names are a promise to scripts.
func TestHistoryJSON(t *testing.T) {
	s := order41(t, "2026-12-03")
	s.Lot("P4K7M2QX", "WP-2400", panels, 4, "coat")
	store := &apptest.Store{Floor: s, Events: told(s)[3:4]}
	h, err := store.Service(t).History(context.Background(), app.HistoryQuery{Order: "4117"})
	if err != nil {
		t.Fatal(err)
	}
	got, err := json.MarshalIndent(h, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	const want = `{
 "of": {
  "order": "4117"
 },
 "title": "Order 4117",
 "asOf": "2026-11-25T14:12:07Z",
 "lots": [
  {
   "lot": "L001",
   "item": "WP-2400",
   "rev": "D",
   "name": "wall panel 2400",
   "order": "4117",
   "line": 1,
   "qty": 4,
   "place": "pallet:P4K7M2QX",
   "metal": "aluminium"
  }
 ],
 "events": [
  {
   "seq": 4,
   "event": "E4",
   "command": "c4",
   "kind": "signed",
   "happened": "2026-11-25T13:55:07Z",
   "recorded": "2026-11-25T13:55:08Z",
   "what": "Inspected the welds of 3 wall panels 2400; not good: 1 wall panel 2400; handed over to the pretreat line.",
   "station": "INSPECT-1",
   "stationName": "inspection bay",
   "stage": "weld-inspect",
   "step": 30,
   "signed": [
    {
     "person": "P18",
     "name": "Rafe Tolliver",
     "meaning": "released",
     "printSeen": 2
    }
   ],
   "pallets": [
    "P4K7M2QX"
   ],
   "lots": [
    {
     "lot": "L001",
     "item": "WP-2400",
     "rev": "D",
     "name": "wall panel 2400",
     "order": "4117",
     "line": 1,
     "good": 3,
     "bad": 1
    }
   ]
  }
 ],
 "refusals": []
}`
	if string(got) != want {
		t.Errorf("got\n%s", got)
	}
}

func TestHistoryOfNothing(t *testing.T) {
	store := &apptest.Store{Floor: apptest.New(t)}
	if _, err := store.Service(t).History(context.Background(), app.HistoryQuery{Pallet: "P4K7M2QX"}); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("got %v", err)
	}
}
