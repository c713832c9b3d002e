package app

import (
	"cmp"
	"context"
	"slices"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// Again is so many of a component that a problem's remake asks for and nobody has
// broken out yet.
type Again struct {
	Qty     int
	Problem core.ProblemID
	Cut     bool          // in its sheet already
	Since   time.Time     // since when the remake is decided; zero where that was not read
	Usual   time.Duration // how long what is cut already usually takes from here; 0 where that is not known
}

// component is where a component is that is not at hand, what it waits for since
// when, and what of its own route is left after that.
func (x needing) component(l core.Lot) Spot {
	ol := orderLot(x.w, l)
	s := x.spot(&ol)
	s.Remake = l.Remake != ""
	if s.Stage != "" {
		s.Since, s.left = inZone(l.Arrived, x.w.Book), stagesLeft(x.w.Book, l)
		s.Then = nounsAfter(x.w.Book, s.left)
	}
	return s
}

// stagesLeft is what a component still goes through, its next step first. Steps
// drawn parallel to the next are among them.
func stagesLeft(b *core.Book, l core.Lot) []core.StageName {
	var left []core.StageName
	add := func(r core.RouteRef, done []int, from int) {
		for _, s := range b.Routes[r].Steps {
			if s.No >= from && !slices.Contains(done, s.No) {
				left = append(left, s.Stage)
			}
		}
	}
	from := 0
	if l.Rework != nil {
		add(l.Rework.Route, l.Rework.Done, 0)
		from = l.Rework.Rejoin
	}
	add(l.Route, l.Done, from)
	return left
}

// nounsAfter names the stages after the first.
func nounsAfter(b *core.Book, left []core.StageName) []string {
	var out []string
	for i, s := range left {
		stage, _ := b.Table.Stage(s)
		if i > 0 && stage.Name != "" {
			out = append(out, stageNoun(stage))
		}
	}
	return out
}

// cutAgain lists the remakes of an item for an order line that are not broken
// out yet.
func cutAgain(s *core.State, owner core.Owner, item core.ItemRev) []Again {
	var out []Again
	for _, n := range s.Nests {
		problem := core.RemakeOf(n.ID)
		if problem == "" || n.Separated {
			continue
		}
		for _, p := range n.Parts {
			if p.Owner == owner && p.Item == item {
				out = append(out, Again{Qty: p.Qty, Problem: problem, Cut: n.Sheet != ""})
			}
		}
	}
	slices.SortFunc(out, func(a, b Again) int { return cmp.Compare(a.Problem, b.Problem) })
	return out
}

// sinceDecided adds to what is to be cut again since when.
func (s *Service) sinceDecided(ctx context.Context, v *BuildView, at core.StationID) error {
	var names core.Names
	for _, l := range v.Lines {
		for _, a := range l.Again {
			names.Problems = append(names.Problems, a.Problem)
		}
	}
	if len(names.Problems) == 0 {
		return nil
	}
	w, err := s.World(ctx, names, at)
	if err != nil {
		return err
	}
	for _, l := range v.Lines {
		for i, a := range l.Again {
			l.Again[i].Since = inZone(w.State.Problems[a.Problem].Closed, w.Book)
		}
	}
	return nil
}

// judgeStart asks what starting on the unit now would come to.
func (v *BuildView) judgeStart(w core.World, st core.Station) {
	if v.Build.Code == "" || !v.Build.Begun.IsZero() || v.Kit() {
		return
	}
	v.Start = core.Decide(w, core.Command{Station: st.ID, Happened: w.Now, Body: core.BeginUnit{Build: v.Build.Code}}).Refusal
	if v.Start != nil {
		v.StartWhy = words.Refusal(v.Start.Code, v.Start.Params)
	}
}
