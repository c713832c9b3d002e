package core

import (
	"slices"
	"strconv"
	"strings"
	"time"
)

// judge says whether a lot may take a stage now, whoever signs. What can hurt
// or spoil for good is told first, then holds, then the order of work, then the
// rest. It returns the step the stage would be.
func (d *deciding) judge(l Lot, stage Stage) (Step, *Refusal) {
	step, next, order := d.stepFor(l, stage)
	at := d.factTime(l, step)
	rev, t := d.w.Book.Items[l.Item], traits(d.w.Book, l, step)

	// What the route does not ask for, or no longer, is no step to be judged.
	if !next && order.Code != "step-skipped" && order.Code != "hold-not-released" {
		return step, order
	}
	if r := d.facts(l, rev, step, stage, t, at, true); r != nil {
		return step, r
	}
	if h, held := d.heldBy(l); held {
		if r := d.stop(refuse("lot-held", "reason", h.Reason, "hold", string(h.ID))); r != nil {
			return step, r
		}
	}
	if !next {
		if r := d.stop(order); r != nil {
			return step, r
		}
	}
	if r := d.facts(l, rev, step, stage, t, at, false); r != nil {
		return step, r
	}
	for _, p := range stage.Predicates {
		if r := d.stop(d.predicate(p, l, step, at)); r != nil {
			return step, r
		}
	}
	return step, stage.lacksCheck(step, t)
}

// lacksCheck refuses a step whose route leaves out a check the stage asks: what
// nobody is asked nobody answers.
func (st Stage) lacksCheck(s Step, t map[Trait]bool) *Refusal {
	for _, a := range st.Asks {
		asked := Condition{If: a.If}.counts(t)
		if asked && !slices.ContainsFunc(s.Checks, func(c Characteristic) bool { return c.ID == a.Characteristic && !c.Optional }) {
			return refuse("check-not-drawn", "check", a.Characteristic, "stage", st.Title)
		}
	}
	return nil
}

// facts judges the needs and forbids of a stage: the absolute ones, or the rest.
func (d *deciding) facts(l Lot, rev Revision, s Step, st Stage, t map[Trait]bool, at time.Time, absolute bool) *Refusal {
	for _, c := range st.Needs {
		if c.Absolute != absolute || !c.counts(t) {
			continue
		}
		if f, v, miss := c.missing(rev, l, s, at); miss {
			r := missingFact(f, v, l.Facts[f], at, d.zone())
			// An unreleased hold point is never passed, by concession or not.
			if r.Absolute = c.Absolute || f.Name == WeldAccepted; d.stop(r) != nil {
				return r
			}
		}
	}
	for _, c := range st.Forbids {
		if c.Absolute != absolute || !c.counts(t) {
			continue
		}
		if f, v, there := c.standing(rev, l, s, at); there {
			r := forbiddenFact(f, v)
			if r.Absolute = c.Absolute; d.stop(r) != nil {
				return r
			}
		}
	}
	return nil
}

// factTime is the instant facts are judged at: when the step was begun, so that
// a lapse counts when coating starts, or when it happened.
func (d *deciding) factTime(l Lot, s Step) time.Time {
	if l.Started != nil && l.Started.Step == s.No {
		return l.Started.At
	}
	return d.at
}

// mayDo says whether the signers may sign a stage on a lot: a person who has
// not left, in a role the stage takes, qualified at the time it happened, and
// not a maker of what they release.
func (d *deciding) mayDo(l Lot, step Step, stage Stage) *Refusal {
	ids := d.signers()
	if len(ids) == 0 {
		return refuse("signature-missing", "stage", stage.Title)
	}
	for _, id := range ids {
		p, ok := d.w.Book.People[id]
		if !ok || p.Left {
			return refuse("person-left", "person", string(id))
		}
	}
	if stage.NotMakerOf != "" {
		for _, id := range ids {
			if slices.Contains(l.Makers[stage.NotMakerOf], id) {
				return refuse("maker-may-not-release", "person", string(id), "work", stage.NotMakerOf).absolute()
			}
		}
	}
	p := d.w.Book.People[ids[0]]
	if len(stage.Roles) > 0 && !p.Is(stage.Roles...) {
		return refuse("role-missing", "person", string(p.ID), "stage", stage.Title, "roles", roleList(stage.Roles))
	}
	process := stage.Qualification
	if step.Qualification != "" {
		process = step.Qualification
	}
	if process == "" {
		return nil
	}
	return d.stop(qualified(p, process, step.Position, d.w.Book.Items[l.Item], d.day()))
}

// day is the shop's calendar day on which it happened.
func (d *deciding) day() Date {
	return DateOf(d.at.In(d.zone()))
}

// zone is the shop's time zone.
func (d *deciding) zone() *time.Location {
	if d.w.Book.Zone == nil {
		return time.UTC
	}
	return d.w.Book.Zone
}

// qualified judges a person for a process on a metal and thickness, in a
// position, on a day.
func qualified(p Person, process, position string, rev Revision, day Date) *Refusal {
	var lapsed, elsewhere *Refusal
	for _, q := range p.Qualifications {
		if q.Process != process || (q.Metal != "" && rev.Metal != "" && q.Metal != rev.Metal) ||
			(q.MaxThickness > 0 && rev.Thickness > q.MaxThickness) {
			continue
		}
		switch {
		case position != "" && len(q.Positions) > 0 && !slices.Contains(q.Positions, position):
			elsewhere = refuse("qualification-position", "person", string(p.ID), "process", process,
				"position", position, "positions", strings.Join(q.Positions, ", "))
		case q.ValidTo.Before(day):
			lapsed = refuse("qualification-lapsed", "person", string(p.ID), "process", process, "on", string(q.ValidTo))
		case q.ConfirmBy.Before(day):
			lapsed = refuse("qualification-unconfirmed", "person", string(p.ID), "process", process, "on", string(q.ConfirmBy))
		default:
			return nil
		}
	}
	if lapsed != nil {
		return lapsed
	}
	if elsewhere != nil {
		return elsewhere
	}
	return refuse("qualification-missing", "person", string(p.ID), "process", process,
		"metal", string(rev.Metal), "thickness", strconv.FormatFloat(rev.Thickness, 'f', -1, 64))
}

func roleList(rs []Role) string {
	var out []string
	for _, r := range rs {
		out = append(out, string(r))
	}
	return strings.Join(out, " or ")
}
