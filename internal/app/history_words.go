package app

import (
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
)

// happened says in one plain sentence what an event records: "Rounded the edges
// of 4 wall panels." Persons are not named in it; they stand beside.
func happened(b *core.Book, e core.Event) string {
	return sentence(join(
		event{b, e}.what(),
		event{b, e}.handedOn(),
		waivedText(e.Waived),
		onPaper(e),
	))
}

// onPaper marks what was signed with a pen: its time is the paper's.
func onPaper(e core.Event) string {
	if !e.OnPaper {
		return ""
	}
	return "signed on paper at that time, entered here later"
}

func join(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, "; ")
}

// event says what one event records, with the book's names.
type event struct {
	b *core.Book
	core.Event
}

func (e event) what() string {
	switch e.Kind {
	case core.EvGoodsReceived:
		return "Received " + e.parts() + e.onPallets(" as ") + e.note()
	case core.EvSeparated:
		return "Broke out " + e.born() + " from sheet " + e.sheet() + ", nest " + e.Ref + e.damaged()
	case core.EvTakenIn:
		return "Took " + e.pallets() + " in at " + placeName(stationName(e.b, e.Station)) + e.slot(", slot ")
	case core.EvSlotted:
		return "Put " + e.pallets() + e.slot(" into slot ") + " of " + placeName(stationName(e.b, e.Station))
	case core.EvHandedOver:
		return "Handed " + e.pallets() + " over to " + placeName(stationName(e.b, core.StationID(e.Ref))) + e.note()
	case core.EvBegun:
		return "Began " + stageNoun(e.stage()) + " of " + e.parts()
	case core.EvSigned:
		return e.signed()
	case core.EvClaimed:
		return "Out of touch, claimed to have done “" + lowerFirst(e.stage().Title) + "” on " + e.bad() + "; held until somebody has looked"
	case core.EvDivided:
		return "Moved " + e.moved() + " from " + e.fromPallet() + " to " + e.toPallet()
	case core.EvFused:
		return "Made one lot of " + e.parts() + e.note()
	case core.EvGathered:
		return "Gathered " + e.moved() + " for unit " + spaced(e.Ref)
	case core.EvReturned:
		return "Put " + e.moved() + " of unit " + spaced(e.Ref) + " back on " + e.toPallet()
	case core.EvAssembled:
		return done(e.stage().Title, e.parts()) + " from the parts gathered for unit " + spaced(e.Ref) + e.note()
	case core.EvUnitBegun:
		return "Started on unit " + spaced(e.Ref)
	case core.EvTakenApart:
		return "Took unit " + spaced(e.Ref) + " apart: " + e.between(core.Inside, core.OnPallet) + " came out" + e.note()
	case core.EvJoinedLate:
		return "Put " + e.between(core.OnPallet, core.Inside) + " into unit " + spaced(e.Ref) + e.outOfUnit() + e.note()
	case core.EvSentBack:
		return "Sent " + e.parts() + " back from " + e.siteLeft() + " on " + e.toPallet() + e.note()
	case core.EvTurnedUp, core.EvSnagReported, core.EvSnagPutRight, core.EvSnagClosed:
		return e.afterReceipt()
	case core.EvProblemReported:
		return "Reported " + e.bad() + ": " + e.Note
	}
	return e.paperwork()
}

// slot names the slot a pallet was put into, after some words; "" for none.
func (e event) slot(words string) string {
	if e.Ref == "" {
		return ""
	}
	return words + e.Ref
}

// outOfUnit says what late parts took the place of.
func (e event) outOfUnit() string {
	if out := e.between(core.Inside, core.OnPallet); out != "" {
		return " in the place of " + out + ", which came out"
	}
	return ""
}

