package core_test

import (
	"encoding/json"
	"os"
	"testing"

	"tagalong/internal/core"
)

// published is the plan the published tables give for lots of 16 to 25 parts at
// general inspection level II and an acceptance quality limit of 2.5 %, normal
// inspection: MIL-STD-105E (1989), tables I and II-A; the same in ISO 2859-1.
func published(t *testing.T) core.SampleRow {
	text, err := os.ReadFile("../../testdata/checks/sampling.json")
	if err != nil {
		t.Fatal(err)
	}
	var checks struct {
		Cases []struct {
			ID, Letter   string
			To           int
			Size, Accept int
		}
	}
	if err := json.Unmarshal(text, &checks); err != nil {
		t.Fatal(err)
	}
	letter, plan := checks.Cases[0], checks.Cases[1]
	if letter.ID != "letter-16-25-II" || plan.ID != "plan-C-2.5" || letter.Letter != plan.Letter {
		t.Fatalf("the tables say %+v", checks)
	}
	return core.SampleRow{UpTo: letter.To, Size: plan.Size, Accept: plan.Accept, Source: "MIL-STD-105E, level II, AQL 2.5"}
}

// presented is a lot of 20 trays at the coat table, to be judged by a sample of
// 5 that accepts none bad.
func presented(t *testing.T) (*shop, core.LotID, core.SignOff) {
	s := newShop(t)
	ref := s.book.Items[tray].Route
	route := s.book.Routes[ref]
	route.Steps = append([]core.Step{}, route.Steps...)
	for i := range route.Steps {
		if route.Steps[i].Stage == "coat-inspect" {
			route.Steps[i].Sampling = []core.SampleRow{published(t), {Size: 20, Accept: 1}}
		}
	}
	s.book.Routes[ref] = route
	s.nest("T-20", sheet5005, trays, core.Component{Item: tray, Qty: 20})
	id := s.separate("T-20")[0].ID
	s.until(id, "coat-inspect")
	s.bring(id, "COAT-TABLE-1")
	w := mustWork(s, id)
	w.Lots[0].Looked = 5
	return s, id, w
}

func TestASampleThatPassesLetsTheLotPass(t *testing.T) {
	s, id, w := presented(t)
	same(t, "plan", *s.state.Lots[id].Presented, core.Presented{Step: w20(s), Of: 20, Size: 5})
	w.Lots[0].Looked = 4
	s.refused("sample-short", w, "COAT-TABLE-1", "P20")
	w.Lots[0].Looked = 21
	s.refused("sample-short", w, "COAT-TABLE-1", "P20")
	w.Lots[0].Looked = 5
	w.Lots[0].Good, w.Lots[0].NotDone = 15, 5
	s.refused("sample-whole", w, "COAT-TABLE-1", "P20")
	w.Lots[0].Good, w.Lots[0].NotDone = 14, 0
	w.Lots[0].Bad, w.Lots[0].Why = 6, "thin"
	s.refused("sample-bad", w, "COAT-TABLE-1", "P20")
	w.Lots[0].Good, w.Lots[0].Bad = 20, 0
	e := s.must(w, "COAT-TABLE-1", "P20")
	same(t, "on record", e.Lots[0].Looked, 5)
	if s.state.Lots[id].Presented != nil {
		t.Error("it still waits")
	}
	same(t, "next", core.NextSteps(s.book, s.state.Lots[id])[0].Stage, core.StageName("pack"))
	s.agrees()
}

// w20 is the number of the trays' coat inspection.
func w20(s *shop) int {
	for _, st := range s.book.Routes[s.book.Items[tray].Route].Steps {
		if st.Stage == "coat-inspect" {
			return st.No
		}
	}
	return 0
}

// One bad part in the sample refuses the other nineteen too, until each of them
// was looked at; and nothing was split off to escape it.
func TestAFailedSampleRefusesTheLotUntilSorted(t *testing.T) {
	s, id, w := presented(t)
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	for _, escape := range []core.Body{
		core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 10}}},
		core.ReportProblem{Pallet: code, Lot: id, Qty: 1, What: "thin"},
		core.ChangeOwner{Pallet: code, Lot: id, Qty: 3, To: core.Owner{}, Reason: "kept"},
	} {
		s.refused("sample-waits", escape, "COAT-TABLE-1", "P20")
	}
	w.Lots[0].Good, w.Lots[0].Bad, w.Lots[0].Why = 19, 1, "coat thin in the corner"
	e := s.must(w, "COAT-TABLE-1", "P20")
	same(t, "refused", e.Lots[0].Bad, 20)
	l := s.state.Lots[id]
	same(t, "the others", l.Qty, 19)
	same(t, "not accepted", l.Facts.At(core.Fact{Name: core.CoatAccepted, Of: "all"}, s.now), core.No)
	same(t, "refused", l.Facts.At(core.Fact{Name: core.SampleRefused}, s.now), core.Yes)
	problem := core.Problem{}
	for _, p := range s.state.Problems {
		if p.Lot == id {
			problem = p
		}
	}
	same(t, "what", problem.What, "coat thin in the corner: 1 bad of 5 looked at, 0 accepted")
	w = mustWork(s, id)
	w.Lots[0].Looked = 19
	s.refused("lot-held", w, "COAT-TABLE-1", "P20")
	s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 9}}}, "COAT-TABLE-1") // held, both halves of it
	for _, x := range s.live() {
		if x.Item == tray && x.ID != id && x.Owner == trays && x.Qty == 9 {
			if _, held := core.HeldBy(s.state, x); !held {
				t.Error("half of a refused lot is free")
			}
		}
	}

	s.must(core.Dispose{Problem: problem.ID, Disposition: core.DisposeRework, Reason: "sort every one",
		Route: core.RouteRef{Name: "SORT", Version: 1}, Rejoin: w20(s)}, "", "P03")
	sorting := mustWork(s, id)
	sorting.Lots[0].Good, sorting.Lots[0].Bad, sorting.Lots[0].Why = 8, 2, "thin too"
	s.must(sorting, "INSPECT-1", "P20")
	l = s.state.Lots[id]
	same(t, "good", l.Qty, 8)
	same(t, "presented again", core.NextSteps(s.book, l)[0].Stage, core.StageName("coat-inspect"))
	again := mustWork(s, id)
	again.Lots[0].Looked = 5
	s.must(again, "COAT-TABLE-1", "P20")
	s.finish(id)
	s.agrees()
}

// A step without a plan looks at every part.
func TestWithoutAPlanEveryPartIsLookedAt(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.until(id, "coat-inspect")
	w := mustWork(s, id)
	w.Lots[0].Looked = 2
	s.refused("sample-none", w, "COAT-TABLE-1", "P20")
	w.Lots[0].Looked = 4
	s.must(w, "COAT-TABLE-1", "P20")
}
