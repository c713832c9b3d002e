package core

import (
	"slices"
	"strconv"
	"strings"
)

// signOff records a stage on lots of one pallet. One refused is all refused;
// the refusal names the others, so that the screen can offer them.
func (d *deciding) signOff(b SignOff) *Refusal {
	p, stage, r := d.atWork(b.Pallet, b.Stage, b.PrintSeen)
	if r != nil {
		return r
	}
	if stage.Name == "separate" {
		return refuse("separate-at-bench")
	}
	if stage.Name == "join-late" {
		return refuse("late-part-not-gathered").absolute()
	}
	if r := d.onPaper(b); r != nil {
		return r
	}
	if len(b.Lots) == 0 {
		return refuse("no-lots", "stage", stage.Title, "pallet", string(b.Pallet))
	}
	if stage.Hold {
		if r := d.outOfTouch(stage); r != nil {
			return r // a release is a decision, not work that is done all the same
		}
	}
	if r := d.readInputs(stage, b.Inputs); r != nil {
		return r
	}
	var works, claims []lotStep
	var refused *Refusal
	var others []LotID
	seen := map[LotID]bool{}
	for _, w := range b.Lots {
		if seen[w.Lot] {
			return refuse("lot-twice", "lot", string(w.Lot)).of(w.Lot)
		}
		seen[w.Lot] = true
		step, l, r := d.lotWork(b.Pallet, stage, w)
		switch {
		case r == nil:
			others = append(others, w.Lot)
			works = append(works, lotStep{l, step, w})
		case d.claimable(r):
			claims = append(claims, lotStep{l, step, w})
			d.notices = append(d.notices, *r)
		case refused == nil:
			refused = r
		case refused.Code == r.Code:
			refused.Lots = append(refused.Lots, w.Lot)
		}
	}
	if refused != nil {
		refused.Others = others
		return refused
	}
	if len(claims) > 0 {
		d.record(EvClaimed, stage, claims[0].step)
	} else {
		d.record(EvSigned, stage, works[0].step)
	}
	d.ev.Note = strings.TrimSpace(b.Note)
	for _, w := range works {
		if r := d.finish(p.Code, stage, w); r != nil {
			return r
		}
	}
	for i, w := range claims {
		d.claim(w, stage, d.notices[i].Code)
	}
	if b.HandTo != "" {
		return d.sendAway(b.Pallet, b.HandTo)
	}
	return nil
}

// lotStep is a lot, the step it takes and how its parts fared.
type lotStep struct {
	lot  Lot
	step Step
	work LotWork
}

// atWork checks what every piece of work at a station needs: the pallet is
// known and here, the print is fresh or its staleness confirmed, and the
// station does the stage.
func (d *deciding) atWork(code PalletCode, name StageName, printSeen int) (PalletRow, Stage, *Refusal) {
	p, r := d.pallet(code)
	if r != nil {
		return p, Stage{}, r
	}
	stage, ok := d.w.Book.Table.Stage(name)
	if !ok {
		return p, Stage{}, refuse("stage-unknown", "stage", string(name))
	}
	if r := d.notGone(p); r != nil {
		return p, stage, r
	}
	if !d.station().Does(name) {
		return p, stage, refuse("wrong-station", "station", d.station().Name, "stage", stage.Title,
			"stations", d.stationsDoing(name), "pallet", string(code))
	}
	if p.Station != d.c.Station {
		return p, stage, refuse("not-taken-in", "pallet", string(code), "station", d.station().Name)
	}
	return p, stage, d.stop(d.stale(p, printSeen))
}

// stationsDoing names the stations that do a stage.
func (d *deciding) stationsDoing(n StageName) string {
	var names []string
	for _, id := range sortedStations(d.w.Book) {
		if s := d.w.Book.Stations[id]; s.Does(n) {
			names = append(names, s.Name)
		}
	}
	return strings.Join(names, ", ")
}