// between are the parts that came from one kind of place and, by whatever
// descent, went to another. A part of a lot moves by way of its descent: the move
// before says from where.
func (e event) between(from, to core.PlaceKind) string {
	type way struct {
		start core.PlaceKind
		last  core.Move
	}
	ways := map[core.LotID]way{}
	var lots []core.LotID
	var parted core.PlaceKind
	for _, f := range e.Effects {
		m := f.Moved
		if m == nil {
			continue
		}
		if m.To.Kind == core.Descent {
			parted = m.From.Kind
			continue
		}
		w, known := ways[m.Lot]
		if !known {
			lots, w.start = append(lots, m.Lot), m.From.Kind
			if w.start == core.Descent {
				w.start = parted
			}
		}
		w.last = *m
		ways[m.Lot] = w
	}
	var came tallied
	for _, id := range lots {
		if w := ways[id]; w.start == from && w.last.To.Kind == to {
			came.add(itemName(e.b, w.last.Item), w.last.Qty)
		}
	}
	return came.String()
}

// paperwork says what events record that move no parts.
func (e event) paperwork() string {
	switch e.Kind {
	case core.EvDisposed:
		kind, reason, _ := strings.Cut(e.Note, ": ")
		return "Decided on " + e.parts() + ": " + dispositionText(core.Disposition(kind)) + reasonText(reason)
	case core.EvHeld:
		return "Held " + e.heldThing() + ": " + e.Note
	case core.EvReleased:
		return "Released the hold on " + e.heldThing() + reasonText(e.Note)
	case core.EvSettled:
		return "Settled by looking, " + e.parts() + ": " + e.Note
	case core.EvRecounted:
		return "Counted " + e.parts() + " again: " + e.Note
	case core.EvOwnerChanged:
		return "Changed the owner of " + e.parts() + ", " + e.Note
	case core.EvPrinted:
		return "Printed traveller " + e.Note + " of " + e.pallets()
	case core.EvLoaded:
		return "Loaded " + e.pallets() + " on consignment " + spaced(e.Ref)
	case core.EvWeighed:
		return e.weighed()
	case core.EvShipped:
		return "Sent consignment " + spaced(e.Ref) + " off with " + e.parts() + reasonText(e.Note) + e.sentBy()
	case core.EvTakenBack:
		return e.cameBack()
	case core.EvReceived:
		return join("Received consignment "+spaced(e.Ref)+" at "+e.siteReached()+e.note(),
			after("damaged: ", e.count(func(l core.LotCount) int { return l.Bad })),
			after("did not come: ", e.count(func(l core.LotCount) int { return l.NotDone })))
	case core.EvCorrected:
		return "Took back an earlier entry on " + e.parts() + e.note()
	case core.EvImported:
		return "Imported" + e.note()
	}
	return "Recorded “" + string(e.Kind) + "”" + e.note() // of a later version of the program
}

func (e event) stage() core.Stage {
	if st, ok := e.b.Table.Stage(e.Stage); ok {
		return st
	}
	return core.Stage{Name: e.Stage, Title: string(e.Stage)}
}

// signed is a step signed off, with what was not good and what was not done.
func (e event) signed() string {
	title := e.stage().Title
	var text string
	if good := e.count(func(l core.LotCount) int { return l.Good }); good != "" {
		text = done(title, good)
	} else {
		text = "Signed “" + lowerFirst(title) + "” without a good part"
	}
	return join(text, after("by a sample of ", e.count(func(l core.LotCount) int { return l.Looked })), after("not good: ", e.count(func(l core.LotCount) int { return l.Bad })),
		after("not done yet, but begun: ", e.rest(core.RestBegun)), after("not done yet, and not begun: ", e.rest(core.RestWaits)),
		after("not done yet: ", e.rest(core.RestAsBefore)), after("put down on ", e.putDown()), e.Note)
}

// rest are the parts not done of which a signer said so; of those signed before
// that was kept, it is not known.
func (e event) rest(said core.Rest) string {
	return e.count(func(l core.LotCount) int {
		if l.Rest != said {
			return 0
		}
		return l.NotDone
	})
}

