package core

import (
	"slices"
	"time"
)

// perform writes what a stage does to a lot: what it clears, what it gives and
// what that relied on, its makers and batches, the step done, and the way back
// to the main route where a rework ends.
func (d *deciding) perform(l Lot, step Step, stage Stage, given []CheckReading) {
	rev, t, at := d.w.Book.Items[l.Item], traits(d.w.Book, l, step), d.at
	relied := reliedOn(stage, rev, l, step, t, d.factTime(l, step))

	var gives []FactGiven
	for _, c := range stage.Gives {
		if !c.counts(t) {
			continue
		}
		for _, f := range c.facts(rev, l, step, at) {
			g := FactGiven{Lot: l.ID, Fact: f, Value: Yes, Relied: relied, Note: d.coatNote(rev, step, f), Was: standingOf(l, f)}
			if step.ValidHours > 0 {
				g.Lapses = at.Add(time.Duration(step.ValidHours * float64(time.Hour)))
			}
			gives = append(gives, g)
		}
	}
	for _, c := range stage.Clears {
		if !c.counts(t) || (c.UnlessCheck != "" && checkMet(given, c.UnlessCheck)) {
			continue
		}
		for _, f := range c.facts(rev, l, step, at) {
			if was := standingOf(l, f); was != nil {
				d.emit(Effect{Cleared: &FactCleared{Lot: l.ID, Fact: f, Was: was}})
			}
		}
	}
	for _, g := range gives {
		d.emit(Effect{Given: &g})
	}
	d.overcoated(l, gives)
	if stage.Work != "" {
		for _, p := range d.signers() {
			d.emit(Effect{MadeBy: &MadeBy{l.ID, stage.Work, p}})
		}
	}
	for _, b := range d.inputs {
		d.emit(Effect{BatchUsed: &BatchUsed{l.ID, b.Batch}})
	}
	if slices.Contains(stage.Predicates, BakesLeft) {
		d.emit(Effect{Baked: &LotOnly{Lot: l.ID}})
	}
	if stage.Abrades {
		d.touch(rev.Metal)
	}
	d.emit(Effect{StepDone: &StepMark{l.ID, step.No, d.w.Now}})
	d.rejoin(l.ID)
}

// overcoated uses a disposition's leave up: it lets a face be coated over once.
func (d *deciding) overcoated(l Lot, gives []FactGiven) {
	left := slices.DeleteFunc(slices.Clone(l.Overcoat), func(f Face) bool {
		return slices.ContainsFunc(gives, func(g FactGiven) bool { return g.Fact == Fact{Coated, string(f)} })
	})
	if len(left) < len(l.Overcoat) {
		d.emit(Effect{OvercoatAllowed: &OvercoatAllowed{l.ID, left, l.Overcoat}})
	}
}

// rejoin ends a rework whose route is done: the lot is back on its main route,
// where the step it joins at and every later one stand undone.
func (d *deciding) rejoin(id LotID) {
	l := d.s.Lots[id]
	if l.Rework == nil || len(NextSteps(d.w.Book, l)) > 0 {
		return
	}
	from := l.Rework.Rejoin
	d.emit(Effect{Rejoined: &LotOnly{Lot: id, At: d.w.Now}}, Effect{StepsUndone: &StepsUndone{id, from}})
}

// touch notes, for life, that the mounted abrasive met a metal.
func (d *deciding) touch(m Metal) {
	a, ok := d.abrasive()
	if !ok || m == "" || slices.Contains(a.Touched, m) {
		return
	}
	a.Touched = union(a.Touched, m)
	d.emit(Effect{AbrasivePut: &a})
}

// reliedOn lists the facts a stage's needs leaned on; a correction of one of
// them takes back what this step gave.
func reliedOn(st Stage, rev Revision, l Lot, s Step, t map[Trait]bool, at time.Time) []Fact {
	var out []Fact
	for _, c := range st.Needs {
		if c.counts(t) {
			out = append(out, c.facts(rev, l, s, at)...)
		}
	}
	return out
}

// coatNote is what a coat remembers: its colour and powder batch.
func (d *deciding) coatNote(rev Revision, s Step, f Fact) string {
	if f.Name != Coated {
		return ""
	}
	return stepColour(rev, s) + ", batch " + d.batchOf("powder")
}

func standingOf(l Lot, f Fact) *Standing {
	if s, ok := l.Facts[f]; ok {
		return &s
	}
	return nil
}

func checkMet(given []CheckReading, id string) bool {
	return slices.ContainsFunc(given, func(g CheckReading) bool { return g.Characteristic == id && g.Met })
}
