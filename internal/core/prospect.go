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

// UnderWay is the route a lot is on, the rework's while it is on one, with the
// numbers of the steps done of it.
func UnderWay(b *Book, l Lot) (Route, []int) {
	if l.Rework != nil {
		return b.Routes[l.Rework.Route], l.Rework.Done
	}
	return b.Routes[l.Route], l.Done
}

// NextSteps lists the steps a lot may take next by the order of work alone: the
// first undone one, with those drawn parallel to it. A lot whose route has
// ended has none.
func NextSteps(b *Book, l Lot) []Step {
	route, done := UnderWay(b, l)
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

// Look says, for each lot on a pallet, what its next step would come to if it
// were signed at a station now. It is the same judgement Decide makes, less the
// signature and the readings.
func Look(w World, at StationID, code PalletCode) []Prospect {
	d := newDeciding(w, Command{Station: at, Body: SignOff{Pallet: code}, Happened: w.Now})
	var out []Prospect
	for _, l := range w.State.LotsAt(On(code)) {
		out = append(out, d.prospect(l))
	}
	return out
}

func (d *deciding) prospect(l Lot) Prospect {
	next := NextSteps(d.w.Book, l)
	if len(next) == 0 {
		return Prospect{Lot: l, Ended: true}
	}
	step := next[0]
	for _, s := range next {
		if d.station().Does(s.Stage) {
			step = s
			break
		}
	}
	if again, ok := d.toRedo(d.station(), l); ok && !d.station().Does(step.Stage) {
		step = again
	}
	step = d.stepOf(l, step)
	stage, ok := d.w.Book.Table.Stage(step.Stage)
	p := Prospect{Lot: l, Step: step, Stage: stage, Rework: l.Rework != nil, Here: d.station().Does(step.Stage)}
	if !ok {
		p.Refusal = refuse("stage-unknown", "stage", string(step.Stage))
		return p
	}
	if _, r := d.judge(l, stage); r != nil {
		p.Refusal = d.about(r, l, l.Qty)
	}
	return p
}

// Alike groups the lots on a pallet that nothing tells apart: those that Fuse
// makes one without a mix being declared. Lots with no like stand in no group.
func Alike(w World, code PalletCode) [][]LotID {
	d := newDeciding(w, Command{Body: Fuse{Pallet: code}, Happened: w.Now})
	lots := slices.DeleteFunc(w.State.LotsAt(On(code)), func(l Lot) bool {
		return l.Unit != "" || d.presented(l) != nil
	})
	var out [][]LotID
	for len(lots) > 0 {
		first, rest := lots[0], lots[:0:0]
		group := []LotID{first.ID}
		for _, l := range lots[1:] {
			if equalLots(first, l) && d.fusable(first, l) == nil {
				group = append(group, l.ID)
			} else {
				rest = append(rest, l)
			}
		}
		if lots = rest; len(group) > 1 {
			out = append(out, group)
		}
	}
	return out
}
