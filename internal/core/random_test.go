package core_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// The invariants of the whole job, over random commands: most are sensible,
// many are not, and the core must refuse its way through them. The judges below
// read the log on their own, not the facts the core keeps.
func TestNothingUntrueOverRandomCommands(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := newShop(t)
		s.t = rt
		// One of the welders inspects as well, and is tempted.
		both := s.book.People["P13"]
		both.Roles = append(slices.Clone(both.Roles), core.Inspector)
		both.Qualifications = append(slices.Clone(both.Qualifications), core.Qualification{Process: "weld-inspection", ValidTo: "2030-01-01"})
		s.book.People["P13"] = both
		s.sampleCovers()
		s.nest("T-0", sheet5005, panels, core.Component{Item: cover, Qty: 3})
		s.separate("T-0")
		if rapid.Bool().Draw(rt, "welding") {
			s.panelParts()
			s.weldPanel()
		} else {
			s.nest("T-1", sheet5005, panels, core.Component{Item: skin, Qty: 4}, core.Component{Item: stiffener, Qty: 6})
			s.nest("T-2", bar, panels, core.Component{Item: post, Qty: 4})
			s.separate("T-1")
			s.separate("T-2")
		}
		worked := 0
		for range rapid.IntRange(5, 60).Draw(rt, "commands") {
			if s.random(rt) == nil {
				worked++
			}
			s.invariants(rt)
		}
		s.agrees()
	})
}

// sampleCovers lets inspections of covers judge a lot by two of its parts.
func (s *shop) sampleCovers() {
	ref := s.book.Items[cover].Route
	route := s.book.Routes[ref]
	route.Steps = slices.Clone(route.Steps)
	for i := range route.Steps {
		if st, _ := s.book.Table.Stage(route.Steps[i].Stage); st.Mark == core.Inspection {
			route.Steps[i].Sampling = []core.SampleRow{{Size: 2}}
		}
	}
	s.book.Routes[ref] = route
}

