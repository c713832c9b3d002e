package app

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
)

// Choice is something chosen of an item from which its route is proposed.
type Choice string

// The choices. Some exclude each other: an item is a part or an assembly, bare
// or coated, goes out by itself or into an assembly.
const (
	ChosePart     Choice = "part"
	ChoseAssembly Choice = "assembly"
	ChoseFold     Choice = "fold"
	ChoseWeld     Choice = "weld"
	ChoseBolt     Choice = "bolt" // an assembly that is not welded
	ChoseCoat     Choice = "coat"
	ChoseBare     Choice = "bare"
	ChoseOwn      Choice = "own" // goes out by itself, not into an assembly

	ChoseFoldFirst Choice = "fold-first" // folded before its edges are rounded
	ChoseAsCut     Choice = "as-cut"     // edges stay as cut
)

// RouteStep is a step that a typed item's route may have.
type RouteStep struct {
	Stage core.StageName
	When  []Choice            // proposed where all of these were chosen; none: only by hand
	But   []Choice            // and none of these
	Word  string              // in the route's name; empty: none
	Look  string              // what to watch
	Hours int                 // how long what it gives lasts; 0: for good
	Check core.Characteristic // that the rules ask of every such step; zero: none
}

func when(c ...Choice) []Choice { return c }

// RouteSteps are the steps to choose from, in the order of work that the rules
// ask: edges before any coat, inspection before what covers the weld. Sixteen
// hours from pretreatment to coat stand for what the supplier's sheet says.
var RouteSteps = []RouteStep{
	{Stage: "cut", When: when(ChosePart), Look: "Nest number on the screen is the nest on the sheet's paper"},
	{Stage: "separate", When: when(ChosePart), Look: "Count against the nest; gloves on, edges are sharp"},
	{Stage: "edge-round", When: when(ChosePart), But: when(ChoseFoldFirst, ChoseAsCut), Word: "ROUND", Look: "Belt of the right metal; both sides"},
	{Stage: "fold", When: when(ChosePart, ChoseFold), Word: "FOLD", Look: "First part off: measure before the rest"},
	{Stage: "assemble", When: when(ChoseAssembly, ChoseBolt), Word: "BOLT", Look: "Whole set here before the start"},
	{Stage: "weld", When: when(ChoseWeld), Word: "WELD", Look: "Set complete, joints clean and dry"},
	{Stage: "weld-dress", Word: "DRESS", Look: "Discs kept for this metal"},
	{Stage: "hand-round", When: when(ChoseFoldFirst), Word: "HAND", Look: "Corners and dressed joints"},
	{Stage: "weld-inspect", When: when(ChoseWeld), Word: "INSPECT", Look: "To the acceptance level on the drawing"},
	{Stage: "drill", Word: "DRILL", Look: "Deburr both sides at the same clamping",
		Check: core.Characteristic{ID: "holes-deburred", Text: "Holes deburred both sides", Kind: core.Tick}},
	{Stage: "tap", Word: "TAP", Look: "Straight; clear the chips"},
	{Stage: "rivet-nut", Word: "NUTS", Look: "Pull one to the stop before the rest"},
	{Stage: "rivet", Word: "RIVET", Look: "Heads flat, none loose"},
	{Stage: "pretreat", When: when(ChoseCoat), Look: "Rinse water clear; no dry spots", Hours: 16},
	{Stage: "coat", When: when(ChoseCoat), Word: "COAT", Look: "Check the batch and colour on the box"},
	{Stage: "cure", When: when(ChoseCoat), Look: "Hot: part temperature, not oven temperature"},
	{Stage: "coat-inspect", When: when(ChoseCoat), Look: "Every coated face, under good light"},
	{Stage: "final-check", When: when(ChoseBare, ChoseOwn), Word: "BARE", Look: "Right item, right count, nothing sharp"},
	{Stage: "pack", When: when(ChoseOwn), Word: "PACK", Look: "Paper between faces; mass on the label"},
}

// Proposed reports whether a step is proposed for what was chosen.
func (s RouteStep) Proposed(chosen []Choice) bool {
	has := func(c Choice) bool { return slices.Contains(chosen, c) }
	return len(s.When) > 0 && !slices.ContainsFunc(s.When, func(c Choice) bool { return !has(c) }) && !slices.ContainsFunc(s.But, has)
}

// ProposeRoute is the stages proposed for what was chosen.
func ProposeRoute(chosen []Choice) []core.StageName {
	var out []core.StageName
	for _, s := range RouteSteps {
		if s.Proposed(chosen) {
			out = append(out, s.Stage)
		}
	}
	return out
}

