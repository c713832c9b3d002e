package app

import (
	"slices"
	"time"

	"tagalong/internal/core"
)

func orderLot(w core.World, l core.Lot) OrderLot {
	rev := w.Book.Items[l.Item]
	ol := OrderLot{Lot: l, Name: itemName(w.Book, l.Item), Coat: len(rev.Faces()) > 0, Strip: strip(w.Book, l)}
	if next := core.NextSteps(w.Book, l); len(next) > 0 {
		ol.Next = &next[0]
		ol.Stage, _ = w.Book.Table.Stage(next[0].Stage)
		if ol.Stage.Name == "" {
			ol.Stage = core.Stage{Name: next[0].Stage, Title: string(next[0].Stage)}
		}
	}
	ol.Reach, ol.AtSite = reachOf(w, l, rev), siteReach(l, w.Now)
	ol.Back = returnOf(w, l)
	if l.Place.Kind == core.AtSite {
		ol.Station = siteName(w.Book, l.Place.Ref)
	}
	if p, ok := w.State.Pallets[core.PalletCode(l.Place.Ref)]; ok && l.Place.Kind == core.OnPallet {
		ol.Station = stationName(w.Book, p.Station)
	}
	if b, ok := w.State.Builds[core.BuildCode(l.Place.Ref)]; ok && l.Place.Kind == core.InBuild {
		ol.Station = stationName(w.Book, b.Station)
	}
	if stop, ok := stopOf(w.State, l); ok && ol.Reach < Shipped {
		ol.Held, ol.Why, ol.HeldAt = true, stop.why, inZone(stop.since, w.Book)
	}
	return ol
}

func itemName(b *core.Book, r core.ItemRev) string {
	if n := b.Items[r].Name; n != "" {
		return n
	}
	return string(r.Item)
}

func stationName(b *core.Book, id core.StationID) string {
	if n := b.Stations[id].Name; n != "" {
		return n
	}
	return string(id)
}

func reachOf(w core.World, l core.Lot, rev core.Revision) Reach {
	yes := func(name string) bool { return l.Facts.At(core.Fact{Name: name}, w.Now) == core.Yes }
	switch {
	case yes(core.IsReceived), l.Place.Kind == core.AtSite:
		return Received
	case yes(core.IsShipped), gone(w.State, l):
		return Shipped
	case l.Place.Kind == core.InConsignment, loaded(w.State, l):
		return Loaded
	case yes(core.IsPacked):
		return Packed
	case finished(l, rev, w.Now):
		return Finished
	}
	return InWork
}

func gone(s *core.State, l core.Lot) bool {
	c, ok := consignmentOf(s, l)
	return ok && !c.Gone.IsZero()
}

func loaded(s *core.State, l core.Lot) bool { _, ok := consignmentOf(s, l); return ok }

func consignmentOf(s *core.State, l core.Lot) (core.Consignment, bool) {
	code := core.ConsignmentCode(l.Place.Ref)
	if l.Place.Kind == core.OnPallet {
		code = s.Pallets[core.PalletCode(l.Place.Ref)].Consignment
	}
	c, ok := s.Consignments[code]
	return c, ok && code != ""
}

// finished: every face asked is accepted; a part without a finish had its final
// check, a kit its kit check, a bought item its acceptance.
func finished(l core.Lot, rev core.Revision, now time.Time) bool {
	for _, face := range rev.Faces() {
		if l.Facts.At(core.Fact{Name: core.CoatAccepted, Of: string(face)}, now) != core.Yes {
			return false
		}
	}
	if len(rev.Faces()) > 0 {
		return true
	}
	for _, f := range []string{core.FinalAccepted, core.KitComplete, core.GoodsAccepted} {
		if l.Facts.At(core.Fact{Name: f}, now) == core.Yes {
			return true
		}
	}
	return false
}

type stop struct {
	why   string
	since time.Time
}

// stopOf finds the oldest open hold or problem that stops the lot.
func stopOf(s *core.State, l core.Lot) (stop, bool) {
	var found []stop
	if h, ok := core.HeldBy(s, l); ok {
		found = append(found, stop{h.Reason, h.At})
	}
	for _, p := range s.Problems {
		if p.Open() && p.Lot == l.ID {
			found = append(found, stop{p.What, p.At})
		}
	}
	if len(found) == 0 {
		return stop{}, false
	}
	return slices.MinFunc(found, func(a, b stop) int { return a.since.Compare(b.since) }), true
}

// holds reports whether one hold, were it open, stops the lot; the core says.
func holds(h core.Hold, l core.Lot) bool {
	h.Released = time.Time{}
	_, stops := core.HeldBy(&core.State{Holds: map[core.HoldID]core.Hold{h.ID: h}}, l)
	return stops
}

func strip(b *core.Book, l core.Lot) []StripMark {
	route, done := b.Routes[l.Route], l.Done
	var out []StripMark
	next := core.NextSteps(b, l)
	add := func(r core.Route, done []int, current bool) {
		for _, s := range r.Steps {
			st, _ := b.Table.Stage(s.Stage)
			out = append(out, StripMark{
				Stage: s.Stage, Title: st.Title, Mark: st.Mark, Hold: st.Hold,
				Done: slices.Contains(done, s.No),
				Next: current && len(next) > 0 && s.No == next[0].No && !slices.Contains(done, s.No),
			})
		}
	}
	if l.Rework != nil {
		add(b.Routes[l.Rework.Route], l.Rework.Done, true)
		return out
	}
	add(route, done, true)
	return out
}

// progress is the share of the route done of the lot furthest behind, per mille.
func progress(lots []OrderLot) int {
	least := 1000
	for _, l := range lots {
		done := 0
		for _, m := range l.Strip {
			if m.Done {
				done++
			}
		}
		if len(l.Strip) > 0 {
			least = min(least, 1000*done/len(l.Strip))
		}
	}
	return least
}
