package app_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
)

const onePallet core.PalletCode = "PMCXUKXP"

func pageOf(t *testing.T, f *apptest.Floor, at core.StationID, print int) app.PalletPage {
	t.Helper()
	store := &apptest.Store{Floor: f}
	p, err := store.Service(t).PalletPage(t.Context(), app.Caller{Tablet: "T1", Station: at}, onePallet, print, "")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func lineOf(order string) core.Owner { return core.Owner{Order: order, Line: 1} }

func TestPalletPageGroupsByStage(t *testing.T) {
	f := apptest.New(t)
	f.Pallet(onePallet, "ROUND-AL")
	f.Lot(onePallet, "RT-2400", lineOf("O-4101"), 4, "edge-round")
	f.Lot(onePallet, "SC-COVER", lineOf("O-4102"), 18, "edge-round")
	f.Lot(onePallet, "SK-1200", lineOf("O-4101"), 2, "fold")
	p := pageOf(t, f, "ROUND-AL", 1)
	if !p.Here || p.Coming || p.Empty() || p.Parts() != 24 || p.Mass <= 0 {
		t.Errorf("here %v, coming %v, %d parts, %.1f kg", p.Here, p.Coming, p.Parts(), p.Mass)
	}
	if len(p.Tasks) != 1 || len(p.Tasks[0].Lots) != 2 || p.Tasks[0].Parts() != 22 {
		t.Fatalf("tasks %+v, want one with the two lots that wait for rounding", p.Tasks)
	}
	letters := ""
	for _, l := range p.Lots {
		letters += l.Letter
	}
	if letters != "ABC" {
		t.Errorf("lots are lettered %s", letters)
	}
	l := p.Lots[0]
	if l.Title != "Round the edges" || l.After == "" || !l.Here || l.Refusal != nil || l.Customer == "" {
		t.Errorf("lot A: %+v", l)
	}
	done, current := 0, 0
	for _, m := range l.Strip {
		if m.Done {
			done++
		}
		if m.Next {
			current++
		}
	}
	if done != 2 || current != 1 {
		t.Errorf("the strip shows %d steps done and %d current, want 2 and 1", done, current)
	}
	if !slices.ContainsFunc(p.Tasks[0].HandTo, func(s app.StationChoice) bool { return s.ID == "BRAKE-1" }) {
		t.Errorf("handed on to %+v, a brake is missing", p.Tasks[0].HandTo)
	}
}

// What stops a lot is told before anybody signs, and doesn't stop the others.
func TestPalletPageTellsStops(t *testing.T) {
	f := apptest.New(t)
	f.Pallet(onePallet, "BOOTH-1")
	f.Lot(onePallet, "SC-COVER", lineOf("O-4101"), 6, "coat")
	sharp := f.Lot(onePallet, "SC-COVER", lineOf("O-4102"), 18, "coat")
	f.ChangeLot(sharp, func(l *core.Lot) { delete(l.Facts, core.Fact{Name: core.EdgesRounded}) })
	p := pageOf(t, f, "BOOTH-1", 0)
	if len(p.Tasks) != 1 || len(p.Tasks[0].Lots) != 1 || len(p.Tasks[0].Stops) != 1 {
		t.Fatalf("tasks %+v", p.Tasks)
	}
	stop := p.Tasks[0].Stops[0]
	if stop.Lot.ID != sharp || !stop.Refusal.Absolute || stop.Why.Title == "" || stop.Why.Remedy == "" {
		t.Errorf("the stop is %+v, %+v", stop.Refusal, stop.Why)
	}
	for _, in := range p.Tasks[0].Inputs {
		for _, b := range in.Batches {
			if b.Expires.Before(core.DateOf(apptest.Now)) {
				t.Errorf("batch %s ran out on %s and is offered", b.Batch, b.Expires)
			}
		}
	}
}

// A station whose abrasive is kept for another metal is not offered.
func TestHandsNoStainlessToAluminiumBelts(t *testing.T) {
	f := apptest.New(t)
	f.Pallet(onePallet, "BENCH-1")
	f.Lot(onePallet, "HP-80", lineOf("O-4101"), 6, "edge-round")
	p := pageOf(t, f, "BENCH-1", 0)
	var ids []core.StationID
	for _, s := range p.Next {
		ids = append(ids, s.ID)
	}
	if !slices.Contains(ids, "ROUND-SS") || slices.Contains(ids, "ROUND-AL") {
		t.Errorf("stainless plates may go to %v", ids)
	}
}

func TestPrintJudgement(t *testing.T) {
	f := apptest.New(t)
	f.Pallet(onePallet, "ROUND-AL")
	f.Lot(onePallet, "SC-COVER", lineOf("O-4101"), 8, "edge-round")
	if p := pageOf(t, f, "ROUND-AL", 1); p.Print.Stale() || p.Print.Due || p.Print.Newest != 1 {
		t.Errorf("a fresh print: %+v", p.Print)
	}
	if p := pageOf(t, f, "ROUND-AL", 0); p.Print.Stale() {
		t.Errorf("a typed code names no print: %+v", p.Print)
	}
	if p := pageOf(t, f, "ROUND-AL", 4); !p.Print.Stale() || p.Print.Known {
		t.Errorf("a print never made: %+v", p.Print)
	}
	id := f.World.State.LotsAt(core.On(onePallet))[0].ID
	f.ChangeLot(id, func(l *core.Lot) { l.Qty = 6 })
	if p := pageOf(t, f, "ROUND-AL", 1); !p.Print.Stale() || !p.Print.Due || len(p.Print.Changes) != 1 || !strings.Contains(p.Print.Changes[0], "8 became 6") {
		t.Errorf("a stale print: %+v", p.Print)
	}
	// Signing a step is no change of what the traveller says.
	f.ChangeLot(id, func(l *core.Lot) { l.Qty = 8; l.Done = append(l.Done, 30) })
	if p := pageOf(t, f, "ROUND-AL", 1); p.Print.Stale() {
		t.Errorf("a signature outdated the print: %+v", p.Print)
	}
}

func TestEmptiedPalletSaysWhere(t *testing.T) {
	f := apptest.New(t)
	f.Pallet(onePallet, "ROUND-AL")
	f.Pallet("PRXTAEWP", "BRAKE-2")
	f.Change(onePallet, func(p *core.PalletRow) { p.GoneTo = []core.PalletCode{"PRXTAEWP"} })
	p := pageOf(t, f, "ROUND-AL", 0)
	if !p.Empty() || len(p.GoneTo) != 1 || !strings.Contains(p.GoneTo[0].Place, "press brake 2") {
		t.Errorf("empty %v, gone to %+v", p.Empty(), p.GoneTo)
	}
}

func TestUnknownPallet(t *testing.T) {
	store := &apptest.Store{Floor: apptest.New(t)}
	_, err := store.Service(t).PalletPage(t.Context(), app.Caller{Station: "ROUND-AL"}, onePallet, 0, "")
	if !errors.Is(err, app.ErrNotFound) {
		t.Errorf("got %v, want ErrNotFound", err)
	}
}

// A bench sees what a unit lacks before it starts: here, gathered, elsewhere.
func TestBuildShowsWhatIsMissing(t *testing.T) {
	f := apptest.New(t)
	bill := f.World.Book.Items[f.Item("BF-2400")].Bill
	f.Pallet(onePallet, "WELD-1")
	f.Lot(onePallet, bill[0].Item.Item, lineOf("O-4101"), bill[0].Qty, "")
	f.Pallet("PRXTAEWP", "ROUND-AL")
	f.Lot("PRXTAEWP", bill[2].Item.Item, lineOf("O-4101"), bill[2].Qty, "edge-round")
	store := &apptest.Store{Floor: f}
	p, err := store.Service(t).StationPage(t.Context(), app.Caller{Tablet: "T1", Station: "WELD-1"}, app.Part{})
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(p.Builds, func(b app.BuildView) bool { return b.Item.Item == "BF-2400" })
	if i < 0 {
		t.Fatalf("no base frame among %+v", p.Builds)
	}
	b := p.Builds[i]
	if b.Ready() || b.Fits() != bill[0].Qty || b.Short() == 0 {
		t.Errorf("ready %v, %d fit, %d short", b.Ready(), b.Fits(), b.Short())
	}
	for _, l := range b.Lines {
		switch l.Item {
		case bill[0].Item:
			if l.Here != bill[0].Qty || l.Short() != 0 {
				t.Errorf("%s: %+v", l.Name, l)
			}
		case bill[2].Item:
			if l.Here != 0 || len(l.Not) != 1 || !strings.Contains(l.Not[0].Place, "edge rounding line") {
				t.Errorf("%s is at %+v, want the rounding line", l.Name, l.Not)
			}
		}
	}
}

// What is elsewhere is said with how long that usually takes from there: what it
// has waited counts, and where a stage is not known nothing is said.
func TestABenchSeesHowLongItUsuallyTakes(t *testing.T) {
	f := apptest.New(t)
	bill := f.World.Book.Items[f.Item("BF-2400")].Bill
	f.Pallet(onePallet, "WELD-1")
	f.Lot(onePallet, bill[0].Item.Item, lineOf("O-4101"), bill[0].Qty, "")
	f.Pallet("PRXTAEWP", "ROUND-AL")
	f.Lot("PRXTAEWP", bill[2].Item.Item, lineOf("O-4101"), bill[2].Qty, "edge-round")
	for id, l := range f.World.State.Lots {
		l.Arrived = apptest.Now.Add(-time.Hour)
		f.World.State.Lots[id] = l
	}
	store := &apptest.Store{Floor: f}
	usual := func(times app.Usual) time.Duration {
		t.Helper()
		store.Times = times
		svc := store.Service(t)
		svc.Clock = func() time.Time { return apptest.Now }
		b, err := svc.BuildPage(t.Context(), app.Caller{Tablet: "T1", Station: "WELD-1"}, bill2400(t, svc))
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(b.Lines, func(l app.BuildLine) bool { return l.Item == bill[2].Item })
		return b.Lines[i].Not[0].Usual
	}
	next := core.NextSteps(f.World.Book, f.World.State.LotsAt(core.On("PRXTAEWP"))[0])[0].Stage
	if got, want := usual(app.Usual{next: 3 * time.Hour}), 2*time.Hour; got != want {
		t.Errorf("usually %v more, want %v: an hour of three is over", got, want)
	}
	if got := usual(app.Usual{next: 30 * time.Minute}); got != 0 {
		t.Errorf("usually %v more, and it waits longer than that already", got)
	}
	if got := usual(app.Usual{"fold": time.Hour}); got != 0 {
		t.Errorf("usually %v more where its stage is not known", got)
	}
}

// bill2400 is the key of the base frame that weld bench 1 could build.
func bill2400(t *testing.T, svc *app.Service) string {
	t.Helper()
	p, err := svc.StationPage(t.Context(), app.Caller{Tablet: "T1", Station: "WELD-1"}, app.Part{})
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range p.Builds {
		if b.Item.Item == "BF-2400" {
			return b.Key()
		}
	}
	t.Fatal("no base frame")
	return ""
}

func TestChecksAreFourToAPage(t *testing.T) {
	tick := core.Characteristic{Kind: core.Tick}
	gauged := core.Characteristic{Kind: core.Measure, Instrument: "caliper"}
	for _, c := range []struct {
		checks []core.Characteristic
		pages  []int
	}{
		{nil, nil},
		{[]core.Characteristic{tick, tick, tick, tick}, []int{4}},
		{[]core.Characteristic{tick, tick, tick, tick, tick}, []int{4, 1}},
		{[]core.Characteristic{gauged, gauged, gauged}, []int{2, 1}},
		{[]core.Characteristic{tick, gauged, tick, gauged}, []int{3, 1}},
		{[]core.Characteristic{tick, tick, tick, gauged}, []int{3, 1}},
	} {
		var got []int
		for _, page := range (app.LotView{Step: core.Step{Checks: c.checks}}).Checks() {
			got = append(got, len(page))
		}
		if !slices.Equal(got, c.pages) {
			t.Errorf("%d checks make pages of %v, want %v", len(c.checks), got, c.pages)
		}
	}
}

func TestLimitText(t *testing.T) {
	v := func(f float64) *float64 { return &f }
	for _, c := range []struct {
		c    core.Characteristic
		want string
	}{
		{core.Characteristic{Nominal: v(90), Lower: v(89.5), Upper: v(90.5), Unit: "°"}, "90 ± 0.5°"},
		{core.Characteristic{Nominal: v(25), Lower: v(24.7), Upper: v(25.3), Unit: "mm"}, "25 ± 0.3\u00a0mm"},
		{core.Characteristic{Nominal: v(3), Lower: v(2.8), Upper: v(4), Unit: "mm"}, "3\u00a0mm, 2.8 to 4"},
		{core.Characteristic{Lower: v(0.5), Unit: "mm"}, "0.5\u00a0mm or more"},
		{core.Characteristic{Upper: v(1.5), Unit: "mm"}, "1.5\u00a0mm or less"},
		{core.Characteristic{Lower: v(60), Upper: v(120), Unit: "µm"}, "60 to 120\u00a0µm"},
	} {
		if got := app.LimitText(c.c); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}

// A gauge past its calibration is not offered, nor one of another kind; it is
// listed apart.
func TestGauges(t *testing.T) {
	b := &core.Book{Instruments: map[string]core.Instrument{
		"G1": {ID: "G1", Kind: "caliper", DueBy: "2026-11-25"}, "G2": {ID: "G2", Kind: "caliper", DueBy: "2026-11-24"},
		"G3": {ID: "G3", Kind: "caliper", DueBy: "2027-03-01"}, "G4": {ID: "G4", Kind: "angle gauge", DueBy: "2027-03-01"},
	}}
	var got []string
	for _, g := range app.Gauges(b, core.Characteristic{Instrument: "caliper"}, time.Date(2026, 11, 25, 23, 0, 0, 0, time.UTC)) {
		got = append(got, g.ID)
	}
	if !slices.Equal(got, []string{"G1", "G3"}) {
		t.Errorf("offered %v, want G1 (its last day) and G3", got)
	}
	late := app.Overdue(b, core.Characteristic{Instrument: "caliper"}, time.Date(2026, 11, 26, 8, 0, 0, 0, time.UTC))
	if len(late) != 2 || late[0].ID != "G1" || late[1] != (app.GaugeChoice{ID: "G2", DueBy: "2026-11-24"}) {
		t.Errorf("overdue the day after: %+v, want G1 and G2", late)
	}
}