// random draws one command and sends it; nil when it was done.
func (s *shop) random(rt *rapid.T) *core.Refusal {
	lots := s.live()
	if len(lots) == 0 {
		return nil
	}
	l := lots[rapid.IntRange(0, len(lots)-1).Draw(rt, "lot")]
	code := core.PalletCode(l.Place.Ref)
	switch rapid.SampledFrom([]string{"step", "step", "step", "step", "step", "hurry", "hurry", "any-stage", "divide", "gather", "weld", "problem", "dispose",
		"recount", "correct", "fuse", "hold", "lift", "owner", "put-back", "settle", "leave", "late", "late", "arrive", "site"}).Draw(rt, "kind") {
	case "step":
		return s.randomStep(rt, l)
	case "hurry":
		return s.hurry(rt, l)
	case "any-stage":
		return s.anyStage(rt, l)
	case "divide":
		to := core.PalletCode("")
		if rapid.Bool().Draw(rt, "onto another") {
			to = core.PalletCode(lots[rapid.IntRange(0, len(lots)-1).Draw(rt, "to")].Place.Ref)
		}
		return s.do(core.Divide{From: code, To: to, Picks: []core.Pick{{Lot: l.ID, Qty: rapid.IntRange(0, l.Qty+1).Draw(rt, "qty")}}}, "BENCH-1").Refusal
	case "gather":
		for _, x := range lots {
			s.do(core.TakeIn{Pallet: core.PalletCode(x.Place.Ref)}, "WELD-1")
		}
		return s.do(core.Gather{Item: panel, Owner: panels}, "WELD-1").Refusal
	case "weld":
		for _, code := range keys(s.state.Builds) {
			if s.state.Builds[code].Lot == "" {
				return s.do(core.Assemble{Build: code, Inputs: []string{"FA-121"}, Checks: checks(s.book, s.book.Routes[s.book.Items[panel].Route].Steps[0])}, "WELD-1", "P13").Refusal
			}
		}
	case "problem":
		return s.do(core.ReportProblem{Pallet: code, Lot: l.ID, Qty: rapid.IntRange(1, l.Qty).Draw(rt, "qty"), What: "dent",
			Stay: rapid.Bool().Draw(rt, "stay")}, s.state.Pallets[code].Station, "P21").Refusal
	case "dispose":
		for _, id := range keys(s.state.Problems) {
			if p := s.state.Problems[id]; p.Open() {
				return s.randomDisposition(rt, p)
			}
		}
	case "recount":
		return s.send(core.Command{Body: core.Recount{Pallet: code, Lot: l.ID, Found: rapid.IntRange(0, l.Qty+2).Draw(rt, "found")},
			Confirm: []string{"count-differs"}}, "P06").Refusal
	case "correct":
		e := s.events[rapid.IntRange(0, len(s.events)-1).Draw(rt, "event")]
		return s.do(core.Correct{Event: e.ID, Reason: "wrong"}, "", "P18", "P03").Refusal
	case "fuse":
		on := s.state.LotsAt(l.Place)
		var ids []core.LotID
		for _, x := range on {
			ids = append(ids, x.ID)
		}
		return s.do(core.Fuse{Pallet: code, Lots: ids, Mix: rapid.Bool().Draw(rt, "mix")}, "BENCH-1").Refusal
	case "hold":
		return s.do(core.PlaceHold{Scope: core.HoldLot, Ref: string(l.ID), Reason: "doubt"}, "", "P03").Refusal
	case "lift":
		for _, id := range keys(s.state.Holds) {
			if s.state.Holds[id].Open() {
				return s.do(core.LiftHold{Hold: id, Reason: "looked"}, "", "P03").Refusal
			}
		}
	case "owner":
		return s.do(core.ChangeOwner{Pallet: code, Lot: l.ID, Qty: rapid.IntRange(1, l.Qty).Draw(rt, "qty"), To: core.Owner{}, Reason: "lent"}, "", "P02").Refusal
	case "put-back":
		for _, code := range keys(s.state.Builds) {
			for _, x := range s.state.LotsAt(core.Place{Kind: core.InBuild, Ref: string(code)}) {
				return s.do(core.PutBack{Build: code, Picks: []core.Pick{{Lot: x.ID, Qty: 1}}}, "WELD-1").Refusal
			}
		}
	case "leave":
		load := s.do(core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: []core.PalletCode{code}}, "DOCK-1", "P25")
		if load.Refusal == nil && rapid.Bool().Draw(rt, "at once") {
			return s.sendOff(core.ConsignmentCode(load.Events[0].Ref), "HA26 ULR", "hurry").Refusal
		}
		return load.Refusal
	case "late":
		return s.randomLate(rt)
	case "arrive":
		for _, c := range keys(s.state.Consignments) {
			if s.do(core.ReceiveAtSite{Consignment: c}, "SITE-LARKFIELD", "P27").Refusal == nil {
				return nil
			}
		}
	case "site":
		return s.randomSite(rt)
	case "settle":
		for _, f := range l.Facts.List() {
			if l.Facts[f].Value == core.Unsure {
				return s.do(core.Settle{Lot: l.ID, Fact: f, Value: rapid.SampledFrom([]core.Value{core.Yes, core.No}).Draw(rt, "value"), Reason: "looked"}, "", "P18", "P03").Refusal
			}
		}
	}
	return nil
}

// randomLate sends a made unit over the rework in which late parts join it, and
// changes some of its parts for others, often not the right ones.
func (s *shop) randomLate(rt *rapid.T) *core.Refusal {
	for _, l := range s.live() {
		if l.Unit == "" {
			continue
		}
		code := core.PalletCode(l.Place.Ref)
		if l.Rework == nil {
			e := s.do(core.ReportProblem{Pallet: code, Lot: l.ID, Qty: 1, What: "wrong part in it", Stay: true}, "", "P18")
			if e.Refusal != nil {
				return e.Refusal
			}
			return s.do(core.Dispose{Problem: core.ProblemID(e.Events[0].Ref), Disposition: core.DisposeRework, Reason: "change it",
				Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 30}, "", "P03").Refusal
		}
		s.do(core.TakeIn{Pallet: code}, "WELD-1")
		join := core.JoinLate{Pallet: code, Unit: l.ID, Why: "wrong part"}
		for _, x := range s.live() {
			if x.Unit == "" && rapid.Bool().Draw(rt, "in") {
				s.do(core.TakeIn{Pallet: core.PalletCode(x.Place.Ref)}, "WELD-1")
				join.In = append(join.In, core.Pick{Lot: x.ID, Qty: 1})
				for _, y := range s.state.LotsAt(core.Place{Kind: core.Inside, Ref: string(l.ID)}) {
					if y.Item == x.Item && rapid.IntRange(0, 4).Draw(rt, "out") > 0 {
						join.Out = append(join.Out, core.Pick{Lot: y.ID, Qty: 1})
						break
					}
				}
			}
		}
		return s.do(join, "WELD-1", "P13").Refusal
	}
	return nil
}

