package core

import (
	"slices"
	"strconv"
)

// receiveGoods takes in sheets, bars and bought items. A sheet or bar is a
// carrier of its own; bought items come on a pallet, those their owner does not
// ask for as stock.
func (d *deciding) receiveGoods(b ReceiveGoods) *Refusal {
	rev, ok := d.w.Book.Items[b.Item]
	if !ok {
		return refuse("item-unknown", "item", b.Item.String())
	}
	if b.Qty < 1 || b.Qty > 1000 {
		return refuse("count-impossible", "count", strconv.Itoa(b.Qty), "most", "1000")
	}
	if !b.Owner.Stock() && !d.line(b.Owner) {
		return refuse("owner-unknown", "owner", b.Owner.String())
	}
	metal := rev.Kind == SheetItem || rev.Kind == BarItem
	if metal && b.Heat == "" {
		return refuse("heat-missing", "item", b.Item.String())
	}
	if !b.Identified {
		return refuse("material-not-identified")
	}
	stage, _ := d.w.Book.Table.Stage("goods-in")
	if d.c.Station != "" && !d.station().Does(stage.Name) {
		return refuse("wrong-station", "station", d.station().Name, "stage", stage.Title,
			"stations", d.stationsDoing(stage.Name), "pallet", "")
	}
	d.record(EvGoodsReceived, stage, Step{})
	d.ev.Note = b.Note
	if !b.Before && b.Expires.Before(d.day()) {
		return refuse("goods-expired", "on", string(b.Expires), "count", strconv.Itoa(b.Qty), "name", rev.Name)
	}
	if metal {
		for i := range b.Qty {
			if i >= len(d.w.Codes.Sheets) {
				return refuse("too-many-pallets", "most", strconv.Itoa(len(d.w.Codes.Sheets)))
			}
			code := d.w.Codes.Sheets[i]
			d.put(PalletRow{Code: code, Kind: SheetCarrier, Label: b.Label, Slot: b.Slot, Station: d.c.Station, Since: d.w.Now})
			if r := d.arrive(rev, b, code, 1); r != nil {
				return r
			}
		}
		return nil
	}
	code, r := d.freshPallet(PalletCarrier)
	if r != nil {
		return r
	}
	p := d.s.Pallets[code]
	p.Label, p.Slot = b.Label, b.Slot
	d.put(p)
	mine := min(b.Qty, d.room(b.Owner, b.Item))
	if mine > 0 {
		if r := d.arrive(rev, b, code, mine); r != nil {
			return r
		}
	}
	if rest := b.Qty - mine; rest > 0 {
		b.Owner = Owner{}
		return d.arrive(rev, b, code, rest)
	}
	return nil
}

// arrive bears a lot from its supplier, identified and checked as its route
// says.
func (d *deciding) arrive(rev Revision, b ReceiveGoods, code PalletCode, qty int) *Refusal {
	l := Lot{ID: d.newLot(), Item: b.Item, Owner: b.Owner, Place: On(code), Route: rev.Route, Arrived: d.w.Now,
		Promised: d.promised(b.Owner), Expires: b.Expires}
	if b.Heat != "" {
		l.Heats = []string{b.Heat}
	}
	if b.Label != "" {
		l.Sheets = []string{b.Label}
	}
	d.bear(l)
	d.emit(Effect{Moved: &Move{l.ID, l.Item, Place{FromSupplier, b.Heat}, On(code), qty}})
	fact := MaterialIdentified
	if rev.Kind == BoughtItem || rev.Kind == KitItem {
		fact = GoodsAccepted
	}
	d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: Fact{Name: fact}, Value: Yes}})
	if !b.Before {
		if r := d.readings(l, d.birthSteps(l, "goods-in"), b.Checks); r != nil {
			return d.aboutUnborn(r, l, qty)
		}
	}
	d.stepsBorn(d.s.Lots[l.ID], "goods-in")
	d.counted(l, qty, 0, 0)
	return nil
}

// aboutUnborn words a refusal about parts that are not made: there is no lot of
// them to be named.
func (d *deciding) aboutUnborn(r *Refusal, l Lot, qty int) *Refusal {
	r = d.about(r, l, qty)
	r.Lots = nil
	return r
}

// BirthChecks are what is asked of an item's parts when they come into being:
// the characteristics of the leading steps of its route that its birth is.
func BirthChecks(b *Book, item ItemRev, stages ...StageName) []Characteristic {
	var out []Characteristic
	for _, s := range b.Routes[b.Items[item].Route].Steps {
		if !slices.Contains(stages, s.Stage) {
			break
		}
		out = append(out, s.Checks...)
	}
	return out
}

