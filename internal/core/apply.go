package core

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

func compareText(a, b string) int { return strings.Compare(a, b) }

// Apply folds one event into the state. It changes s, but never a value that
// was read out of s before. It fails only on an event that no decision of ours
// makes: parts below zero, a lot in two places, a kind of effect it does not
// know. A rebuild stops there rather than guess.
func Apply(s *State, e Event) error {
	for i, f := range e.Effects {
		if err := s.apply(e, f); err != nil {
			return fmt.Errorf("event %s (%s), effect %d: %w", e.ID, e.Kind, i+1, err)
		}
	}
	return nil
}

func (s *State) apply(e Event, f Effect) error {
	switch {
	case f.PalletPut != nil:
		s.Pallets[f.PalletPut.Code] = *f.PalletPut
	case f.BuildPut != nil:
		s.Builds[f.BuildPut.Code] = *f.BuildPut
	case f.ConsignmentPut != nil:
		s.Consignments[f.ConsignmentPut.Code] = *f.ConsignmentPut
	case f.HoldPut != nil:
		s.Holds[f.HoldPut.ID] = *f.HoldPut
	case f.ProblemPut != nil:
		s.Problems[f.ProblemPut.ID] = *f.ProblemPut
	case f.SnagPut != nil:
		s.Snags[f.SnagPut.ID] = *f.SnagPut
	case f.AbrasivePut != nil:
		s.Abrasives[f.AbrasivePut.ID] = *f.AbrasivePut
	case f.OrderPut != nil:
		s.Orders[f.OrderPut.No] = *f.OrderPut
	case f.NestPut != nil:
		s.Nests[f.NestPut.ID] = *f.NestPut
	case f.LotBorn != nil:
		return s.bear(*f.LotBorn)
	case f.LotSplit != nil:
		return s.split(*f.LotSplit)
	case f.Moved != nil:
		return s.move(*f.Moved)
	default:
		return s.applyToLot(e, f)
	}
	return nil
}

func (s *State) bear(l Lot) error {
	if _, there := s.Lots[l.ID]; there {
		return fmt.Errorf("lot %s is born twice", l.ID)
	}
	if l.Qty != 0 {
		return fmt.Errorf("lot %s is born with %d parts; only a move may bring them", l.ID, l.Qty)
	}
	s.Lots[l.ID] = l
	return nil
}

func (s *State) split(x LotSplit) error {
	l, ok := s.Lots[x.Of]
	if !ok {
		return fmt.Errorf("lot %s is split off lot %s, which is not known", x.Lot, x.Of)
	}
	l.ID, l.Qty, l.Lost = x.Lot, 0, 0
	l.Parents = union(l.Parents, x.Of)
	return s.bear(l)
}

func (s *State) move(m Move) error {
	l, ok := s.Lots[m.Lot]
	switch {
	case !ok:
		return fmt.Errorf("lot %s is not known", m.Lot)
	case m.Qty <= 0:
		return fmt.Errorf("lot %s moves %d parts", m.Lot, m.Qty)
	case m.From == m.To:
		return fmt.Errorf("lot %s moves from %s to itself", m.Lot, m.From)
	}
	if m.From.Kind.Holds() {
		if l.Place != m.From {
			return fmt.Errorf("lot %s is at %s, not at %s", m.Lot, l.Place, m.From)
		}
		if l.Qty < m.Qty {
			return fmt.Errorf("lot %s holds %d parts, so %d can't leave", m.Lot, l.Qty, m.Qty)
		}
		l.Qty -= m.Qty
	}
	if m.To.Kind.Holds() {
		if l.Qty > 0 && l.Place != m.To {
			return fmt.Errorf("lot %s would be at %s and at %s", m.Lot, l.Place, m.To)
		}
		l.Place = m.To
		l.Qty += m.Qty
	} else if l.Qty == 0 {
		l.Place = m.To
	}
	switch {
	case m.From.Kind == OnPallet && m.To.Kind == InConsignment:
		l.Box = PalletCode(m.From.Ref)
	case m.To.Kind == OnPallet || m.To.Kind == InBuild || m.To.Kind == Inside:
		l.Box = ""
	}
	switch {
	case m.To.Kind == Unexplained:
		l.Lost += m.Qty
	case m.From.Kind == Unexplained:
		l.Lost = max(0, l.Lost-m.Qty)
	}
	s.Lots[m.Lot] = l
	return nil
}