// randomSite signs some work at the site, or sends parts back.
func (s *shop) randomSite(rt *rapid.T) *core.Refusal {
	stage := rapid.SampledFrom([]core.StageName{"unpack", "fit-out", "accept", "return"}).Draw(rt, "stage")
	for _, id := range keys(s.state.Lots) {
		if l := s.state.Lots[id]; l.Place.Kind == core.AtSite && l.Qty > 0 {
			return s.do(core.WorkAtSite{Stage: stage, Picks: []core.Pick{{Lot: id, Qty: rapid.IntRange(1, l.Qty).Draw(rt, "qty")}}, Note: "dented"},
				"SITE-LARKFIELD", "P27").Refusal
		}
	}
	return nil
}

func (s *shop) live() []core.Lot {
	var out []core.Lot
	for _, l := range s.state.Lots {
		if l.Live() && l.Place.Kind == core.OnPallet {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b core.Lot) int {
		if a.ID < b.ID {
			return -1
		}
		return 1
	})
	return out
}

// randomStep does the right next thing, some of it good, some bad, some not yet.
func (s *shop) randomStep(rt *rapid.T, l core.Lot) *core.Refusal {
	if len(core.NextSteps(s.book, l)) == 0 {
		return nil
	}
	w, at := s.work(l.ID)
	s.do(core.TakeIn{Pallet: w.Pallet}, at)
	if rapid.IntRange(0, 3).Draw(rt, "some") == 0 {
		w.Lots[0].Bad = rapid.IntRange(0, l.Qty).Draw(rt, "bad")
		w.Lots[0].NotDone = rapid.IntRange(0, l.Qty-w.Lots[0].Bad).Draw(rt, "not done")
		w.Lots[0].Good = l.Qty - w.Lots[0].Bad - w.Lots[0].NotDone
		w.Lots[0].Rest = rapid.SampledFrom([]core.Rest{core.RestAsBefore, core.RestBegun, core.RestWaits}).Draw(rt, "rest")
		w.Lots[0].Why = "scratch"
	}
	if plan, ok := core.PlanOf(s.state.Lots[l.ID], core.NextSteps(s.book, l)[0]); ok {
		w.Lots[0].Looked = max(plan.Size, w.Lots[0].Bad)
	}
	return s.do(w, at, hand(w.Stage)).Refusal
}

// hurry is somebody pushing a lot along its route past steps not done: every
// step left is skipped or signed, at a station that does it, by anybody, with a
// concession for every rule that a concession could set aside.
func (s *shop) hurry(rt *rapid.T, l core.Lot) *core.Refusal {
	var last *core.Refusal
	route := s.book.Routes[l.Route]
	if l.Rework != nil {
		route = s.book.Routes[l.Rework.Route]
	}
	for _, step := range route.Steps {
		l = s.state.Lots[l.ID]
		if l.Rework == nil && l.DoneStep(step.No) || !l.Live() || l.Place.Kind != core.OnPallet || rapid.IntRange(0, 2).Draw(rt, "skip") == 0 {
			continue
		}
		last = s.push(rt, l, step)
	}
	return last
}

// anyStage signs any stage at all.
func (s *shop) anyStage(rt *rapid.T, l core.Lot) *core.Refusal {
	return s.push(rt, l, core.Step{Stage: rapid.SampledFrom(s.book.Table.Order).Draw(rt, "stage")})
}

