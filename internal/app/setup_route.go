package app

import (
	"fmt"
	"slices"
	"strconv"

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
)

// RouteStep is a step that a typed item's route may have.
type RouteStep struct {
	Stage core.StageName
	When  []Choice // proposed where all of these were chosen; none: only by hand
	Word  string   // in the route's name; empty: none
	Look  string   // what to watch
	Hours int      // how long what it gives lasts; 0: for good
}

func when(c ...Choice) []Choice { return c }

// RouteSteps are the steps to choose from, in the order of work that the rules
// ask: edges before any coat, inspection before what covers the weld. Sixteen
// hours from pretreatment to coat stand for what the supplier's sheet says.
var RouteSteps = []RouteStep{
	{Stage: "cut", When: when(ChosePart), Look: "Nest number on the screen is the nest on the sheet's paper"},
	{Stage: "separate", When: when(ChosePart), Look: "Count against the nest; gloves on, edges are sharp"},
	{Stage: "edge-round", When: when(ChosePart), Word: "ROUND", Look: "Belt of the right metal; both sides"},
	{Stage: "fold", When: when(ChosePart, ChoseFold), Word: "FOLD", Look: "First part off: measure before the rest"},
	{Stage: "assemble", When: when(ChoseAssembly, ChoseBolt), Word: "BOLT", Look: "Whole set here before the start"},
	{Stage: "weld", When: when(ChoseWeld), Word: "WELD", Look: "Set complete, joints clean and dry"},
	{Stage: "weld-dress", Word: "DRESS", Look: "Discs kept for this metal"},
	{Stage: "hand-round", Word: "HAND", Look: "Corners and dressed joints"},
	{Stage: "weld-inspect", When: when(ChoseWeld), Word: "INSPECT", Look: "To the acceptance level on the drawing"},
	{Stage: "drill", Word: "DRILL", Look: "Deburr both sides at the same clamping"},
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
	return len(s.When) > 0 && !slices.ContainsFunc(s.When, func(c Choice) bool { return !slices.Contains(chosen, c) })
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

// typedRoute is the route with these stages: one the shop has, with just these
// steps, or else a new one named after them.
func typedRoute(b *core.Book, stages []core.StageName) (route core.Route, known bool) {
	route.Name = "PART"
	if !slices.Contains(stages, "cut") {
		route.Name = "SET"
	}
	for _, s := range RouteSteps {
		if !slices.Contains(stages, s.Stage) {
			continue
		}
		route.Steps = append(route.Steps, core.Step{No: 10 * (len(route.Steps) + 1), Stage: s.Stage, Look: s.Look, ValidHours: float64(s.Hours)})
		if s.Word != "" {
			route.Name += "-" + s.Word
		}
	}
	return versioned(b, route)
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
	return a.Rework == b.Rework && slices.EqualFunc(a.Steps, b.Steps, func(x, y core.Step) bool {
		return fmt.Sprint(x) == fmt.Sprint(y) // of a typed step, which holds no pointers
	})
}

// routeRows are a route's lines.
func routeRows(r core.Route) []map[string]string {
	var out []map[string]string
	for _, s := range r.Steps {
		out = append(out, map[string]string{
			"route": r.Name, "version": strconv.Itoa(r.Version), "step": strconv.Itoa(s.No), "stage": string(s.Stage), "look": s.Look,
			"valid_hours": someNumber(int(s.ValidHours)),
		})
	}
	return out
}