// putDown names the pallets that good parts came off the work onto.
func (e event) putDown() string {
	kinds := map[string]core.CarrierKind{}
	for _, f := range e.Effects {
		if f.PalletPut != nil {
			kinds[string(f.PalletPut.Code)] = f.PalletPut.Kind
		}
	}
	own, out := "", []string(nil)
	for _, f := range e.Effects {
		m := f.Moved
		if m == nil {
			continue
		}
		if m.From.Kind == core.OnPallet && own == "" {
			own = m.From.Ref
		}
		if pallet := "pallet " + spaced(m.To.Ref); m.To.Kind == core.OnPallet && m.To.Ref != own && kinds[m.To.Ref] != core.Quarantine && !slices.Contains(out, pallet) {
			out = append(out, pallet)
		}
	}
	return list(out)
}

func after(word, what string) string {
	if what == "" {
		return ""
	}
	return word + what
}

// handedOn names where a sign-off sent the pallet in the same motion.
func (e event) handedOn() string {
	if e.Kind != core.EvSigned {
		return ""
	}
	for _, f := range slices.Backward(e.Effects) {
		if f.PalletPut != nil && f.PalletPut.Bound != "" {
			return "handed over to " + placeName(stationName(e.b, f.PalletPut.Bound))
		}
	}
	return ""
}

func (e event) note() string { return reasonText(e.Note) }

func reasonText(s string) string {
	if s == "" {
		return ""
	}
	return ": " + s
}

func waivedText(ws []core.Waiver) string {
	var out []string
	for _, w := range ws {
		out = append(out, "“"+w.Code+"” set aside by concession ("+w.Reason+")")
	}
	return list(out)
}

// parts are the items of the event's lots, whatever became of them: "4 wall
// panels 2400 and 2 louvre banks". Names a lot does not have stay unsaid.
func (e event) parts() string {
	text := e.count(func(l core.LotCount) int { return l.Good + l.Bad + l.NotDone })
	if text == "" {
		return "nothing"
	}
	return text
}

func (e event) bad() string {
	if text := e.count(func(l core.LotCount) int { return l.Bad }); text != "" {
		return text
	}
	return e.parts()
}

// tallied adds up counts by item name, in the order they come.
type tallied struct {
	names []string
	sum   map[string]int
}

func (t *tallied) add(name string, n int) {
	if n <= 0 {
		return
	}
	if t.sum == nil {
		t.sum = map[string]int{}
	}
	if t.sum[name] == 0 {
		t.names = append(t.names, name)
	}
	t.sum[name] += n
}

func (t *tallied) String() string {
	var out []string
	for _, n := range t.names {
		out = append(out, tally(t.sum[n], saidName(n)))
	}
	return list(out)
}

func (e event) count(of func(core.LotCount) int) string {
	var t tallied
	for _, l := range e.Lots {
		t.add(itemName(e.b, l.Item), of(l))
	}
	return t.String()
}

// moved are the parts that went from one place to another; a lot that becomes
// another on the way counts once.
func (e event) moved() string {
	var t tallied
	for _, f := range e.Effects {
		if f.Moved != nil && f.Moved.To.Kind != core.Descent {
			t.add(itemName(e.b, f.Moved.Item), f.Moved.Qty)
		}
	}
	if text := t.String(); text != "" {
		return text
	}
	return e.parts()
}

// born are the parts that came out of a nest.
func (e event) born() string {
	var t tallied
	for _, f := range e.Effects {
		if f.Moved != nil && f.Moved.From.Kind == core.FromNest && f.Moved.To.Kind.Holds() {
			t.add(itemName(e.b, f.Moved.Item), f.Moved.Qty)
		}
	}
	if text := t.String(); text != "" {
		return text
	}
	return e.parts()
}

// damaged says what a nest did not give whole.
func (e event) damaged() string {
	scrap, lost := tallied{}, tallied{}
	for _, f := range e.Effects {
		if f.Moved == nil || f.Moved.From.Kind != core.FromNest {
			continue
		}
		switch f.Moved.To.Kind {
		case core.Scrapped:
			scrap.add(itemName(e.b, f.Moved.Item), f.Moved.Qty)
		case core.Unexplained:
			lost.add(itemName(e.b, f.Moved.Item), f.Moved.Qty)
		}
	}
	text := ""
	if s := scrap.String(); s != "" {
		text += "; damaged: " + s
	}
	if s := lost.String(); s != "" {
		text += "; missing: " + s
	}
	return text + after("; ", e.Note)
}