// lotWork judges one lot's share of a sign-off.
func (d *deciding) lotWork(code PalletCode, stage Stage, w LotWork) (Step, Lot, *Refusal) {
	l, r := d.lotOn(w.Lot, code)
	if r != nil {
		return Step{}, l, r
	}
	if w.Good < 0 || w.Bad < 0 || w.NotDone < 0 || w.Good+w.Bad+w.NotDone != l.Qty {
		return Step{}, l, d.about(refuse("numbers-dont-sum", "good", strconv.Itoa(w.Good), "bad", strconv.Itoa(w.Bad),
			"notDone", strconv.Itoa(w.NotDone), "total", strconv.Itoa(w.Good+w.Bad+w.NotDone)), l, l.Qty)
	}
	if w.Bad > 0 && w.Why == "" {
		return Step{}, l, d.about(refuse("why-missing", "bad", strconv.Itoa(w.Bad)), l, l.Qty)
	}
	if r := ontoSums(code, w); r != nil {
		return Step{}, l, d.about(r, l, l.Qty)
	}
	step, r := d.judge(l, stage)
	if r == nil && w.NotDone > 0 && slices.Contains(stage.Predicates, EveryPartJudged) {
		r = refuse("sort-every-part", "notDone", strconv.Itoa(w.NotDone))
	}
	if r == nil {
		r = d.sampled(l, step, w)
	}
	if r == nil {
		r = d.mayDo(l, step, stage)
	}
	if r == nil && w.Good > 0 {
		r = d.readings(l, step, w.Checks)
	}
	if r == nil && w.Good > 0 {
		r = d.powderSuits(l, step, stage)
	}
	if r == nil {
		r = d.outOfTouch(stage)
	}
	if r != nil {
		return step, l, d.about(r, l, l.Qty)
	}
	return step, l, nil
}

// powderSuits: the powder sprayed is of the colour the step asks.
func (d *deciding) powderSuits(l Lot, s Step, stage Stage) *Refusal {
	if stage.Name != "coat" {
		return nil
	}
	want := stepColour(d.w.Book.Items[l.Item], s)
	for _, b := range d.inputs {
		if b.Kind == "powder" && b.Colour != "" && b.Colour != want {
			return refuse("powder-colour", "batch", b.Batch, "colour", b.Colour, "want", want)
		}
	}
	return nil
}

// record starts an event about a stage, its signatures meaning what the stage
// says.
func (d *deciding) record(kind EventKind, stage Stage, step Step) {
	d.ev.Kind, d.ev.Stage, d.ev.Step = kind, stage.Name, step.No
	for i := range d.ev.Signed {
		if i == 0 {
			d.ev.Signed[i].Meaning = stage.Meaning
		} else if d.ev.Signed[i].Meaning == "" {
			d.ev.Signed[i].Meaning = MeantApproved
		}
	}
}

// finish writes one lot's share: the bad go to quarantine, the not done stay,
// the good take the step. A lot refused whole stays where it
// is and is held: a frame is not carried off to be argued over.
func (d *deciding) finish(code PalletCode, stage Stage, w lotStep) *Refusal {
	l := w.lot
	failed := refusedBySample(w)
	if failed {
		d.counted(l, 0, l.Qty, 0)
	} else {
		d.counted(l, w.work.Good, w.work.Bad, w.work.NotDone)
	}
	d.ev.Lots[len(d.ev.Lots)-1].Looked = w.work.Looked
	d.saw(code, w.work)
	d.judgedBySample(l.ID)
	l = d.s.Lots[l.ID]
	if failed && w.work.Bad < l.Qty {
		d.refusedWhole(stage)
		if r := d.failSample(stage, w); r != nil {
			return r
		}
		d.put(d.s.Pallets[code])
		return nil
	}
	if w.work.Bad == l.Qty {
		d.found(l, stage, w.work.Why)
		if stage.Mark == Inspection {
			d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: Fact{Name: SampleRefused}, Value: Yes, Was: standingOf(l, Fact{Name: SampleRefused})}})
		}
		d.refusedWhole(stage)
		d.put(d.s.Pallets[code])
		return nil
	}
	if w.work.Bad > 0 {
		to, r := d.quarantine()
		if r != nil {
			return r
		}
		d.found(d.split(l, w.work.Bad, On(to)), stage, w.work.Why)
		l = d.s.Lots[l.ID]
	}
	if w.work.NotDone > 0 && w.work.Good > 0 {
		l = d.split(l, w.work.Good, l.Place)
	}
	if w.work.Good > 0 {
		d.perform(l, w.step, stage, w.work.Checks)
		if r := d.putDown(d.s.Lots[l.ID], w.work.Onto); r != nil {
			return r
		}
	}
	if w.work.NotDone > 0 {
		d.rest(w)
	}
	d.leave(code, d.ontoPallets...)
	return nil
}