// birthSteps is those steps as one, to be judged as one.
func (d *deciding) birthSteps(l Lot, stages ...StageName) Step {
	return Step{Checks: BirthChecks(d.w.Book, l.Item, stages...)}
}

// stepsBorn marks the leading steps of a fresh lot that its birth already was.
func (d *deciding) stepsBorn(l Lot, stages ...StageName) {
	for _, s := range d.w.Book.Routes[l.Route].Steps {
		if !slices.Contains(stages, s.Stage) {
			return
		}
		d.emit(Effect{StepDone: &StepMark{l.ID, s.No, d.w.Now}})
	}
}

// line reports whether there is such an order line.
func (d *deciding) line(o Owner) bool {
	return slices.ContainsFunc(d.s.Orders[o.Order].Lines, func(l OrderLine) bool { return l.Owner == o })
}

// promised is the date an owner's order was promised for.
func (d *deciding) promised(o Owner) Date { return d.s.Orders[o.Order].Promised }

// separate breaks the parts out of a cut sheet: each nest line good, damaged,
// missing or extra, the good ones on pallets, all numbers adding up.
func (d *deciding) separate(b Separate) *Refusal {
	p, stage, r := d.atWork(b.Sheet, "separate", 0)
	if r != nil {
		return r
	}
	lots := d.s.LotsAt(On(p.Code))
	if len(lots) != 1 || p.Kind != SheetCarrier {
		return refuse("not-a-sheet", "pallet", string(p.Code), "gone", joinCodes(p.GoneTo))
	}
	sheet := lots[0]
	nest, r := d.nestOf(b.Nest, p, sheet)
	if r != nil {
		return r
	}
	step, r := d.judge(sheet, stage)
	if r == nil {
		r = d.mayDo(sheet, step, stage)
	}
	if r == nil {
		r = ticksSum(d.w.Book, nest, b.Ticks)
	}
	if r != nil {
		return d.about(r, sheet, 1)
	}
	d.record(EvSeparated, stage, step)
	if r := d.readings(sheet, step, b.Checks); r != nil {
		return d.about(r, sheet, 1)
	}
	d.ev.Ref, d.ev.Note = nest.ID, b.Note
	fresh := map[PalletCode]PalletCode{}
	for _, t := range b.Ticks {
		if r := d.tick(nest, sheet, stage, t, fresh); r != nil {
			return r
		}
	}
	d.perform(sheet, step, stage, b.Checks)
	d.moveLot(sheet, On(p.Code), Place{CutUp, nest.ID}, sheet.Qty)
	nest.Separated, nest.Sheet = true, p.Code
	d.emit(Effect{NestPut: &nest})
	var to []PalletCode
	for _, code := range d.ev.Pallets {
		if code != p.Code {
			to = append(to, code)
		}
	}
	d.leave(p.Code, to...)
	return nil
}

// nestOf finds the nest and checks that it belongs to the sheet.
func (d *deciding) nestOf(id string, p PalletRow, sheet Lot) (Nest, *Refusal) {
	n, ok := d.s.Nests[id]
	switch {
	case !ok:
		return n, refuse("nest-unknown", "nest", id)
	case n.Separated:
		return n, refuse("nest-separated", "nest", id, "sheet", string(n.Sheet))
	case n.Sheet != "" && n.Sheet != p.Code:
		return n, refuse("nest-other-sheet", "nest", id, "sheet", string(n.Sheet))
	case n.Material.Item != "" && n.Material != sheet.Item:
		return n, refuse("nest-other-metal", "nest", id, "want", n.Material.String(), "item", sheet.Item.String())
	}
	if want, fits := CutFrom(d.w.Book, n, sheet.Item); !fits {
		return n, refuse("nest-other-metal", "nest", id, "want", want, "item", sheet.Item.String())
	}
	return n, nil
}

// ticksSum checks that each nest line is ticked and its numbers add up.
func ticksSum(b *Book, n Nest, ticks []PartTick) *Refusal {
	came := map[int]int{}
	for _, t := range ticks {
		if t.Good < 0 || t.Damaged < 0 || t.Missing < 0 || t.Extra < 0 || t.Extra > t.Good {
			return refuse("count-impossible", "count", strconv.Itoa(t.Good), "most", strconv.Itoa(t.Extra))
		}
		if !slices.ContainsFunc(n.Parts, func(p NestPart) bool { return p.No == t.Line }) {
			return refuse("nest-line-unknown", "nest", n.ID, "line", strconv.Itoa(t.Line))
		}
		came[t.Line] += t.Good + t.Damaged + t.Missing - t.Extra
	}
	for _, p := range n.Parts {
		if came[p.No] != p.Qty {
			return refuse("nest-numbers", "nest", n.ID, "line", strconv.Itoa(p.No), "part", b.Items[p.Item].Name,
				"asked", strconv.Itoa(p.Qty), "total", strconv.Itoa(came[p.No]))
		}
	}
	return nil
}

