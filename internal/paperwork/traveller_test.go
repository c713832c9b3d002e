package paperwork_test

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
)

const pallet = "P4K7M2QX"

var hospital = core.Owner{Order: "O-4101", Line: 1}

// shop is a floor with one pallet: a frame on its way, and skins cut from one sheet.
func shop(t *testing.T) (*apptest.Store, core.LotID, core.LotID) {
	t.Helper()
	s := &apptest.Store{Floor: apptest.New(t)}
	s.Pallet(pallet, "WELD-1")
	frame := s.Lot(pallet, "BF-2400", hospital, 1, "weld-inspect")
	shims := s.Lot(pallet, "SM-2", core.Owner{}, 20, "final-check")
	s.ChangeLot(shims, func(l *core.Lot) {
		l.Sheets, l.Heats, l.Parents = []string{"M-1060"}, []string{"H3-77"}, []core.LotID{"sheet"}
	})
	return s, frame, shims
}

func traveller(t *testing.T, s *apptest.Store, print int) paperwork.Sheet {
	t.Helper()
	sheet, err := paperwork.Traveller(t.Context(), s.Service(t), pallet, print)
	if err != nil {
		t.Fatal(err)
	}
	if err := paper.WriteTravellers(&bytes.Buffer{}, paper.A4, sheet.Traveller); err != nil {
		t.Errorf("it can't be drawn: %v", err)
	}
	return sheet
}

func event(kind core.EventKind, stage core.StageName, step int, who core.PersonID, lots ...core.LotCount) app.Recorded {
	at := apptest.Now.Add(-2 * time.Hour)
	return app.Recorded{Seq: 41, Recorded: at, Event: core.Event{ID: core.EventID(string(kind) + string(stage)), Kind: kind, Happened: at,
		Stage: stage, Step: step, Signed: []core.Signature{{Person: who, Meaning: core.MeantMade}}, Lots: lots}}
}

func TestTravellerSaysWhatTheRecordSays(t *testing.T) {
	s, frame, shims := shop(t)
	item := func(id core.LotID) core.ItemRev { return s.World.State.Lots[id].Item }
	s.Events = []app.Recorded{
		event(core.EvSigned, "cut", 20, "P21", core.LotCount{Lot: "sheet", Item: s.Item("SH-304-2"), Good: 1}),
		event(core.EvSeparated, "separate", 30, "P06", core.LotCount{Lot: shims, Item: item(shims), Good: 20}),
		event(core.EvAssembled, "weld", 10, "P12", core.LotCount{Lot: frame, Item: item(frame), Good: 1}),
		// A component's step has the same number and stage; it is not the frame's.
		event(core.EvSigned, "hand-round", 30, "P09", core.LotCount{Lot: frame, Item: s.Item("BF-CROSS"), Good: 3}),
		event(core.EvPrinted, "", 0, "P12"),
	}
	s.Events[4].Note, s.Events[4].Station, s.Events[4].Pallets = "1", "WELD-1", []core.PalletCode{pallet}
	got := traveller(t, s, 0)

	if got.Code != "P4K7 M2QX" || got.Print != 1 || got.Newest != 1 || got.Stale() || got.Replaces != 0 || got.Shop != "Corrie Sheetworks" ||
		got.Address != "HTTPS://SHOP.EXAMPLE/P/P4K7M2QX/1" || got.Notice != paperwork.DemoNotice || got.PrintedWhere != "weld bench 1" {
		t.Errorf("its head: %+v", got)
	}
	if len(got.Lots) != 2 {
		t.Fatalf("%d lots", len(got.Lots))
	}
	a, b := got.Lots[0], got.Lots[1]
	if a.Letter != "A" || a.Item != "BF-2400" || a.Order != "O-4101" || a.Line != "1" || a.Customer != "Brackenmoor Hospital Estates" ||
		a.Count != 1 || paper.Date(a.Promised) != "Fri 20 Nov 2026" || a.CutHazard || a.FinishText() != "all faces: basalt" {
		t.Errorf("the frame: %+v", a)
	}
	if b.Letter != "B" || b.OrderText() != "stock" || b.Count != 20 || !b.CutHazard || b.Metal.Family != paper.StainlessSteel || b.Metal.Grade != "304" ||
		b.SheetText() != "M-1060 heat H3-77" || len(b.Finish) != 0 {
		t.Errorf("the shims: %+v", b)
	}
	// By density: 0.00426 m² × 2 mm × 7900 kg/m³ (304: EN 10088-1, from memory).
	if kg := b.MassEachKg; kg < 0.0672 || kg > 0.0674 {
		t.Errorf("a shim weighs %g kg", kg)
	}
	if n := len(b.Outline.Paths); n != 1 || b.Outline.Paths[0][0] != b.Outline.Paths[0][len(b.Outline.Paths[0])-1] {
		t.Errorf("the shim's outline has %d paths, or an open one", n)
	}

	if weld := a.Steps[0]; weld.Stage != "Weld" || !weld.Done || weld.SignedBy != "Tilda Rooke" || weld.Good != 1 || weld.Kind != paper.Operation {
		t.Errorf("the weld: %+v", weld)
	}
	if by := a.Steps[2].SignedBy; !a.Steps[2].Done || by != "" {
		t.Errorf("the frame's rounding is signed by %q, who rounded its parts", by)
	}
	if hold := a.Steps[3]; !hold.Next || hold.Done || !hold.HoldPoint || !hold.NotTheWelder || hold.Kind != paper.Inspection ||
		!strings.Contains(hold.LookAt, "Fillet weld throat 3\u00a0mm, 2.8 to 4") {
		t.Errorf("the hold point: %+v", hold)
	}
	if cut := b.Steps[0]; !cut.Done || cut.SignedBy != "Merrin Stroud" {
		t.Errorf("the cut, signed on the sheet: %+v", cut)
	}
	if sep := b.Steps[1]; sep.SignedBy != "Jory Vance" || sep.Good != 20 || sep.At.Format("15:04") != "12:12" {
		t.Errorf("the separation: %+v", sep)
	}
}

