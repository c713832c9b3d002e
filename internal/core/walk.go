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
// from wherever it can begin, and lists what the rules refuse. A book whose
// routes can all be worked to their ends has no findings.
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
	return walked, append(findings, walkReworks(b, items)...)
}

// Walk takes one lot of an item along its route, doing each step in order.
func Walk(b *Book, item ItemRev) []WalkFinding {
	rev := b.Items[item]
	route, ok := b.Routes[rev.Route]
	if !ok || len(route.Steps) == 0 {
		return []WalkFinding{{item, rev.Route, Step{}, *refuse("route-unknown", "route", rev.Route.String())}}
	}
	out := drawn(b, rev, route)
	d, id := newWalk(b, rev, route)
	for range route.Steps {
		if stopped := d.walkStep(id); stopped != nil {
			return append(out, *stopped)
		}
	}
	return out
}

// newWalk bears a lot of an item, ready to walk its route.
func newWalk(b *Book, rev Revision, route Route) (*deciding, LotID) {
	d := newDeciding(World{Book: b, State: NewState(), Now: walkTime}, Command{ID: "walk", Body: SignOff{}})
	return d, d.walker(rev, route)
}

// walkStep does a lot's next step, everything about it as it should be; it
// finds what the rules refuse.
func (d *deciding) walkStep(id LotID) *WalkFinding {
	l := d.s.Lots[id]
	next := NextSteps(d.w.Book, l)
	if len(next) == 0 {
		return nil
	}
	route, _ := UnderWay(d.w.Book, l)
	on := route.RouteRef
	stage, ok := d.w.Book.Table.Stage(next[0].Stage)
	if !ok {
		return &WalkFinding{l.Item, on, next[0], *refuse("stage-unknown", "stage", string(next[0].Stage))}
	}
	d.inputs = walkInputs(stage, d.w.Book.Items[l.Item], next[0])
	step, r := d.judge(l, stage)
	if r != nil {
		return &WalkFinding{l.Item, on, step, *r}
	}
	var given []CheckReading
	for _, c := range step.Checks {
		given = append(given, CheckReading{Characteristic: c.ID, Met: true})
	}
	d.perform(l, step, stage, given)
	d.at = d.at.Add(time.Minute)
	return nil
}

// walkReworks walks every rework route. A route that no item can be sent over
// at any point of its own is found, by the walk that came furthest.
func walkReworks(b *Book, items []ItemRev) []WalkFinding {
	var out []WalkFinding
	for _, ref := range sortedRoutes(b) {
		if route := b.Routes[ref]; route.Rework && len(route.Steps) > 0 {
			if f := walkRework(b, items, route); f != nil {
				out = append(out, *f)
			}
		}
	}
	return out
}

func walkRework(b *Book, items []ItemRev, rework Route) *WalkFinding {
	var furthest *WalkFinding
	for _, it := range items {
		rev := b.Items[it]
		route := b.Routes[rev.Route]
		if len(route.Steps) == 0 {
			continue
		}
		d, id := newWalk(b, rev, route)
		for range route.Steps {
			if d.walkStep(id) != nil {
				break
			}
			stopped := d.sendOver(id, rework, route.Steps[len(route.Steps)-1].No)
			if stopped == nil {
				return nil
			}
			if furthest == nil || stopped.Step.No > furthest.Step.No {
				furthest = stopped
			}
		}
	}
	return furthest
}

// sendOver tries a rework route from where a lot stands, and leaves the lot as
// it was.
func (d *deciding) sendOver(id LotID, rework Route, rejoin int) *WalkFinding {
	try := newDeciding(World{Book: d.w.Book, State: d.s, Now: d.w.Now}, d.c)
	try.at = d.at
	try.emit(Effect{Given: &FactGiven{Lot: id, Fact: Fact{Name: SampleRefused}, Value: Yes}}, // as an inspection left it
		Effect{SentToRework: &SentToRework{id, Rework{Route: rework.RouteRef, Rejoin: rejoin}}})
	for try.s.Lots[id].Rework != nil {
		if stopped := try.walkStep(id); stopped != nil {
			return stopped
		}
	}
	return nil
}

func sortedRoutes(b *Book) []RouteRef {
	var out []RouteRef
	for ref := range b.Routes {
		out = append(out, ref)
	}
	slices.SortFunc(out, func(x, y RouteRef) int { return compareText(x.String(), y.String()) })
	return out
}

// walkTime is a day like any other: a walk does not depend on the clock.
var walkTime = time.Date(2000, 1, 3, 8, 0, 0, 0, time.UTC)

// walker bears the lot that walks: with what its birth gives where its route
// does not begin with goods-in, and as components leave it where it is made.
func (d *deciding) walker(rev Revision, route Route) LotID {
	l := Lot{ID: "walk/lot", Item: rev.ItemRev, Route: rev.Route, Place: On("WALK"), Unit: walkUnit(rev)}
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

// walkUnit is the build a walker with a bill was made in.
func walkUnit(rev Revision) BuildCode {
	if len(rev.Bill) > 0 {
		return "walk"
	}
	return ""
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
	if rev.EdgesAsCut && len(rev.Faces()) > 0 {
		find(Step{}, refuse("route-edges-as-cut"))
	}
	for _, f := range rev.Faces() {
		if !slices.ContainsFunc(route.Steps, func(s Step) bool {
			return s.Stage == "coat" && slices.Contains(thisFaces(rev, s), f)
		}) {
			find(Step{Stage: "coat"}, refuse("route-face-uncoated", "face", string(f)))
		}
	}
	return out
}