// route is the typed item's route: one the shop has, with just these steps, or
// else a new one. It is named after its steps; where checks or masked places
// are the drawing's own, after the item.
func (t TypedItem) route(b *core.Book) (route core.Route, known bool) {
	if len(t.Checks)+len(t.Samples)+len(t.Finish.Places) > 0 && strings.TrimSpace(t.Item) != "" {
		route.Name = strings.Join(strings.Fields(t.Item), " ")
	} else {
		route.Name = t.routeName()
	}
	for _, s := range t.work() {
		s.No = 10 * (len(route.Steps) + 1)
		route.Steps = append(route.Steps, s)
	}
	return versioned(b, route)
}

func (t TypedItem) routeName() string {
	out := []string{"PART"}
	if !slices.Contains(t.Steps, "cut") {
		out = []string{"SET"}
	}
	if t.asCut() {
		out = append(out, "AS-CUT")
	}
	for _, s := range t.ordered() {
		if s.Word == "" {
			continue
		}
		out = append(out, s.Word)
		if s.Stage == "coat" {
			out = append(out, t.Finish.word()...)
		}
	}
	return strings.Join(out, "-")
}

// ordered are the steps ticked, in the order of work. Where a part is folded
// first, its edges are rounded as soon as it is; dressed welds want it again.
func (t TypedItem) ordered() []RouteStep {
	var out []RouteStep
	var hand RouteStep
	ticked := func(n core.StageName) bool { return slices.Contains(t.Steps, n) }
	for _, s := range RouteSteps {
		if s.Stage == "hand-round" {
			hand = s
		}
	}
	early := t.foldsFirst() && ticked("fold") && ticked("hand-round")
	for _, s := range RouteSteps {
		if !ticked(s.Stage) || s.Stage == "hand-round" && early && !ticked("weld-dress") {
			continue
		}
		out = append(out, s)
		if s.Stage == "fold" && early {
			out = append(out, hand)
		}
	}
	return out
}

// work is what is done, step by step: what was ticked, with the masking that the
// colours and places ask, and every check. The steps have no numbers yet.
func (t TypedItem) work() []core.Step {
	var out []core.Step
	masked := false
	mask := func() {
		if !masked {
			out = append(out, t.Finish.masking()...)
		}
		masked = true
	}
	coats := slices.Contains(t.Steps, "coat")
	for _, s := range t.ordered() {
		switch {
		case s.Stage == "pretreat" && coats:
			mask()
			out = append(out, s.step())
		case s.Stage == "coat":
			mask()
			out = append(out, t.Finish.coats(s.step(), t.cure())...)
			out = append(out, t.Finish.unmasking()...)
		case s.Stage == "cure" && coats: // it follows each coat
		default:
			out = append(out, s.step())
		}
	}
	for i := range out {
		out[i].Checks, out[i].Sampling = t.checksAt(out[i].Stage), t.samplesAt(out[i].Stage)
	}
	return out
}

// cure is the step after each coat; none where it was not ticked.
func (t TypedItem) cure() []core.Step {
	for _, s := range RouteSteps {
		if s.Stage == "cure" && slices.Contains(t.Steps, s.Stage) {
			return []core.Step{s.step()}
		}
	}
	return nil
}

func (s RouteStep) step() core.Step {
	return core.Step{Stage: s.Stage, Look: s.Look, ValidHours: float64(s.Hours)}
}

// versioned gives a route the first version under which the shop has it just
// so, or none at all.
func versioned(b *core.Book, route core.Route) (core.Route, bool) {
	for route.Version = 1; ; route.Version++ {
		old, there := b.Routes[route.RouteRef]
		if !there || sameSteps(old, route) {
			return route, there
		}
	}
}

func sameSteps(a, b core.Route) bool {
	if a.Rework != b.Rework || len(a.Steps) != len(b.Steps) {
		return false
	}
	x, errX := json.Marshal(a.Steps) // limits are pointers: it is their numbers that count
	y, errY := json.Marshal(b.Steps)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}

// routeRows are a route's lines.
func routeRows(r core.Route) []map[string]string {
	var out []map[string]string
	for _, s := range r.Steps {
		out = append(out, map[string]string{
			"route": r.Name, "version": strconv.Itoa(r.Version), "step": strconv.Itoa(s.No), "stage": string(s.Stage), "look": s.Look,
			"face": string(s.Face), "place": s.Place, "valid_hours": someNumber(int(s.ValidHours)),
		})
	}
	return out
}
