package paperwork

import (
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/paper"
)

func (f *filler) lot(l core.Lot, line core.PrintLine) paper.Lot {
	rev := f.w.Book.Items[line.Item]
	out := paper.Lot{
		Item: string(line.Item.Item), Name: rev.Name, Revision: line.Item.Rev, Order: l.Owner.Order, Customer: "stock",
		Count: line.Qty, Metal: metal(rev), MassEachKg: app.MassEach(rev), Sheets: sheets(l), Outline: outline(rev),
		CutHazard: rev.EdgesAsCut, Promised: l.Promised.Time(f.zone),
	}
	if l.For != "" {
		out.Customer = "for unit " + string(l.For)
	}
	if !l.Owner.Stock() {
		out.Line, out.Customer = strconv.Itoa(l.Owner.Line), f.w.State.Orders[l.Owner.Order].Customer
	}
	if rev.Hand != "" {
		out.HandMarking = rev.Hand + " hand"
	}
	for _, x := range rev.Finish {
		face := string(x.Face)
		if face == "all" {
			face = "all faces"
		}
		out.Finish = append(out.Finish, paper.Finish{Face: face, Finish: x.Colour})
	}
	for _, h := range f.open(func(h core.Hold) bool { return h.Scope != core.HoldPallet && stops(h, l) }) {
		out.Holds = append(out.Holds, f.hold(h))
	}
	past := newPast(l, f.past[l.ID])
	out.Steps = f.steps(l, line.Route, past)
	for _, e := range past.waived {
		c := paper.Concession{Number: strconv.FormatInt(e.Seq, 10)}
		for _, s := range e.Signed {
			c.Signers = append(c.Signers, f.name(s.Person))
		}
		for _, x := range e.Waived {
			c.Reason = x.Code + ": " + x.Reason
			out.Concessions = append(out.Concessions, c)
		}
	}
	return out
}

// steps lists a lot's route; a rework stands where the lot will join again.
func (f *filler) steps(l core.Lot, main core.RouteRef, past past) []paper.Step {
	next := core.NextSteps(f.w.Book, l)
	standsBefore := func(s core.Step) bool { return len(next) > 0 && next[0].No == s.No }
	var out []paper.Step
	for _, s := range f.w.Book.Routes[main].Steps {
		if l.Rework != nil && s.No == l.Rework.Rejoin {
			for _, r := range f.w.Book.Routes[l.Rework.Route].Steps {
				done := contains(l.Rework.Done, r.No)
				step := f.step(r, done, !done && standsBefore(r), past)
				step.Stage = "rework: " + step.Stage
				out = append(out, step)
			}
		}
		done := l.DoneStep(s.No)
		out = append(out, f.step(s, done, l.Rework == nil && !done && standsBefore(s), past))
	}
	return out
}

func (f *filler) step(s core.Step, done, next bool, past past) paper.Step {
	stage, ok := f.w.Book.Table.Stage(s.Stage)
	title := stage.Title
	if !ok || title == "" {
		title = string(s.Stage)
	}
	out := paper.Step{Kind: kinds[stage.Mark], Stage: title + where(s), LookAt: look(s), Done: done, Next: next,
		HoldPoint: stage.Hold, NotTheWelder: stage.NotMakerOf == "weld"}
	if !done {
		return out
	}
	if e, count, ok := past.signed(s); ok {
		out.At, out.Good, out.NotGood = e.Happened.In(f.zone), count.Good, count.Bad
		if len(e.Signed) > 0 {
			out.SignedBy = f.name(e.Signed[0].Person)
		}
	}
	return out
}

// where is the face, colour or place a step is about.
func where(s core.Step) string {
	switch {
	case s.Face != "" && s.Colour != "":
		return ": " + s.Colour + ", " + string(s.Face)
	case s.Face != "":
		return ": " + string(s.Face)
	case s.Place != "":
		return ": " + s.Place
	}
	return ""
}

// look is what to look at: the drawing's words, then what is measured.
func look(s core.Step) string {
	out := s.Watch()
	for _, c := range s.Checks {
		if c.Kind != core.Measure {
			continue
		}
		if out != "" {
			out += "; "
		}
		out += c.Text + " " + app.LimitText(c)
	}
	return out
}

var kinds = map[core.Mark]paper.StepKind{
	core.Operation: paper.Operation, core.Inspection: paper.Inspection, core.Transport: paper.Transport, core.Storage: paper.Storage,
}

func metal(r core.Revision) paper.Metal {
	families := map[core.Metal]paper.MetalFamily{
		core.Aluminium: paper.Aluminium, core.Stainless: paper.StainlessSteel, core.Steel: paper.CarbonSteel,
	}
	grade := r.Grade
	if grade == "" {
		grade = string(r.Metal)
	}
	return paper.Metal{Grade: grade, Family: families[r.Metal], ThicknessMM: r.Thickness}
}

// sheets pairs the sheets a lot was cut from with their heats where each has
// its own; else it lists both.
func sheets(l core.Lot) []paper.Sheet {
	var out []paper.Sheet
	for i, s := range l.Sheets {
		x := paper.Sheet{Code: s}
		switch {
		case len(l.Heats) == 1:
			x.Heat = l.Heats[0]
		case len(l.Heats) == len(l.Sheets):
			x.Heat = l.Heats[i]
		}
		out = append(out, x)
	}
	if len(l.Heats) > 1 && len(l.Heats) != len(l.Sheets) || len(l.Sheets) == 0 {
		for _, h := range l.Heats {
			out = append(out, paper.Sheet{Code: "heat " + h})
		}
	}
	return out
}

// outline closes every polyline of a flat pattern.
func outline(r core.Revision) paper.Outline {
	var out paper.Outline
	for _, line := range r.Outline {
		var path []paper.Point
		for i := 0; i+1 < len(line); i += 2 {
			path = append(path, paper.Point{X: line[i], Y: line[i+1]})
		}
		if len(path) > 1 {
			out.Paths = append(out.Paths, append(path, path[0]))
		}
	}
	return out
}

func contains(list []int, n int) bool {
	for _, x := range list {
		if x == n {
			return true
		}
	}
	return false
}
