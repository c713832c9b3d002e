package intake_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"tagalong/internal/core"
)

// today is the sample shop's day: a Wednesday morning.
var today = time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)

// walker takes one lot of a sample item along its route, with people, gauges
// and batches of the samples.
type walker struct {
	t     *testing.T
	book  *core.Book
	state *core.State
	now   time.Time
	n     int
}

const (
	walkedPallet = core.PalletCode("P-WALK")
	walkedLot    = core.LotID("lot")
)

// bear puts a lot on a pallet as its birth leaves it: a cut part after cut and
// separate, an assembly after its first joint, all else before its first step.
func (w *walker) bear(v core.Revision) {
	w.state = core.NewState()
	w.state.Pallets[walkedPallet] = core.PalletRow{Code: walkedPallet, Kind: core.PalletCarrier}
	l := core.Lot{ID: walkedLot, Item: v.ItemRev, Qty: 1, Place: core.On(walkedPallet), Route: v.Route, Facts: core.Facts{}}
	if len(v.Bill) > 0 {
		l.Unit = "U-WALK" // what has a bill was made in a build
	}
	give := func(names ...string) {
		for _, n := range names {
			l.Facts[core.Fact{Name: n}] = core.Standing{Value: core.Yes}
		}
	}
	switch v.Kind {
	case core.PartItem:
		give(core.MaterialIdentified, core.IsCut, core.Separated, core.Counted)
		l.Done = []int{10, 20}
	case core.AssemblyItem:
		give(core.MaterialIdentified, core.IsCut, core.Separated, core.EdgesRounded)
		l.Done = []int{10}
		if w.book.Routes[v.Route].Has("weld") {
			give(core.Welded)
		}
	}
	w.state.Lots[walkedLot] = l
}

// signerFor finds somebody of the samples who may sign a step on an item.
func (w *walker) signerFor(st core.Stage) core.PersonID {
	switch {
	case st.Qualification == "weld":
		return "P12"
	case slices.Contains(st.Roles, core.Inspector):
		return "P18"
	case slices.Contains(st.Roles, core.Dispatcher):
		return "P26"
	}
	return "P09"
}

