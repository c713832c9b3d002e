package crowd

import (
	"slices"

	"tagalong/internal/core"
)

func (w *Walk) problemAtSite() {
	l := one(w, w.atTheSite(), "lot at the site")
	w.at("report-problem at site", core.ReportProblem{Lot: l.ID, Qty: w.some(l), What: "dent"}, Site, "P27")
}

func (w *Walk) atTheSite() []core.Lot {
	var out []core.Lot
	for _, id := range keys(w.State().Lots) {
		if l := w.State().Lots[id]; l.Place.Kind == core.AtSite && l.Qty > 0 {
			out = append(out, l)
		}
	}
	if sound := slices.DeleteFunc(slices.Clone(out), func(l core.Lot) bool { return !w.sound(l) }); len(sound) > 0 && w.UpTo(3, "held or not") < 3 {
		return sound
	}
	return out
}

// load puts a pallet on a truck, packing what is on it first where only that is
// left to do.
func (w *Walk) load() {
	l := w.lot(func(l core.Lot) bool {
		next := core.NextSteps(w.Book, l)
		return len(next) == 0 && w.Book.Items[l.Item].Kind != core.PartItem || len(next) == 0 && l.Item == Cap || len(next) > 0 && next[0].Stage == "pack"
	})
	if len(core.NextSteps(w.Book, l)) > 0 && !w.signOff(l, false) && w.UpTo(3, "not packed") < 3 {
		return
	}
	b := core.Load{Site: Site, Day: "2026-11-26", Pallets: []core.PalletCode{core.PalletCode(l.Place.Ref)}}
	for _, c := range keys(w.State().Consignments) {
		if w.State().Consignments[c].Gone.IsZero() && w.now("on this one") {
			b.Consignment = c
		}
	}
	w.at("load", b, "DOCK-1", "P25")
}

// consignment draws one that has left, or not.
func (w *Walk) consignment(like func(core.Consignment) bool) core.ConsignmentCode {
	var out []core.ConsignmentCode
	for _, c := range keys(w.State().Consignments) {
		if like(w.State().Consignments[c]) {
			out = append(out, c)
		}
	}
	return one(w, out, "consignment")
}

func (w *Walk) ship() {
	b := core.Ship{Consignment: w.consignment(func(c core.Consignment) bool { return c.Gone.IsZero() }), Vehicle: "EQ26 UAL", HandedTo: core.SignedOnPaper, Carriers: w.own()}
	c := core.Command{Body: b, Station: "DOCK-1"}
	if w.now("agreed") {
		b.Consents = Consents(w.State(), b.Consignment, "first part")
		c.Body, c.Confirm = b, []string{"order-short"}
	}
	w.send("ship", c, "P25", "P03")
}

func (w *Walk) arrive() {
	again := w.UpTo(9, "again") == 9
	c := w.consignment(func(c core.Consignment) bool { return !c.Gone.IsZero() && (again || c.Received.IsZero()) })
	b, kind := core.ReceiveAtSite{Consignment: c}, "receive-at-site"
	on := w.State().Consignments[c].Pallets
	switch w.UpTo(6, "how it came") {
	case 1:
		b.Boxes, kind = []core.PalletCode{one(w, on, "box")}, "receive one box"
	case 2:
		b.Missing, kind = []core.PalletCode{one(w, on, "missing")}, "receive, a box missing"
	case 3, 4:
		l := one(w, w.State().LotsAt(core.Place{Kind: core.InConsignment, Ref: string(c)}), "counted")
		n := core.SiteCount{Lot: l.ID, Found: w.UpTo(l.Qty, "found"), Why: "dented"}
		n.Damaged = w.UpTo(n.Found, "damaged")
		b.Counts, kind = []core.SiteCount{n}, "receive short or damaged"
	case 5:
		l := one(w, w.State().LotsAt(core.Place{Kind: core.InConsignment, Ref: string(c)}), "whose")
		b.Order, kind = l.Owner.Order, "receive one order"
	}
	w.at(kind, b, Site, "P27")
}

// turnUp finds parts that were missing from a consignment, mostly from a box of
// it that came.
func (w *Walk) turnUp() {
	var lost []core.Lot
	anyBox := w.UpTo(9, "any box") == 9
	for _, id := range keys(w.State().Lots) {
		l := w.State().Lots[id]
		c := w.State().Consignments[core.ConsignmentCode(l.Place.Ref)]
		if l.Place.Kind == core.Unexplained && l.Lost > 0 && (slices.Contains(c.Came, l.Box) || c.Code != "" && anyBox) {
			lost = append(lost, l)
		}
	}
	l := one(w, lost, "missing")
	w.at("turn-up", core.TurnUp{Consignment: core.ConsignmentCode(l.Place.Ref),
		Finds: []core.Pick{{Lot: l.ID, Qty: 1 + w.UpTo(l.Lost-1+w.UpTo(9, "too many")/9, "found")}}}, Site, "P27")
}

// site works at the site, or sends parts back.
func (w *Walk) site() {
	l := one(w, w.atTheSite(), "lot at the site")
	next := core.StageName("unpack")
	for _, done := range []core.StageName{"fit-out", "accept"} {
		if l.Facts.At(core.Fact{Name: map[core.StageName]string{"fit-out": core.IsUnpacked, "accept": core.IsFitted}[done]}, w.Now()) == core.Yes {
			next = done
		}
	}
	b := core.WorkAtSite{Stage: one(w, []core.StageName{next, next, "return", "accept"}, "stage"), Note: "dented",
		Picks: []core.Pick{{Lot: l.ID, Qty: w.some(l)}}}
	kind := "work at site"
	if b.Stage == "return" {
		kind = "return from site"
	}
	w.at(kind, b, Site, "P27")
}