// tick bears the lots of one tick: the good for the line's owner, extra ones
// for stock, the damaged into quarantine, the missing into the unexplained.
func (d *deciding) tick(n Nest, sheet Lot, stage Stage, t PartTick, fresh map[PalletCode]PalletCode) *Refusal {
	i := slices.IndexFunc(n.Parts, func(p NestPart) bool { return p.No == t.Line })
	part := n.Parts[i]
	if t.Good > 0 {
		to, r := d.tickPallet(t.To, fresh)
		if r != nil {
			return r
		}
		for _, x := range d.shares(part, t.Good, t.Extra) {
			l := d.bearPart(n, part, sheet, x, On(to))
			if r := d.readings(l, d.birthSteps(l, "cut", "separate"), t.Checks); r != nil {
				return d.aboutUnborn(r, l, x.qty)
			}
		}
	}
	if t.Damaged > 0 {
		to, r := d.quarantine()
		if r != nil {
			return r
		}
		for _, x := range d.shares(part, t.Damaged, 0) {
			d.found(d.bearPart(n, part, sheet, x, On(to)), stage, "damaged at separation")
		}
	}
	if t.Missing > 0 {
		d.bearPart(n, part, sheet, share{part.Owner, t.Missing, part.For}, Place{Unexplained, string(sheet.Place.Ref)})
	}
	return nil
}

// share is so many parts for one owner, or kept for a made unit.
type share struct {
	owner Owner
	qty   int
	kept  BuildCode
}

// shares says whose the parts of a nest line are: its owner's, as far as it
// still takes them, for others may have been lent to it in the meantime; what
// is beyond that, and what nobody nested, is a surplus and belongs to stock.
func (d *deciding) shares(part NestPart, qty, extra int) []share {
	mine := min(qty-extra, d.room(part.Owner, part.Item))
	return slices.DeleteFunc([]share{{part.Owner, mine, part.For}, {Owner{}, qty - mine, ""}}, func(x share) bool { return x.qty == 0 })
}

func (d *deciding) tickPallet(to PalletCode, fresh map[PalletCode]PalletCode) (PalletCode, *Refusal) {
	if !isNewPallet(to) && to != "" {
		code, r := d.palletOrFresh(to, PalletCarrier)
		if r == nil && !slices.Contains(d.ev.Pallets, code) {
			d.put(d.s.Pallets[code])
		}
		return code, r
	}
	if code, ok := fresh[to]; ok {
		return code, nil
	}
	code, r := d.freshPallet(PalletCarrier)
	fresh[to] = code
	return code, r
}

// bearPart makes a lot of parts cut from a sheet: it has the sheet's heat, and
// is identified and cut by descent.
func (d *deciding) bearPart(n Nest, part NestPart, sheet Lot, x share, at Place) Lot {
	rev := d.w.Book.Items[part.Item]
	l := Lot{ID: d.newLot(), Item: part.Item, Owner: x.owner, For: x.kept, Place: at, Route: rev.Route, Heats: slices.Clone(sheet.Heats),
		Sheets: slices.Clone(sheet.Sheets), Parents: []LotID{sheet.ID}, Promised: d.promised(x.owner), Nest: n.ID, Arrived: d.w.Now}
	l.Remake = RemakeOf(n.ID)
	if n.Wanted.Before(l.Promised) || l.Promised == "" && n.Wanted != "" {
		l.Promised = n.Wanted // what a site waits for is due when the site wants it
	}
	d.bear(l)
	d.emit(Effect{Moved: &Move{l.ID, l.Item, Place{FromNest, n.ID}, at, x.qty}})
	for _, f := range []string{MaterialIdentified, IsCut} {
		if s, ok := sheet.Facts[Fact{Name: f}]; ok {
			d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: Fact{Name: f}, Value: s.Value}})
		}
	}
	relied := []Fact{{Name: IsCut}}
	d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: Fact{Name: Separated}, Value: Yes, Relied: relied}},
		Effect{Given: &FactGiven{Lot: l.ID, Fact: Fact{Name: Counted}, Value: Yes, Relied: relied}})
	d.stepsBorn(d.s.Lots[l.ID], "cut", "separate")
	l = d.s.Lots[l.ID]
	if at.Kind == OnPallet {
		d.noticeMetals(l, PalletCode(at.Ref))
	}
	d.counted(l, x.qty, 0, 0)
	return l
}
