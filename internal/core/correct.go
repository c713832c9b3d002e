package core

import "slices"

// correct takes back what an earlier event did. Its moves are posted the other
// way, facts it gave go and leave what relied on them unsure, facts it cleared
// stand as they stood. It is refused where the parts have moved on, and takes
// two signers where it touches a release.
func (d *deciding) correct(b Correct) *Refusal {
	i := slices.IndexFunc(d.w.Past, func(e Event) bool { return e.ID == b.Event })
	if i < 0 {
		return refuse("event-unknown", "event", string(b.Event))
	}
	e := d.w.Past[i]
	if b.Reason == "" {
		return refuse("reason-missing")
	}
	if len(d.signers()) == 0 {
		return refuse("signature-missing", "stage", "correction")
	}
	if !d.mayCorrect(e) {
		return refuse("correction-not-yours", "event", string(e.ID))
	}
	for _, later := range d.w.Past[i+1:] {
		if later.Corrects == e.ID {
			return refuse("corrected-already", "event", string(e.ID))
		}
		if later.changesLotsOf(e) {
			return refuse("moved-on", "event", string(e.ID), "later", string(later.Kind))
		}
	}
	if !e.correctable() {
		return refuse("not-correctable", "kind", string(e.Kind))
	}
	if e.releases() && !d.twoSigners(Inspector, Quality) {
		return refuse("release-needs-two", "event", string(e.ID)).absolute()
	}
	d.ev.Kind, d.ev.Corrects, d.ev.Note = EvCorrected, e.ID, b.Reason
	d.ev.Stage, d.ev.Step = e.Stage, e.Step
	d.ev.Lots = slices.Clone(e.Lots)
	d.approved()
	for j := len(e.Effects) - 1; j >= 0; j-- {
		d.invert(e.Effects[j])
	}
	d.goBackHeld()
	for _, code := range e.Pallets {
		if p, ok := d.s.Pallets[code]; ok {
			d.put(p)
		}
	}
	return nil
}

// mayCorrect: what one signed oneself, what nobody signed, and otherwise who
// answers for the record.
func (d *deciding) mayCorrect(e Event) bool {
	signer := d.signer()
	return len(e.Signed) == 0 || slices.ContainsFunc(e.Signed, func(s Signature) bool { return s.Person == signer }) ||
		d.w.Book.People[signer].Is(Inspector, Quality, Manager)
}

// changesLotsOf reports whether the event changed a lot that e touched. Prints,
// take-ins, other slots and hand-overs move pallets, not lots, and stand in
// nobody's way.
func (later Event) changesLotsOf(e Event) bool {
	touched := map[LotID]bool{}
	for _, f := range e.Effects {
		if id := f.Lot(); id != "" {
			touched[id] = true
		}
	}
	return slices.ContainsFunc(later.Effects, func(f Effect) bool { return touched[f.Lot()] })
}

// correctable: every effect has a way back.
func (e Event) correctable() bool {
	switch e.Kind {
	case EvSigned, EvDivided, EvGathered, EvReturned, EvAssembled, EvBegun, EvRecounted, EvOwnerChanged, EvProblemReported, EvSeparated:
	default:
		return false
	}
	return !slices.ContainsFunc(e.Effects, func(f Effect) bool { return f.Rejoined != nil || f.SentToRework != nil })
}

// releases: the event released a hold point or a hold.
func (e Event) releases() bool {
	return slices.ContainsFunc(e.Signed, func(s Signature) bool { return s.Meaning == MeantReleased })
}

// invert emits the effects that undo one effect. What a lot bore for life
// (makers, batches, bakes, a belt's metals) stays: forgetting is the unsafe side.
func (d *deciding) invert(f Effect) {
	switch {
	case f.Moved != nil:
		m := *f.Moved
		m.From, m.To = m.To, m.From
		if m.From.Kind == Descent {
			m.From.Ref = string(d.ev.ID)
		}
		if m.To.Kind == Descent {
			m.To.Ref = string(d.ev.ID)
		}
		d.emit(Effect{Moved: &m})
	case f.Given != nil:
		d.ungive(*f.Given)
	case f.Cleared != nil && f.Cleared.Was != nil:
		w := f.Cleared.Was
		d.emit(Effect{Given: &FactGiven{Lot: f.Cleared.Lot, Fact: f.Cleared.Fact, Value: w.Value, Relied: w.Relied, Lapses: w.Lapses, Note: w.Note}})
	case f.StepDone != nil:
		d.emit(Effect{StepsUndone: &StepsUndone{f.StepDone.Lot, f.StepDone.Step}})
	case f.OvercoatAllowed != nil:
		o := *f.OvercoatAllowed
		o.Faces, o.Was = o.Was, o.Faces
		d.emit(Effect{OvercoatAllowed: &o})
	case f.StepBegun != nil:
		d.emit(Effect{StepLeft: &LotOnly{Lot: f.StepBegun.Lot}})
	case f.ProblemPut != nil && f.ProblemPut.Open():
		p := *f.ProblemPut
		p.Closed, p.Reason, p.Disposers = d.w.Now, "taken back: "+d.ev.Note, d.signers()
		d.emit(Effect{ProblemPut: &p})
	case f.HoldPut != nil && f.HoldPut.Open():
		h := *f.HoldPut
		h.Released, h.Releaser = d.w.Now, d.signer()
		d.emit(Effect{HoldPut: &h})
	case f.BuildPut != nil && f.BuildPut.Lot != "":
		b := *f.BuildPut
		b.Lot = ""
		d.emit(Effect{BuildPut: &b})
	case f.NestPut != nil && f.NestPut.Separated:
		n := *f.NestPut
		n.Separated = false
		d.emit(Effect{NestPut: &n})
	}
}

// goBackHeld lets the holds on what was moved back follow it.
func (d *deciding) goBackHeld() {
	var from Lot // what went into the descent under way
	for _, f := range slices.Clone(d.ev.Effects) {
		m := f.Moved
		if m == nil {
			continue
		}
		was := d.w.State.Lots[m.Lot]
		if m.To.Kind == Descent {
			from = was
		}
		if m.From.Kind == Descent {
			was = from
		}
		if m.To.Kind.Holds() && (m.From.Kind == Descent || m.From.Kind.Holds()) {
			d.follow(d.stopping(was), d.s.Lots[m.Lot])
		}
	}
}

// takeBack clears a fact that does not hold after all. What relied on it becomes
// unsure, not no: metal that was coated over sharp edges carries its coat, and
// must neither go on nor be taken for bare.
func (d *deciding) takeBack(id LotID, f Fact) {
	l := d.s.Lots[id]
	for _, g := range l.Facts.Relying(f) {
		if s := l.Facts[g]; s.Value == Yes {
			d.emit(Effect{Given: &FactGiven{Lot: id, Fact: g, Value: Unsure, Relied: s.Relied, Lapses: s.Lapses, Note: s.Note, Was: &s}})
		}
	}
	d.emit(Effect{Cleared: &FactCleared{Lot: id, Fact: f, Was: standingOf(l, f)}})
}

// ungive takes a fact back, or sets it to how it stood before.
func (d *deciding) ungive(g FactGiven) {
	l := d.s.Lots[g.Lot]
	if _, still := l.Facts[g.Fact]; !still {
		return
	}
	d.takeBack(g.Lot, g.Fact)
	if w := g.Was; w != nil {
		d.emit(Effect{Given: &FactGiven{Lot: g.Lot, Fact: g.Fact, Value: w.Value, Relied: w.Relied, Lapses: w.Lapses, Note: w.Note}})
	}
}
