package core

import (
	"maps"
	"slices"
	"strconv"
)

// What does not come with a consignment is unexplained, under its code, until it
// turns up: a box that was late, or parts that were miscounted within one.

func missedOf(c Consignment) Place { return Place{Unexplained, string(c.Code)} }

// lose moves n parts of a lot that did not come to the unexplained, in a lot of
// their own where any came: what that one has lost is what may turn up.
func (d *deciding) lose(l Lot, n int, c Consignment) {
	if n < l.Qty || l.Lost > 0 {
		d.descend(l, n, l.Place, missedOf(c))
		return
	}
	d.moveLot(l, l.Place, missedOf(c), n)
}

// turnUp brings back what was in carriers that were missed and have come after
// all.
func (d *deciding) turnUp(c Consignment, boxes []PalletCode, order string) {
	for _, id := range slices.Sorted(maps.Keys(d.s.Lots)) {
		l := d.s.Lots[id]
		if l.Place == missedOf(c) && l.Lost > 0 && slices.Contains(boxes, l.Box) && (order == "" || l.Owner.Order == order || l.Owner.Stock()) {
			d.comeBack(l, l.Lost, Place{InConsignment, string(c.Code)})
		}
	}
}

// comeBack moves so many lost parts of a lot to where they are. What stays lost
// is a lot of its own from then on. What its owner has been given others for
// since is stock.
func (d *deciding) comeBack(l Lot, n int, to Place) (came []LotID) {
	from, over := l.Place, n-d.room(l.Owner, l.Item)
	if rest := l.Lost - n; rest > 0 {
		d.descend(l, rest, from, from)
	}
	d.moveLot(l, from, to, n)
	if over < n {
		came = append(came, l.ID)
	}
	if over > 0 && !l.Owner.Stock() {
		came = append(came, d.reown(d.s.Lots[l.ID], over, Owner{}).ID)
	}
	return came
}

// turnUpAtSite brings parts that were found short within their boxes out of the
// unexplained: they were miscounted, or lay in another box.
func (d *deciding) turnUpAtSite(b TurnUp) *Refusal {
	c, ok := d.s.Consignments[b.Consignment]
	if !ok {
		return refuse("consignment-unknown", "consignment", string(b.Consignment))
	}
	stage, _ := d.w.Book.Table.Stage("receive")
	d.record(EvTurnedUp, stage, Step{})
	d.ev.Ref, d.ev.Note = string(c.Code), b.Note
	for i, f := range b.Finds {
		l, ok := d.s.Lots[f.Lot]
		switch {
		case slices.ContainsFunc(b.Finds[:i], func(x Pick) bool { return x.Lot == f.Lot }):
			return refuse("lot-twice", "lot", string(f.Lot)).of(f.Lot)
		case !ok || l.Place != missedOf(c) || l.Lost == 0:
			return refuse("lot-not-missing", "consignment", string(c.Code)).of(f.Lot)
		case !slices.Contains(c.Came, l.Box):
			return refuse("box-missing-still", "pallet", string(l.Box), "consignment", string(c.Code)).of(f.Lot)
		case f.Qty < 1 || f.Qty > l.Lost:
			return d.about(refuse("more-than-missing", "found", strconv.Itoa(f.Qty)), l, l.Lost)
		}
		if r := d.mayDo(l, Step{Stage: stage.Name}, stage); r != nil {
			return r
		}
		for _, id := range d.comeBack(l, f.Qty, Place{AtSite, c.Site}) {
			back := d.s.Lots[id]
			d.offRoute(back, stage)
			d.counted(back, back.Qty, 0, 0)
		}
	}
	if len(d.ev.Lots) == 0 {
		return refuse("no-lots", "stage", stage.Title, "pallet", "")
	}
	return nil
}
