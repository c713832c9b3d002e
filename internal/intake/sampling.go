package intake

import (
	"cmp"
	"fmt"
	"slices"

	"tagalong/internal/core"
)

// sampling reads the lines of steps' sampling plans, one a range of lot sizes.
func (r *reader) sampling() {
	seen := once{}
	for _, x := range r.rows("sampling.csv") {
		ref, no := x.routeRef("version"), x.whole("step", 1, 100_000)
		p := core.SampleRow{UpTo: x.whole("up_to", 0, 1_000_000), Size: x.whole("size", 1, 100_000), Accept: x.whole("accept", 0, 100_000),
			Source: x.text("source")}
		if ref.Name == "" || ref.Version == 0 || no == 0 || p.Size == 0 {
			continue
		}
		if p.Accept >= p.Size {
			x.fault("accept", fmt.Sprintf("%d accepted of a sample of %d, which refuses nothing", p.Accept, p.Size), fmt.Sprintf("less than %d", p.Size))
			continue
		}
		s := r.stepAt(x, ref, no)
		if s == nil {
			continue
		}
		if r.known.Book != nil {
			if st, ok := r.known.Book.Table.Stage(s.Stage); ok && st.Mark != core.Inspection {
				x.fault("step", fmt.Sprintf("step %d, which does “%s” and inspects nothing", no, st.Title), "a step that inspects")
				continue
			}
		}
		if seen.first(x, "up_to", fmt.Sprintf("lots of that size at step %d of route %s", no, ref), fmt.Sprint(ref, "/", no, "/", p.UpTo)) {
			s.Sampling = append(s.Sampling, p)
		}
	}
	for i := range r.out.Routes {
		for j := range r.out.Routes[i].Steps {
			slices.SortFunc(r.out.Routes[i].Steps[j].Sampling, func(a, b core.SampleRow) int {
				return cmp.Or(cmp.Compare(endless(a), endless(b)), cmp.Compare(a.UpTo, b.UpTo))
			})
		}
	}
}

// endless puts the line for lots of any size last.
func endless(r core.SampleRow) int {
	if r.UpTo == 0 {
		return 1
	}
	return 0
}

// stepAt finds the step a line is about, and says so where there is none.
func (r *reader) stepAt(x row, ref core.RouteRef, no int) *core.Step {
	i, ok := r.routeAt[ref]
	if !ok {
		if r.sound("routes.csv") {
			x.fault("route", "the unknown route "+ref.String(), "a route of routes.csv in this folder")
		}
		return nil
	}
	at := slices.IndexFunc(r.out.Routes[i].Steps, func(s core.Step) bool { return s.No == no })
	if at < 0 {
		if r.sound("routes.csv") {
			x.fault("step", fmt.Sprintf("step %d, which route %s does not have", no, ref), "a step of that route in routes.csv")
		}
		return nil
	}
	return &r.out.Routes[i].Steps[at]
}