func TestWorkTakenBackIsNotSigned(t *testing.T) {
	s, frame, _ := shop(t)
	weld := event(core.EvAssembled, "weld", 10, "P12", core.LotCount{Lot: frame, Item: s.Item("BF-2400"), Good: 1})
	back := event(core.EvCorrected, "weld", 10, "P03")
	back.Corrects = weld.ID
	s.Events = []app.Recorded{weld, back}
	if by := traveller(t, s, 1).Lots[0].Steps[0].SignedBy; by != "" {
		t.Errorf("the weld is signed by %q, though it was taken back", by)
	}
}

func TestReworkStandsWhereTheLotRejoins(t *testing.T) {
	s, frame, _ := shop(t)
	s.ChangeLot(frame, func(l *core.Lot) {
		l.Rework = &core.Rework{Route: core.RouteRef{Name: "WELD-REPAIR", Version: 1}, Rejoin: 40, Done: []int{10}}
	})
	var names []string
	next := ""
	for _, step := range traveller(t, s, 0).Lots[0].Steps[2:9] {
		names = append(names, step.Stage)
		if step.Next {
			next = step.Stage
		}
	}
	want := []string{"Round the edges by hand", "rework: Grind the weld out", "rework: Weld", "rework: Dress the welds",
		"rework: Round the edges by hand", "Inspect the welds", "Set the rivet nuts"}
	if !slices.Equal(names, want) || next != "rework: Weld" {
		t.Errorf("steps %q, next %q", names, next)
	}
}

func TestHoldsAndConcessions(t *testing.T) {
	s, frame, shims := shop(t)
	s.Hold("H1", core.HoldPallet, pallet, "fell off the fork", time.Hour)
	s.Hold("H2", core.HoldHeat, "H3-77", "certificate in doubt", 2*time.Hour)
	s.Hold("H3", core.HoldItem, "elsewhere@A", "not ours", time.Hour)
	waived := event(core.EvSigned, "weld-dress", 20, "P12", core.LotCount{Lot: frame, Item: s.Item("BF-2400"), Good: 1})
	waived.Signed = append(waived.Signed, core.Signature{Person: "P03", Meaning: core.MeantApproved})
	waived.Waived = []core.Waiver{{Code: "gauge-overdue", Reason: "checked against the spare"}}
	s.Events = []app.Recorded{waived}
	got := traveller(t, s, 0)
	if len(got.Holds) != 1 || got.Holds[0].Reason != "fell off the fork" || got.Holds[0].By != "Rafe Tolliver" {
		t.Errorf("on the pallet: %+v", got.Holds)
	}
	if a := got.Lots[0]; len(a.Holds) != 0 || len(a.Concessions) != 1 || !strings.Contains(a.Concessions[0].Reason, "checked against the spare") ||
		!slices.Equal(a.Concessions[0].Signers, []string{"Tilda Rooke", "Ilse Marrable"}) {
		t.Errorf("the frame: %+v %+v", a.Holds, a.Concessions)
	}
	if b := got.Lots[1]; len(b.Holds) != 1 || b.Holds[0].Reason != "certificate in doubt" || len(b.Concessions) != 0 {
		t.Errorf("the shims %s: %+v %+v", shims, b.Holds, b.Concessions)
	}
}

// An older print says what it said, and that it is out of date.
func TestOlderPrint(t *testing.T) {
	s, _, shims := shop(t)
	s.ChangeLot(shims, func(l *core.Lot) { l.Qty = 15 })
	s.Change(pallet, func(p *core.PalletRow) {
		second := core.Print{No: 2, At: apptest.Now, By: "P06", Lines: slices.Clone(p.Prints[0].Lines)}
		second.Lines[1].Qty = 15
		p.Prints = append(p.Prints, second)
	})
	old, newest := traveller(t, s, 1), traveller(t, s, 0)
	if old.Print != 1 || old.Newest != 2 || !old.Stale() || old.Lots[1].Count != 20 || len(old.Changes) != 1 {
		t.Errorf("print 1: %d of %d, %d shims, %q", old.Print, old.Newest, old.Lots[1].Count, old.Changes)
	}
	if newest.Print != 2 || newest.Stale() || newest.Lots[1].Count != 15 || newest.Replaces != 1 || newest.PrintedBy != "Jory Vance" {
		t.Errorf("print 2: %d, %d shims, replaces %d, by %q", newest.Print, newest.Lots[1].Count, newest.Replaces, newest.PrintedBy)
	}
	_, err := paperwork.Traveller(t.Context(), s.Service(t), pallet, 3)
	if refused, ok := errors.AsType[*app.Refused](err); !ok || refused.Refusal.Code != "print-unknown" {
		t.Errorf("print 3: %v", err)
	}
	if _, err := paperwork.Traveller(t.Context(), s.Service(t), "PUNKNOWN", 0); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("no such pallet: %v", err)
	}
}

// A lot that has left the pallet still stands on the print that named it.
func TestLotsThatLeft(t *testing.T) {
	s, frame, _ := shop(t)
	s.Pallet("P9CD2FHT", "INSPECT-1")
	s.ChangeLot(frame, func(l *core.Lot) { l.Place = core.On("P9CD2FHT") })
	got := traveller(t, s, 1)
	if len(got.Lots) != 2 || got.Lots[0].Item != "BF-2400" || len(got.Changes) != 1 {
		t.Errorf("%d lots, %q", len(got.Lots), got.Changes)
	}
}