// applyToLot handles the effects that change a lot otherwise than by a move.
func (s *State) applyToLot(e Event, f Effect) error {
	id := f.Lot()
	l, ok := s.Lots[id]
	if !ok {
		if id == "" {
			return fmt.Errorf("an effect this version does not know")
		}
		return fmt.Errorf("lot %s is not known", id)
	}
	switch {
	case f.Given != nil:
		l.Facts = maps.Clone(l.Facts)
		if l.Facts == nil {
			l.Facts = Facts{}
		}
		g := f.Given
		l.Facts[g.Fact] = Standing{Value: g.Value, By: e.ID, Relied: g.Relied, Lapses: g.Lapses, Note: g.Note}
	case f.Cleared != nil:
		l.Facts = maps.Clone(l.Facts)
		delete(l.Facts, f.Cleared.Fact)
	case f.StepDone != nil:
		if l.Rework != nil {
			r := *l.Rework
			r.Done = withStep(r.Done, f.StepDone.Step)
			l.Rework = &r
		} else {
			l.Done = withStep(l.Done, f.StepDone.Step)
		}
		l.Started, l.Arrived = nil, f.StepDone.At
	case f.StepsUndone != nil:
		later := func(n int) bool { return n >= f.StepsUndone.From }
		if l.Rework != nil {
			r := *l.Rework
			r.Done = slices.DeleteFunc(slices.Clone(r.Done), later)
			l.Rework = &r
		} else {
			l.Done = slices.DeleteFunc(slices.Clone(l.Done), later)
		}
		l.Started = nil
	case f.StepBegun != nil:
		b := f.StepBegun.Started
		l.Started = &b
	case f.StepLeft != nil:
		l.Started = nil
	case f.SentToRework != nil:
		r := f.SentToRework.Rework
		l.Rework, l.Started = &r, nil
	case f.Rejoined != nil:
		l.Rework = nil
	case f.MadeBy != nil:
		l.Makers = maps.Clone(l.Makers)
		if l.Makers == nil {
			l.Makers = map[string][]PersonID{}
		}
		l.Makers[f.MadeBy.Work] = union(l.Makers[f.MadeBy.Work], f.MadeBy.Person)
	case f.BatchUsed != nil:
		l.Batches = union(l.Batches, f.BatchUsed.Batch)
	case f.Gauged != nil:
		l.Gauges = maps.Clone(l.Gauges)
		if l.Gauges == nil {
			l.Gauges = map[string]time.Time{}
		}
		l.Gauges[f.Gauged.Instrument] = f.Gauged.At
	case f.Joined != nil:
		j := f.Joined
		l.Parents, l.Heats, l.Sheets = union(l.Parents, j.Parents...), union(l.Heats, j.Heats...), union(l.Sheets, j.Sheets...)
		l.Batches, l.Gauges, l.Expires = union(l.Batches, j.Batches...), laterOf(l.Gauges, j.Gauges), earlier(l.Expires, j.Expires)
		if l.Rework != nil && len(l.Rework.Change) > 0 { // changed
			r := *l.Rework
			r.Change = nil
			l.Rework = &r
		}
	case f.LotPresented != nil:
		l.Presented = f.LotPresented.Presented
	case f.Baked != nil:
		l.Bakes++
	case f.OvercoatAllowed != nil:
		l.Overcoat = slices.Clone(f.OvercoatAllowed.Faces)
	}
	s.Lots[id] = l
	return nil
}

// Lot is the lot an effect changes; empty for effects on other rows.
func (f Effect) Lot() LotID {
	switch {
	case f.LotBorn != nil:
		return f.LotBorn.ID
	case f.LotSplit != nil:
		return f.LotSplit.Lot
	case f.Moved != nil:
		return f.Moved.Lot
	case f.Given != nil:
		return f.Given.Lot
	case f.Cleared != nil:
		return f.Cleared.Lot
	case f.StepDone != nil:
		return f.StepDone.Lot
	case f.StepsUndone != nil:
		return f.StepsUndone.Lot
	case f.StepBegun != nil:
		return f.StepBegun.Lot
	case f.StepLeft != nil:
		return f.StepLeft.Lot
	case f.SentToRework != nil:
		return f.SentToRework.Lot
	case f.Rejoined != nil:
		return f.Rejoined.Lot
	case f.MadeBy != nil:
		return f.MadeBy.Lot
	case f.BatchUsed != nil:
		return f.BatchUsed.Lot
	case f.Gauged != nil:
		return f.Gauged.Lot
	case f.Joined != nil:
		return f.Joined.Lot
	case f.LotPresented != nil:
		return f.LotPresented.Lot
	case f.Baked != nil:
		return f.Baked.Lot
	case f.OvercoatAllowed != nil:
		return f.OvercoatAllowed.Lot
	}
	return ""
}

func withStep(done []int, no int) []int {
	if slices.Contains(done, no) {
		return done
	}
	out := append(slices.Clone(done), no)
	slices.Sort(out)
	return out
}

// union adds what is missing, keeping order; the slice given is not changed.
func union[T comparable](have []T, more ...T) []T {
	out := slices.Clone(have)
	for _, m := range more {
		if !slices.Contains(out, m) {
			out = append(out, m)
		}
	}
	return out
}