func (s *shop) push(rt *rapid.T, l core.Lot, step core.Step) *core.Refusal {
	at := s.stationFor(step.Stage, s.book.Items[l.Item].Metal)
	p := s.state.Pallets[core.PalletCode(l.Place.Ref)]
	if at == "" || step.Stage == "separate" {
		return nil
	}
	// Somebody pushed the pallet there without a scan: the row says it is there.
	p.Station, p.Bound = at, ""
	s.state.Pallets[p.Code] = p
	s.pushed = append(s.pushed, p.Code)
	person := rapid.SampledFrom([]core.PersonID{"P13", "P18", "P20", "P21", "P26"}).Draw(rt, "person")
	if rapid.Bool().Draw(rt, "right hand") {
		person = hand(step.Stage)
	}
	var waive []core.Waiver
	for _, code := range words.Codes() {
		waive = append(waive, core.Waiver{Code: code, Reason: "hurry"})
	}
	work := core.LotWork{Lot: l.ID, Good: l.Qty, Checks: checks(s.book, s.asked(l, step))}
	if plan, ok := core.PlanOf(l, step); ok {
		work.Looked = plan.Size
		if rapid.Bool().Draw(rt, "one bad") {
			work.Good, work.Bad, work.Why = l.Qty-1, 1, "scratch"
		}
	}
	return s.send(core.Command{Body: core.SignOff{Pallet: p.Code, Stage: step.Stage, Inputs: inputs(s.book, l, step, step.Stage),
		Lots: []core.LotWork{work}}, Station: at, Waive: waive}, person, "P03").Refusal
}

func (s *shop) randomDisposition(rt *rapid.T, p core.Problem) *core.Refusal {
	d := core.Dispose{Problem: p.ID, Reason: "so decided", Disposition: rapid.SampledFrom([]core.Disposition{
		core.DisposeRework, core.DisposeRework, core.DisposeScrap, core.DisposeRemake, core.DisposeUseAsIs}).Draw(rt, "disposition")}
	if d.Disposition == core.DisposeRework {
		d.Route, d.Rejoin = core.RouteRef{Name: "WELD-REPAIR", Version: 1}, 30
	}
	return s.do(d, "", "P03", "P18").Refusal
}

// invariants judges the log by itself.
func (s *shop) invariants(rt *rapid.T) {
	qty := map[core.LotID]int{}
	balance := map[core.ItemRev]int{}
	j := &judge{s: s, rounded: map[core.LotID]bool{}, released: map[core.LotID]bool{}, packed: map[core.LotID]bool{}, welders: map[core.LotID][]core.PersonID{},
		inside: map[core.LotID]map[core.ItemRev]int{}}
	for _, e := range s.events {
		sum := map[core.ItemRev]int{}
		for _, f := range e.Effects {
			if m := f.Moved; m != nil {
				if m.From.Kind.Holds() {
					qty[m.Lot] -= m.Qty
				} else {
					balance[m.Item] += m.Qty
				}
				if m.To.Kind.Holds() {
					qty[m.Lot] += m.Qty
				} else {
					balance[m.Item] -= m.Qty
				}
				if m.To.Kind == core.Descent {
					sum[m.Item] += m.Qty
				}
				if m.From.Kind == core.Descent {
					sum[m.Item] -= m.Qty
				}
				if qty[m.Lot] < 0 {
					rt.Fatalf("%s: lot %s goes below zero", e.ID, m.Lot)
				}
			}
		}
		for item, n := range sum {
			if n != 0 {
				rt.Fatalf("%s: descent makes %d of %s from nothing", e.ID, -n, item)
			}
		}
		j.read(rt, e)
	}
	there := map[core.ItemRev]int{}
	for _, l := range s.state.Lots {
		if qty[l.ID] != l.Qty {
			rt.Fatalf("lot %s holds %d, its moves say %d", l.ID, l.Qty, qty[l.ID])
		}
		there[l.Item] += l.Qty
	}
	for item, n := range balance {
		if there[item] != n {
			rt.Fatalf("%s: %d in the shop, the log says %d", item, there[item], n)
		}
	}
}