func (e event) sheet() string {
	for _, f := range e.Effects {
		if f.NestPut != nil && f.NestPut.Sheet != "" {
			return spaced(string(f.NestPut.Sheet))
		}
	}
	if len(e.Pallets) > 0 {
		return spaced(string(e.Pallets[0]))
	}
	return "not named"
}

func (e event) pallets() string { return palletList(e.Pallets) }

func (e event) onPallets(word string) string {
	if len(e.Pallets) == 0 {
		return ""
	}
	return word + palletList(e.Pallets)
}

func palletList(codes []core.PalletCode) string {
	if len(codes) == 0 {
		return "a pallet"
	}
	var out []string
	for _, c := range codes {
		out = append(out, spaced(string(c)))
	}
	word := "pallet "
	if len(codes) > 1 {
		word = "pallets "
	}
	if strings.HasPrefix(string(codes[0]), "S") {
		word = strings.Replace(word, "pallet", "sheet", 1)
	}
	return word + list(out)
}

// fromPallet and toPallet are the two ends of a re-palletising.
func (e event) fromPallet() string { return e.end(func(m core.Move) core.Place { return m.From }) }

func (e event) toPallet() string { return e.end(func(m core.Move) core.Place { return m.To }) }

// end lists the pallets on one side of the event's moves. Moves through descent
// are two rows, each with a pallet on one side only.
func (e event) end(side func(core.Move) core.Place) string {
	var codes []core.PalletCode
	for _, f := range e.Effects {
		if f.Moved == nil {
			continue
		}
		p := side(*f.Moved)
		if c := core.PalletCode(p.Ref); p.Kind == core.OnPallet && !slices.Contains(codes, c) {
			codes = append(codes, c)
		}
	}
	return palletList(codes)
}

// heldThing names what an event's hold stops.
func (e event) heldThing() string {
	for _, f := range e.Effects {
		if f.HoldPut != nil {
			return HeldThing(e.b, *f.HoldPut)
		}
	}
	return e.Ref
}

// HeldThing names what a hold stops: "pallet P4K7 M2QX", "heat H-5521", "every
// reading of gauge G-3 since 12 November".
func HeldThing(b *core.Book, h core.Hold) string {
	switch h.Scope {
	case core.HoldPallet:
		return "pallet " + spaced(h.Ref)
	case core.HoldItem:
		item, rev, _ := strings.Cut(h.Ref, "@")
		return "every " + saidName(itemName(b, core.ItemRev{Item: core.ItemID(item), Rev: rev})) + " (" + item + " rev " + rev + ")"
	case core.HoldBatch:
		if x, ok := b.Batches[h.Ref]; ok {
			return x.Kind + " batch " + h.Ref
		}
		return "batch " + h.Ref
	case core.HoldGauge:
		text := "everything measured with gauge " + h.Ref
		if n := b.Instruments[h.Ref].Name; n != "" {
			text += " (" + n + ")"
		}
		if !h.Since.IsZero() {
			text += " since " + inZone(h.Since, b).Format("2 January 2006")
		}
		return text
	}
	return string(h.Scope) + " " + h.Ref
}

func dispositionText(d core.Disposition) string {
	switch d {
	case core.DisposeRework:
		return "rework"
	case core.DisposeUseAsIs:
		return "use as it is, under concession"
	case core.DisposeScrap:
		return "scrap"
	case core.DisposeRemake:
		return "scrap, and make again"
	}
	return string(d)
}

// printMade is the number of the print an event records; 0 for other events.
func printMade(e core.Event) int {
	if e.Kind != core.EvPrinted {
		return 0
	}
	n, err := strconv.Atoi(e.Note)
	if err != nil {
		return 0
	}
	return n
}