// rest notes whether the step is begun on the parts that are not done.
func (d *deciding) rest(w lotStep) {
	l := d.s.Lots[w.lot.ID]
	begun := l.Started != nil || w.work.Good == 0
	if w.work.Rest != RestAsBefore {
		begun = w.work.Rest == RestBegun
	}
	d.saidOfRest(l.ID, begun)
	switch {
	case begun && l.Started == nil:
		d.emit(Effect{StepBegun: &StepBegun{l.ID, Started{w.step.No, d.signer(), d.c.Station, d.at}}})
	case !begun && l.Started != nil:
		d.emit(Effect{StepLeft: &LotOnly{Lot: l.ID}})
	}
}

// saidOfRest keeps what was said of a lot's parts that are not done, also where
// they are as they were before.
func (d *deciding) saidOfRest(id LotID, begun bool) {
	for i := range d.ev.Lots {
		if d.ev.Lots[i].Lot == id {
			d.ev.Lots[i].Rest = RestWaits
			if begun {
				d.ev.Lots[i].Rest = RestBegun
			}
		}
	}
}

// refusedWhole: who refuses a lot at a hold point inspected it and released
// nothing.
func (d *deciding) refusedWhole(stage Stage) {
	if len(d.ev.Signed) > 0 && stage.Meaning == MeantReleased {
		d.ev.Signed[0].Meaning = MeantInspected
	}
}

// saw notes in the first signature what print its signer had before them.
func (d *deciding) saw(code PalletCode, w LotWork) {
	if len(d.ev.Signed) == 0 || d.ev.Signed[0].PrintState != "" {
		return
	}
	var parts []string
	for _, x := range d.w.State.PrintState(code) {
		parts = append(parts, strconv.Itoa(x.Qty)+" "+x.Item.String()+" on "+x.Route.String())
	}
	d.ev.Signed[0].PrintState = strings.Join(parts, "; ")
	if b, ok := d.c.Body.(SignOff); ok {
		d.ev.Signed[0].PrintSeen = b.PrintSeen
	}
}

// quarantine is a quarantine pallet for this command, one for all its bad parts.
func (d *deciding) quarantine() (PalletCode, *Refusal) {
	for _, code := range d.ev.Pallets {
		if d.s.Pallets[code].Kind == Quarantine {
			return code, nil
		}
	}
	return d.freshPallet(Quarantine)
}

// found records a nonconformity on a lot and holds the lot until something has
// become of it. It is named after the command: a lot may have one after another.
func (d *deciding) found(l Lot, stage Stage, what string) ProblemID {
	d.problems++
	id := ProblemID("N-" + string(d.c.ID) + "/" + strconv.Itoa(d.problems))
	d.emit(Effect{ProblemPut: &Problem{ID: id, Lot: l.ID, Qty: l.Qty, Stage: stage.Name, Station: d.c.Station,
		By: d.signer(), At: d.at, What: what, Photos: PhotosOf(d.c.Body)}},
		Effect{HoldPut: &Hold{ID: HoldID(id), Scope: HoldLot, Ref: string(l.ID), Reason: what, By: d.signer(), At: d.at, Problem: id}})
	if d.ev.Ref == "" {
		d.ev.Ref = string(id)
	}
	return id
}
