package core

import "strconv"

// SampleRow is one line of a step's sampling plan: of a lot of up to UpTo parts,
// Size are looked at, and the lot passes with no more than Accept bad ones among
// them. The plan's numbers come from a standard or the drawing; a shop's route
// says which.
type SampleRow struct {
	UpTo   int    `json:"upTo,omitempty"` // 0: however many
	Size   int    `json:"size"`
	Accept int    `json:"accept"`
	Source string `json:"source,omitempty"` // such as a standard's table and level
}

// Presented is a lot waiting to be judged by sample: the plan was fixed by its
// count when it was presented, and no split makes it smaller.
type Presented struct {
	Step   int `json:"step"`
	Of     int `json:"of"` // parts in the lot
	Size   int `json:"size"`
	Accept int `json:"accept"`
}

// LotPresented fixes a lot's plan, or ends it where Presented is nil.
type LotPresented struct {
	Lot       LotID      `json:"lot"`
	Presented *Presented `json:"presented,omitempty"`
}

// Plan is the line of the step's sampling plan for a lot of so many parts; false
// where every part is looked at.
func (s Step) Plan(count int) (SampleRow, bool) {
	for _, r := range s.Sampling {
		if r.UpTo == 0 || count <= r.UpTo {
			r.Size = min(r.Size, count)
			return r, true
		}
	}
	return SampleRow{}, false
}

// PlanOf is the plan a lot is judged by at a step: the one fixed when it was
// presented, else the one its count would fix now.
func PlanOf(l Lot, s Step) (Presented, bool) {
	if p := l.Presented; p != nil && p.Step == s.No {
		return *p, true
	}
	r, ok := s.Plan(l.Qty)
	return Presented{Step: s.No, Of: l.Qty, Size: r.Size, Accept: r.Accept}, ok
}

// present fixes the plan of every lot that comes to a station to be judged by
// sample there.
func (d *deciding) present(s Station, lots []Lot) {
	for _, l := range lots {
		for _, step := range NextSteps(d.w.Book, l) {
			if p, ok := PlanOf(l, step); ok && l.Presented == nil && s.Does(step.Stage) {
				d.emit(Effect{LotPresented: &LotPresented{l.ID, &p}})
			}
		}
	}
}

// whole refuses to take parts off a lot that waits to be judged by sample: what
// is split off would escape a sample that fails.
func (d *deciding) whole(l Lot, qty int) *Refusal {
	if qty == l.Qty {
		return nil
	}
	return d.presented(l)
}

// presented refuses what would change a lot that waits to be judged by sample.
func (d *deciding) presented(l Lot) *Refusal {
	if l.Presented == nil {
		return nil
	}
	return d.stop(refuse("sample-waits", "size", strconv.Itoa(l.Presented.Size), "of", strconv.Itoa(l.Presented.Of)))
}

// sampled judges the numbers of a sample: enough parts looked at, the bad ones
// among them, and none left for later.
func (d *deciding) sampled(l Lot, step Step, w LotWork) *Refusal {
	p, ok := PlanOf(l, step)
	switch {
	case !ok && w.Looked != 0 && w.Looked != l.Qty:
		return refuse("sample-none", "looked", strconv.Itoa(w.Looked))
	case !ok:
		return nil
	case w.NotDone > 0:
		return refuse("sample-whole", "notDone", strconv.Itoa(w.NotDone))
	case w.Looked < min(p.Size, l.Qty) || w.Looked > l.Qty:
		return refuse("sample-short", "looked", strconv.Itoa(w.Looked), "size", strconv.Itoa(min(p.Size, l.Qty)), "of", strconv.Itoa(p.Of))
	case w.Bad > w.Looked:
		return refuse("sample-bad", "bad", strconv.Itoa(w.Bad), "looked", strconv.Itoa(w.Looked))
	}
	return nil
}

// refusedBySample reports whether the sample holds more bad parts than its plan
// accepts.
func refusedBySample(w lotStep) bool {
	p, ok := PlanOf(w.lot, w.step)
	return ok && w.work.Bad > p.Accept
}

// judgedBySample ends a presentation.
func (d *deciding) judgedBySample(id LotID) {
	if d.s.Lots[id].Presented != nil {
		d.emit(Effect{LotPresented: &LotPresented{Lot: id}})
	}
}

// failSample refuses a lot by its sample: the bad parts go to quarantine, the
// rest is held until every part of it was judged.
func (d *deciding) failSample(stage Stage, w lotStep) *Refusal {
	l, bad := d.s.Lots[w.lot.ID], w.work.Bad
	p, _ := PlanOf(w.lot, w.step)
	if bad < l.Qty {
		to, r := d.quarantine()
		if r != nil {
			return r
		}
		d.found(d.split(l, bad, On(to)), stage, w.work.Why)
		l = d.s.Lots[l.ID]
	}
	d.found(l, stage, w.work.Why+": "+strconv.Itoa(bad)+" bad of "+strconv.Itoa(w.work.Looked)+" looked at, "+strconv.Itoa(p.Accept)+" accepted")
	refused := Fact{Name: SampleRefused}
	d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: refused, Value: Yes, Was: standingOf(l, refused)}})
	return nil
}
