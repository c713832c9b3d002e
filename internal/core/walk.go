package core

import (
	"slices"
	"strings"
	"time"
)

// WalkFinding is a step of an item's route that the rules would refuse though
// every step before it was done in order, or something else a route's author
// must see.
type WalkFinding struct {
	Item    ItemRev
	Route   RouteRef
	Step    Step
	Refusal Refusal
}

// WalkAll walks the route of every item forwards once, and every rework route
// from a finished unit, and lists what the rules refuse. A book whose routes
// can all be worked to their ends has no findings.
func WalkAll(b *Book) (walked int, findings []WalkFinding) {
	items := make([]ItemRev, 0, len(b.Items))
	for it := range b.Items {
		items = append(items, it)
	}
	slices.SortFunc(items, func(x, y ItemRev) int { return strings.Compare(x.Key(), y.Key()) })
	for _, it := range items {
		if rev := b.Items[it]; rev.Route.Name == "" && len(rev.Bill) > 0 {
			continue // a product delivered as its components
		}
		walked++
		findings = append(findings, Walk(b, it)...)
	}
	return walked, findings
}

// Walk takes one lot of an item along its route, doing each step in order.
func Walk(b *Book, item ItemRev) []WalkFinding {
	rev := b.Items[item]
	route, ok := b.Routes[rev.Route]
	if !ok || len(route.Steps) == 0 {
		return []WalkFinding{{item, rev.Route, Step{}, *refuse("route-unknown", "route", rev.Route.String())}}
	}
	out := drawn(b, rev, route)
	d := newDeciding(World{Book: b, State: NewState(), Now: walkTime}, Command{ID: "walk", Body: SignOff{}})
	d.inputs = []Batch{}
	id := d.walker(rev, route)
	for range route.Steps {
		l := d.s.Lots[id]
		next := NextSteps(b, l)
		if len(next) == 0 {
			break
		}
		stage, ok := b.Table.Stage(next[0].Stage)
		if !ok {
			return append(out, WalkFinding{item, rev.Route, next[0], *refuse("stage-unknown", "stage", string(next[0].Stage))})
		}
		d.inputs = walkInputs(stage, rev, next[0])
		step, r := d.judge(l, stage)
		if r != nil {
			return append(out, WalkFinding{item, rev.Route, step, *r})
		}
		var given []CheckReading
		for _, c := range step.Checks {
			given = append(given, CheckReading{Characteristic: c.ID, Met: true})
		}
		d.perform(l, step, stage, given)
		d.at = d.at.Add(time.Minute)
	}
	return out
}

// walkTime is a day like any other: a walk does not depend on the clock.
var walkTime = time.Date(2000, 1, 3, 8, 0, 0, 0, time.UTC)

// walker bears the lot that walks: with what its birth gives where its route
// does not begin with goods-in, and as components leave it where it is made.
func (d *deciding) walker(rev Revision, route Route) LotID {
	l := Lot{ID: "walk/lot", Item: rev.ItemRev, Route: rev.Route, Place: On("WALK")}
	d.bear(l)
	d.emit(Effect{Moved: &Move{l.ID, l.Item, Place{FromNest, "walk"}, On("WALK"), 1}})
	if route.Steps[0].Stage == "goods-in" {
		return l.ID
	}
	facts := []string{MaterialIdentified, IsCut, Separated}
	if len(rev.Bill) > 0 {
		facts = append(facts, EdgesRounded)
	}
	for _, f := range facts {
		d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: Fact{Name: f}, Value: Yes}})
	}
	return l.ID
}

func walkInputs(st Stage, rev Revision, s Step) []Batch {
	out := []Batch{}
	for _, k := range st.Inputs {
		b := Batch{Kind: k, Batch: "walk-" + k}
		if k == "powder" {
			b.Colour = stepColour(rev, s)
		}
		out = append(out, b)
	}
	return out
}

// drawn finds what no forward walk shows: a step after coat without a second
// coat inspection behind it, edges left as cut on a part that is to be coated,
// a face to be coated that no step coats, a step numbered out of order.
func drawn(b *Book, rev Revision, route Route) []WalkFinding {
	var out []WalkFinding
	find := func(s Step, r *Refusal) { out = append(out, WalkFinding{rev.ItemRev, rev.Route, s, *r}) }
	last := 0
	for i, s := range route.Steps {
		if s.No <= last {
			find(s, refuse("route-order"))
		}
		last = s.No
		later := route.Steps[i+1:]
		if s.AfterCoat && !slices.ContainsFunc(later, func(x Step) bool { return x.Stage == "coat-inspect" }) {
			find(s, refuse("route-inspect-again"))
		}
	}
	if rev.EdgesAsCut && len(rev.Finish) > 0 {
		find(Step{}, refuse("route-edges-as-cut"))
	}
	for _, f := range rev.Finish {
		if !slices.ContainsFunc(route.Steps, func(s Step) bool {
			return s.Stage == "coat" && slices.Contains(thisFaces(rev, s), f.Face)
		}) {
			find(Step{Stage: "coat"}, refuse("route-face-uncoated", "face", string(f.Face)))
		}
	}
	return out
}
