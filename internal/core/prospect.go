package core

import "slices"

// Prospect is what a lot's next step would come to, asked before anybody signs.
type Prospect struct {
	Lot     Lot
	Step    Step
	Stage   Stage
	Rework  bool     // the step is on the lot's rework route
	Here    bool     // the station asked about does this stage
	Refusal *Refusal // what would stop it now, whoever signs; nil: nothing
	Ended   bool     // no step left on its route
}

// NextSteps lists the steps a lot may take next by the order of work alone: the
// first undone one, with those drawn parallel to it. A lot whose route has
// ended has none.
func NextSteps(b *Book, l Lot) []Step {
	route, done := b.Routes[l.Route], l.Done
	if l.Rework != nil {
		route, done = b.Routes[l.Rework.Route], l.Rework.Done
	}
	var out []Step
	for _, s := range route.Steps {
		if slices.Contains(done, s.No) {
			continue
		}
		if len(out) > 0 && (s.Parallel == "" || s.Parallel != out[0].Parallel) {
			break
		}
		out = append(out, s)
	}
	return out
}