// judge keeps its own book of what matters most: whose edges are rounded, whose
// welds are released, and by whom, and what is packed with nothing left to do.
type judge struct {
	s        *shop
	rounded  map[core.LotID]bool
	released map[core.LotID]bool
	packed   map[core.LotID]bool
	welders  map[core.LotID][]core.PersonID
	inside   map[core.LotID]map[core.ItemRev]int // units, and what their moves left in them
}

func (j *judge) read(rt *rapid.T, e core.Event) {
	for _, f := range e.Effects { // descent first: a lot begins as what its parents were
		if f.Moved != nil {
			j.moved(*f.Moved)
		}
		l := f.LotBorn
		if x := f.LotSplit; x != nil {
			l = &core.Lot{ID: x.Lot, Parents: []core.LotID{x.Of}}
		}
		if l != nil && len(l.Parents) > 0 && e.Kind != core.EvAssembled && e.Kind != core.EvSeparated {
			all, rel, packed := true, true, true
			for _, p := range j.direct(e, *l) {
				all, rel, packed = all && j.rounded[p], rel && j.released[p], packed && j.packed[p]
				j.welders[l.ID] = append(j.welders[l.ID], j.welders[p]...)
			}
			j.rounded[l.ID], j.released[l.ID], j.packed[l.ID] = all, rel, packed
		}
		if f.SentToRework != nil {
			j.packed[f.SentToRework.Lot] = false
		}
		if m := f.Moved; m != nil && m.To.Kind == core.InConsignment && !j.packed[m.Lot] {
			rt.Fatalf("%s: %s leaves and is not packed\n%s", e.ID, m.Lot, j.s.story(m.Lot))
		}
	}
	if e.Kind == core.EvCorrected { // what was taken back is read off the steps that stand
		for _, f := range e.Effects {
			if u := f.StepsUndone; u != nil {
				switch e.Stage {
				case "edge-round", "hand-round":
					j.rounded[u.Lot] = false
				case "weld-inspect":
					j.released[u.Lot] = false
				case "pack":
					j.packed[u.Lot] = false
				}
			}
			if c := f.Given; c != nil && c.Fact.Name == core.EdgesRounded {
				j.rounded[c.Lot] = true
			}
			if c := f.Given; c != nil && c.Fact.Name == core.WeldAccepted {
				j.released[c.Lot] = true
			}
		}
		return
	}
	if e.Kind == core.EvSettled {
		for _, f := range e.Effects {
			if g := f.Given; g != nil && g.Fact.Name == core.EdgesRounded {
				j.rounded[g.Lot] = true
			}
			if g := f.Given; g != nil && g.Fact.Name == core.WeldAccepted {
				j.released[g.Lot] = true
			}
		}
		return
	}
	switch e.Kind {
	case core.EvJoinedLate:
		j.joined(rt, e)
		return
	case core.EvSentBack:
		for _, f := range e.Effects {
			if f.StepsUndone != nil {
				j.packed[f.StepsUndone.Lot] = false
			}
		}
		return
	case core.EvSigned, core.EvAssembled:
	default:
		return
	}
	for _, l := range e.Lots { // no sample here accepts a bad part
		if done := func(f core.Effect) bool { return f.StepDone != nil && f.StepDone.Lot == l.Lot }; l.Looked > 0 && l.Bad > 0 && slices.ContainsFunc(e.Effects, done) {
			rt.Fatalf("%s: %s passed with %d bad of %d looked at", e.ID, l.Lot, l.Bad, l.Looked)
		}
	}
	for _, f := range e.Effects {
		if f.StepDone == nil {
			continue
		}
		id := f.StepDone.Lot
		switch e.Stage {
		case "edge-round", "hand-round":
			j.rounded[id] = true
		case "weld":
			if e.Kind == core.EvAssembled {
				j.rounded[id] = true // every component asked was checked by the bench: see below
				for _, f := range e.Effects {
					if m := f.Moved; m != nil && m.To.Kind == core.Inside && !j.rounded[m.Lot] {
						rt.Fatalf("%s welds %s, whose edges were never rounded", e.ID, m.Lot)
					}
				}
				j.asBilled(rt, e, id)
			}
			j.released[id] = false
			j.welders[id] = append(j.welders[id], e.Signed[0].Person)
		case "grind-out":
			j.rounded[id], j.released[id] = false, false
			j.welders[id] = append(j.welders[id], e.Signed[0].Person)
		case "weld-dress":
			if !slices.ContainsFunc(e.Checks, func(r core.Reading) bool { return r.Characteristic == "edges-broken-again" && r.Met }) {
				j.rounded[id] = false
			}
			j.released[id] = false
		case "weld-inspect":
			j.released[id] = true
			for _, sg := range e.Signed {
				if slices.Contains(j.welders[id], sg.Person) {
					rt.Fatalf("%s: %s released a weld of their own", e.ID, sg.Person)
				}
			}
		case "pretreat", "coat", "pack":
			l := j.s.state.Lots[id]
			if j.s.book.Routes[l.Route].Has("weld") && !j.released[id] {
				rt.Fatalf("%s: %s of %s past an unreleased weld", e.ID, e.Stage, id)
			}
			j.packed[id] = j.packed[id] || e.Stage == "pack"
			if e.Stage == "coat" && !j.rounded[id] {
				rt.Fatalf("%s: %s was coated with sharp edges\n%s", e.ID, id, j.s.story(id))
			}
		}
	}
}

