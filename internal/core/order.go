package core

import (
	"slices"
	"time"
)

// stepFor finds the step of the lot's route that a stage would be. next is
// whether the order of work lets it be now; if not, order says why.
func (d *deciding) stepFor(l Lot, stage Stage) (step Step, next bool, order *Refusal) {
	step, next, order = d.stepOnRoute(l, stage)
	return d.stepOf(l, step), next, order
}

// stepOnRoute is the step as the route draws it.
func (d *deciding) stepOnRoute(l Lot, stage Stage) (step Step, next bool, order *Refusal) {
	steps := NextSteps(d.w.Book, l)
	for _, s := range steps {
		if s.Stage == stage.Name {
			return s, true, nil
		}
	}
	route, done := UnderWay(d.w.Book, l)
	passes := false // an undone hold point lies before the step: no concession goes round it
	for _, s := range route.Steps {
		if slices.Contains(done, s.No) {
			continue
		}
		if s.Stage == stage.Name {
			code := "step-skipped"
			if first, _ := d.w.Book.Table.Stage(steps[0].Stage); first.Hold {
				code = "hold-not-released"
			}
			r := refuse(code, "first", d.stageTitle(steps[0].Stage), "stage", stage.Title)
			r.Absolute = passes
			return s, false, r
		}
		st, _ := d.w.Book.Table.Stage(s.Stage)
		passes = passes || st.Hold
	}
	for _, s := range route.Steps {
		if s.Stage == stage.Name && doubted(d.w.Book, l, s, d.at) {
			return s, true, nil // redoing a step settles what is unsure of it
		}
	}
	for _, s := range route.Steps {
		if s.Stage == stage.Name {
			return s, false, refuse("step-done", "stage", stage.Title, "next", d.nextTitle(steps))
		}
	}
	return Step{Stage: stage.Name}, false, refuse("stage-not-on-route", "stage", stage.Title, "next", d.nextTitle(steps))
}

// doubted reports whether a fact that the step gives is unsure, or has lapsed.
func doubted(b *Book, l Lot, s Step, at time.Time) bool {
	stage, ok := b.Table.Stage(s.Stage)
	if !ok {
		return false
	}
	rev, t := b.Items[l.Item], traits(b, l, s)
	for _, c := range stage.Gives {
		for _, f := range c.facts(rev, l, s, at) {
			if c.counts(t) && (l.Facts.At(f, at) == Unsure || l.Facts.Lapsed(f, at)) {
				return true
			}
		}
	}
	return false
}

// ToRedo lists the steps a lot has done that may be done again, because what
// they gave is unsure or has lapsed.
func ToRedo(b *Book, l Lot, at time.Time) []Step {
	route, done := UnderWay(b, l)
	var out []Step
	for _, s := range route.Steps {
		if slices.Contains(done, s.No) && doubted(b, l, s, at) {
			out = append(out, s)
		}
	}
	return out
}

// toRedo is such a step that the station does.
func (d *deciding) toRedo(s Station, l Lot) (Step, bool) {
	for _, step := range ToRedo(d.w.Book, l, d.at) {
		if s.Does(step.Stage) {
			return step, true
		}
	}
	return Step{}, false
}

func (d *deciding) stageTitle(n StageName) string {
	if s, ok := d.w.Book.Table.Stage(n); ok {
		return s.Title
	}
	return string(n)
}

// nextTitle names what the lot waits for instead.
func (d *deciding) nextTitle(steps []Step) string {
	if len(steps) == 0 {
		return "the end of the route"
	}
	return d.stageTitle(steps[0].Stage)
}
