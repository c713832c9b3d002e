package intake

import (
	"cmp"
	"fmt"
	"slices"

	"tagalong/internal/core"
)

const maxVersion = 100_000

func (x row) routeRef(version string) core.RouteRef {
	return core.RouteRef{Name: x.key("route"), Version: x.whole(version, 1, maxVersion)}
}

func (r *reader) routes() {
	r.routeAt = map[core.RouteRef]int{}
	steps, firstRow := once{}, map[core.RouteRef]row{}
	for _, x := range r.rows("routes.csv") {
		ref := x.routeRef("version")
		rework := x.yes("rework")
		s := core.Step{
			No:            x.whole("step", 1, 100_000),
			Stage:         core.StageName(x.key("stage")),
			Look:          x.text("look"),
			Face:          core.Face(x.key("face")),
			Colour:        x.key("colour"),
			Place:         x.key("place"),
			Parallel:      x.key("parallel"),
			AfterCoat:     x.yes("after_coat"),
			ValidHours:    x.decimal("valid_hours", 0, 100_000),
			Qualification: x.key("qualification"),
			Minutes:       x.decimal("minutes", 0, 100_000),
			Position:      x.word("position", positions...),
		}
		r.stageKnown(x, "stage", string(s.Stage))
		if ref.Name == "" || ref.Version == 0 || s.No == 0 {
			continue
		}
		if !steps.first(x, "step", fmt.Sprintf("step %d of route %s", s.No, ref), fmt.Sprint(ref, "/", s.No)) {
			continue
		}
		i, ok := r.routeAt[ref]
		if !ok {
			i = len(r.out.Routes)
			r.routeAt[ref], firstRow[ref] = i, x
			r.out.Routes = append(r.out.Routes, core.Route{RouteRef: ref, Rework: rework})
		}
		if r.out.Routes[i].Rework != rework {
			x.fault("rework", yes(rework), fmt.Sprintf("%s, as on line %d of the same route", yes(!rework), firstRow[ref].line))
		}
		r.out.Routes[i].Steps = append(r.out.Routes[i].Steps, s)
	}
	for i := range r.out.Routes {
		slices.SortFunc(r.out.Routes[i].Steps, func(a, b core.Step) int { return cmp.Compare(a.No, b.No) })
	}
	r.checks()
	r.sampling()
	r.keep()
	for _, route := range r.out.Routes {
		if old, ok := r.known.route(route.RouteRef); ok && !same(old, route) {
			again(firstRow[route.RouteRef], "version", "route "+route.String(), "a new version number, because lots keep the version they were born under")
		}
	}
}

// keep leaves the steps of known routes the checks and sampling plans they have,
// where the folder has no file of them.
func (r *reader) keep() {
	checks, plans := r.absent("checks.csv"), r.absent("sampling.csv")
	for i := range r.out.Routes {
		old, known := r.known.route(r.out.Routes[i].RouteRef)
		if !known {
			continue
		}
		for j := range r.out.Routes[i].Steps {
			s := &r.out.Routes[i].Steps[j]
			at := slices.IndexFunc(old.Steps, func(x core.Step) bool { return x.No == s.No })
			if at >= 0 && checks {
				s.Checks = old.Steps[at].Checks
			}
			if at >= 0 && plans {
				s.Sampling = old.Steps[at].Sampling
			}
		}
	}
}

func (r *reader) checks() {
	seen := once{}
	for _, x := range r.rows("checks.csv") {
		ref, no := x.routeRef("version"), x.whole("step", 1, 100_000)
		c := core.Characteristic{
			ID:         x.key("check"),
			Text:       x.text("text"),
			Kind:       core.CharacteristicKind(x.word("kind", string(core.Tick), string(core.Measure))),
			Nominal:    x.limit("nominal"),
			Lower:      x.limit("lower"),
			Upper:      x.limit("upper"),
			Unit:       x.text("unit"),
			Instrument: x.text("instrument"),
			Optional:   x.yes("optional"),
			Source:     x.text("source"),
		}
		judgeLimits(x, c)
		if ref.Name == "" || ref.Version == 0 || no == 0 || c.ID == "" {
			continue
		}
		s := r.stepAt(x, ref, no)
		if s == nil {
			continue
		}
		if seen.first(x, "check", fmt.Sprintf("check %s of step %d of route %s", c.ID, no, ref), fmt.Sprint(ref, "/", no, "/", c.ID)) {
			s.Checks = append(s.Checks, c)
		}
	}
}

// judgeLimits: a measure needs a limit and a unit, in order; a tick has none.
func judgeLimits(x row, c core.Characteristic) {
	limits := []struct {
		name  string
		value *float64
	}{{"nominal", c.Nominal}, {"lower", c.Lower}, {"upper", c.Upper}}
	switch c.Kind {
	case core.Tick:
		for _, l := range limits {
			if l.value != nil {
				x.fault(l.name, "a number for a tick", "nothing, or the kind measure")
			}
		}
	case core.Measure:
		if c.Lower == nil && c.Upper == nil {
			x.fault("lower", "a measure without limits", "a lower limit, an upper limit or both")
		}
		if c.Unit == "" {
			x.fault("unit", "a measure without a unit", "the unit its limits are in, such as mm")
		}
		if c.Lower != nil && c.Upper != nil && *c.Lower > *c.Upper {
			x.fault("lower", "a lower limit above the upper one", "at most "+number(*c.Upper))
		}
		if c.Nominal != nil && !c.Meets(*c.Nominal) {
			x.fault("nominal", "a nominal value outside its limits", "a value between the limits")
		}
	}
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}
