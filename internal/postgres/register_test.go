package postgres_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// The register holds a nonconformity for good; a remake is offered to the
// sheets it may be cut from, shouted about when it grows old, and no longer once
// it is there. What nobody can find is listed with who missed it.
func TestRegisterRemakesAndMissing(t *testing.T) {
	s := newFloor(t)
	s.nest("T-1", sheet5005, panels, core.Component{Item: skin, Qty: 4})
	l := s.separate("T-1", sheet5005)[0]
	code := core.PalletCode(l.Place.Ref)
	began := s.clock.now
	e := s.must(core.ReportProblem{Pallet: code, Lot: l.ID, Qty: 2, What: "scored by the grid"}, "BENCH-1", "P06")
	problem := core.ProblemID(e.Ref)
	s.must(core.Dispose{Problem: problem, Disposition: core.DisposeRemake, Reason: "too deep", Arose: "cut", Hours: 2.5}, "", "P03")

	period := app.RegisterQuery{From: began.Add(-time.Hour), To: began.Add(time.Hour)}
	rows := must(s.Register(t.Context(), period, 10))(t)
	if len(rows) != 1 || rows[0].Problem.Hours != 2.5 || rows[0].Lot.Item != skin || rows[0].Cut {
		t.Fatalf("the register: %+v", rows)
	}
	for what, q := range map[string]app.RegisterQuery{
		"what is open": {From: period.From, To: period.To, Open: true}, "another stage": {From: period.From, To: period.To, Arose: "fold"},
		"the day before": {From: began.AddDate(0, 0, -2), To: began.AddDate(0, 0, -1)},
	} {
		if got := must(s.Register(t.Context(), q, 10))(t); len(got) != 0 {
			t.Errorf("%s: %+v", what, got)
		}
	}
	if got := must(s.Register(t.Context(), app.RegisterQuery{From: period.From, To: period.To, Arose: "cut"}, 10))(t); len(got) != 1 {
		t.Errorf("what came about at cutting: %+v", got)
	}

	shouted := func() []app.WallLine { return must(s.Wall(t.Context()))(t).Remakes }
	if got := shouted(); len(got) != 0 {
		t.Errorf("a remake of today is shouted about: %+v", got)
	}
	s.clock.now = s.clock.now.Add(app.OldRemake + time.Hour)
	if got := shouted(); len(got) != 1 || got[0].Order != panels.Order || got[0].What != app.Named(2, s.book.Items[skin].Name)+": cutting" {
		t.Errorf("an old remake: %+v", got)
	}

	nest := "remake " + string(problem)
	sheet := s.sheet("T-remake", sheet5005)
	offered := func(code core.PalletCode) (out []string) {
		for _, c := range must(s.OpenSheets(t.Context()))(t) {
			if c.Code == code && c.Nest.ID != "" {
				out = append(out, c.Nest.ID)
			}
		}
		return out
	}
	if got := offered(sheet); !slices.Contains(got, nest) {
		t.Errorf("a cut sheet of its metal is offered %q, not %q", got, nest)
	}
	steel := s.sheet("T-steel", core.ItemRev{Item: "SH-304-2", Rev: "1"})
	if got := offered(steel); slices.Contains(got, nest) {
		t.Error("a sheet of stainless steel is offered a remake in aluminium")
	}
	again := s.must(core.Separate{Sheet: sheet, Nest: nest, Ticks: []core.PartTick{{Line: 1, Good: 2}}}, "BENCH-1", "P06").Lots[0].Lot
	if rows := must(s.Register(t.Context(), period, 10))(t); !rows[0].Cut {
		t.Error("the register does not know that the remake was cut")
	}
	if got := shouted(); len(got) != 1 || got[0].What != app.Named(2, s.book.Items[skin].Name)+": edge rounding" {
		t.Errorf("an old remake under way: %+v", got)
	}

	on := core.PalletCode(s.lot(again).Place.Ref)
	a := s.send(core.Command{Body: core.Recount{Pallet: on, Lot: again, Found: 1, Reason: "one gone"}, Station: "BENCH-1", Confirm: []string{"count-differs"}}, "P06")
	if a.Refusal != nil {
		t.Fatal(a.Refusal)
	}
	missing := must(s.Missing(t.Context(), 10))(t)
	if len(missing) != 1 || missing[0].Lot.Lost != 1 || missing[0].From != string(on) || missing[0].Station != "BENCH-1" || missing[0].Person != "P06" {
		t.Errorf("missing: %+v", missing)
	}
	s.steppedBack(t, "texts_as_written")
}

// How long a stage usually takes is the median of its latest passages, once
// there are enough of them to say.
func TestHowLongAStageUsuallyTakes(t *testing.T) {
	s := newFloor(t)
	for i, waits := range []time.Duration{1, 40, 3, 2, 5} {
		if got := must(s.Usual(t.Context()))(t); len(got) != 0 {
			t.Errorf("after %d passages: %v", i, got)
		}
		nest := fmt.Sprintf("T-%d", i)
		s.nest(nest, sheet5005, core.Owner{}, core.Component{Item: skin, Qty: 1})
		l := s.separate(nest, sheet5005)[0]
		s.clock.now = s.clock.now.Add(waits * time.Hour)
		s.step(l.ID)
	}
	got := must(s.Usual(t.Context()))(t)
	if len(got) != 2 || got["separate"] > time.Minute || got["edge-round"].Round(time.Hour) != 3*time.Hour {
		t.Errorf("the usual times are %v, want three hours at the rounding line, and the sheets broken out at once", got)
	}
}