// stationFor is a station that does the stage with a suitable abrasive.
func (w *walker) stationFor(st core.Stage, metal core.Metal) core.StationID {
	var ids []core.StationID
	for id, s := range w.book.Stations {
		if s.Does(st.Name) && (!st.Abrades || s.Metal == metal) {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	if len(ids) == 0 {
		w.t.Fatalf("no station does %s on %s", st.Name, metal)
	}
	return ids[0]
}

// signOff is the command a person would send for the lot's step.
func (w *walker) signOff(s core.Step, who core.PersonID) core.Command {
	stage, _ := w.book.Table.Stage(s.Stage)
	v := w.book.Items[w.state.Lots[walkedLot].Item]
	at := w.stationFor(stage, v.Metal)
	p := w.state.Pallets[walkedPallet]
	p.Station = at
	w.state.Pallets[walkedPallet] = p
	var readings []core.CheckReading
	for _, c := range s.Checks {
		g := core.CheckReading{Characteristic: c.ID, Met: true}
		if c.Kind == core.Measure {
			g.Value = c.Nominal
			for _, in := range w.book.Instruments {
				if in.Kind == c.Instrument && in.DueBy >= core.DateOf(w.now) {
					g.Instrument = in.ID
				}
			}
		}
		readings = append(readings, g)
	}
	var inputs []string
	for _, kind := range stage.Inputs {
		inputs = append(inputs, w.batch(kind, s, v))
	}
	w.n++
	return core.Command{ID: core.CommandID(fmt.Sprint("c", w.n)), Happened: w.now, Station: at,
		Signers: []core.Signature{{Person: who, At: w.now}},
		Body: core.SignOff{Pallet: walkedPallet, Stage: s.Stage, Inputs: inputs,
			Lots: []core.LotWork{{Lot: walkedLot, Good: 1, Looked: 1, Checks: readings}}}}
}

func (w *walker) batch(kind string, s core.Step, v core.Revision) string {
	colour := s.Colour
	if colour == "" && len(v.Finish) > 0 {
		colour = v.Finish[0].Colour
	}
	for _, b := range w.book.Batches {
		if b.Kind == kind && (b.Colour == "" || b.Colour == colour) && (b.Expires == "" || b.Expires >= core.DateOf(w.now)) {
			return b.Batch
		}
	}
	w.t.Fatalf("no %s batch in date for %s", kind, v)
	return ""
}

func (w *walker) decide(c core.Command) core.Outcome {
	return core.Decide(core.World{Now: w.now, Book: w.book, State: w.state, Fresh: []core.PalletCode{"P-NEW"}}, c)
}

// TestSampleItemsWalkTheirRoutes takes every sample item to the end of its
// route by the rules of the core: no step of the samples is a dead end.
func TestSampleItemsWalkTheirRoutes(t *testing.T) {
	b := readSamples(t)
	book := shopOf(b).Book
	walked := 0
	for _, v := range b.Items {
		if v.Kind == core.ProductItem || v.Kind == core.SheetItem || v.Kind == core.BarItem {
			continue // materials are cut up at separation; a product has no route
		}
		t.Run(string(v.Item), func(t *testing.T) {
			w := &walker{t: t, book: book, now: today}
			w.bear(v)
			for {
				next := core.NextSteps(book, w.state.Lots[walkedLot])
				if len(next) == 0 {
					break
				}
				stage, _ := book.Table.Stage(next[0].Stage)
				out := w.decide(w.signOff(next[0], w.signerFor(stage)))
				if out.Refusal != nil {
					t.Fatalf("step %d, %s: %v", next[0].No, next[0].Stage, out.Refusal)
				}
				for _, e := range out.Events {
					if err := core.Apply(w.state, e); err != nil {
						t.Fatalf("step %d, %s: %v", next[0].No, next[0].Stage, err)
					}
				}
				w.now = w.now.Add(time.Hour)
			}
			l := w.state.Lots[walkedLot]
			for _, f := range v.Finish {
				if l.Facts.At(core.Fact{Name: core.CoatAccepted, Of: string(f.Face)}, w.now) != core.Yes {
					t.Errorf("face %s ends without an accepted coat", f.Face)
				}
			}
		})
		walked++
	}
	if walked < 40 {
		t.Errorf("walked %d items, want all of them", walked)
	}
}

// TestSampleTraps holds the traps laid in the samples: each is refused by the
// rule it is there for.
func TestSampleTraps(t *testing.T) {
	book := shopOf(readSamples(t)).Book
	item := func(id core.ItemID) core.Revision {
		for ref, v := range book.Items {
			if ref.Item == id {
				return v
			}
		}
		t.Fatalf("no item %s", id)
		return core.Revision{}
	}
	step := func(route string, stage core.StageName) core.Step {
		r := book.Routes[core.RouteRef{Name: route, Version: 1}]
		i := slices.IndexFunc(r.Steps, func(s core.Step) bool { return s.Stage == stage })
		if i < 0 {
			t.Fatalf("route %s has no %s", route, stage)
		}
		return r.Steps[i]
	}
	// repair puts a refused frame on the repair route, before its weld.
	repair := func(w *walker) {
		w.bear(item("BF-2400"))
		l := w.state.Lots[walkedLot]
		l.Rework = &core.Rework{Route: core.RouteRef{Name: "WELD-REPAIR", Version: 1}, Done: []int{10}, Rejoin: 40}
		delete(l.Facts, core.Fact{Name: core.Welded})
		w.state.Lots[walkedLot] = l
	}
	weld := step("WELD-REPAIR", "weld")
	for _, c := range []struct {
		what, code string
		make       func(w *walker) core.Command
	}{
		{"the welder whose qualification is over", "qualification-lapsed", func(w *walker) core.Command { repair(w); return w.signOff(weld, "P11") }},
		{"the welder whose qualification ends, a day later", "qualification-lapsed", func(w *walker) core.Command {
			w.now = time.Date(2026, 12, 1, 8, 0, 0, 0, time.UTC)
			repair(w)
			return w.signOff(weld, "P10")
		}},
		{"the person who has left", "person-left", func(w *walker) core.Command { repair(w); return w.signOff(weld, "P30") }},
		{"the overdue caliper", "gauge-overdue", func(w *walker) core.Command {
			w.bear(item("SK-1200"))
			l := w.state.Lots[walkedLot]
			l.Done = append(l.Done, 30)
			l.Facts[core.Fact{Name: core.EdgesRounded}] = core.Standing{Value: core.Yes}
			w.state.Lots[walkedLot] = l
			cmd := w.signOff(step("COMP-FOLD", "fold"), "P09")
			for i, r := range cmd.Body.(core.SignOff).Lots[0].Checks {
				if strings.HasPrefix(r.Instrument, "CA-") {
					cmd.Body.(core.SignOff).Lots[0].Checks[i].Instrument = "CA-03"
				}
			}
			return cmd
		}},
		{"stainless on the aluminium belt", "abrasive-kept", func(w *walker) core.Command {
			w.bear(item("HP-80"))
			cmd := w.signOff(step("BARE-FLAT", "edge-round"), "P09")
			p := w.state.Pallets[walkedPallet]
			cmd.Station, p.Station = "ROUND-AL", "ROUND-AL"
			w.state.Pallets[walkedPallet] = p
			return cmd
		}},
	} {
		w := &walker{t: t, book: book, now: today}
		out := w.decide(c.make(w))
		if out.Refusal == nil || out.Refusal.Code != c.code {
			t.Errorf("%s: got %v, want %s", c.what, out.Refusal, c.code)
		}
	}
	w := &walker{t: t, book: book, now: today}
	repair(w)
	if out := w.decide(w.signOff(weld, "P10")); out.Refusal != nil {
		t.Errorf("the welder whose qualification ends next week may still weld: %v", out.Refusal)
	}
}