// joined: a late part was rounded, the unit holds what its bill asks, and its
// weld is nobody's release any more. What came out has edges nobody vouches for.
func (j *judge) joined(rt *rapid.T, e core.Event) {
	var unit core.LotID
	for _, f := range e.Effects {
		if f.Joined != nil {
			unit = f.Joined.Lot
		}
	}
	for _, f := range e.Effects {
		switch m := f.Moved; {
		case m == nil:
		case m.To == (core.Place{Kind: core.Inside, Ref: string(unit)}) && m.From.Kind == core.OnPallet && !j.rounded[m.Lot]:
			rt.Fatalf("%s: %s joins %s, and its edges were never rounded", e.ID, m.Lot, unit)
		case m.From.Kind == core.Inside && m.To.Kind == core.OnPallet:
			j.rounded[m.Lot] = false
		}
	}
	j.released[unit] = false
	j.welders[unit] = append(j.welders[unit], e.Signed[0].Person)
	j.asBilled(rt, e, unit)
}

// asBilled: the moves so far leave in a unit just what its bill asks.
func (j *judge) asBilled(rt *rapid.T, e core.Event, unit core.LotID) {
	l := j.s.state.Lots[unit]
	for _, c := range j.s.book.Items[l.Item].Bill {
		n := j.inside[unit][c.Item]
		for _, p := range l.Parents { // where it was another lot before, nobody moved what is in it
			if j.s.state.Lots[p].Unit == l.Unit {
				n += j.inside[p][c.Item]
			}
		}
		if n != c.Qty {
			rt.Fatalf("%s: %d of %s in %s, its bill asks %d", e.ID, n, c.Item, unit, c.Qty)
		}
	}
}

// moved keeps what is inside which unit.
func (j *judge) moved(m core.Move) {
	at := func(p core.Place, n int) {
		if p.Kind != core.Inside {
			return
		}
		if j.inside[core.LotID(p.Ref)] == nil {
			j.inside[core.LotID(p.Ref)] = map[core.ItemRev]int{}
		}
		j.inside[core.LotID(p.Ref)][m.Item] += n
	}
	at(m.From, -m.Qty)
	at(m.To, m.Qty)
}

// direct lists the lots a new one descends from in this very event.
func (j *judge) direct(e core.Event, l core.Lot) []core.LotID {
	var out []core.LotID
	for _, f := range e.Effects {
		if m := f.Moved; m != nil && m.To.Kind == core.Descent && slices.Contains(l.Parents, m.Lot) {
			out = append(out, m.Lot)
		}
	}
	if len(out) == 0 {
		return []core.LotID{core.LotID(fmt.Sprint("none of ", l.ID))}
	}
	return out
}

// story is what the log says of a lot, for a failed run to show.
func (s *shop) story(id core.LotID) string {
	out := ""
	for _, e := range s.events {
		for _, f := range e.Effects {
			if f.Lot() == id {
				b, _ := json.Marshal(f)
				out += fmt.Sprintf("%s %s %s %s\n", e.ID, e.Kind, e.Stage, b)
			}
		}
	}
	return out
}
