package app

import (
	"slices"
	"strconv"
	"time"

	"tagalong/internal/core"
)

// drawing makes the OrderLots of one world. Most lots of an order have come as
// far as one another: what follows from that alone is made once.
type drawing struct {
	w       core.World
	items   map[core.ItemRev]drawnItem
	courses map[string]course
	places  map[spotted]string
}

// spotted is all that a pallet's place is said by.
type spotted struct {
	bound, at core.StationID
	slot      string
	truck     core.ConsignmentCode
}

// drawnItem is what is shown of a lot's item.
type drawnItem struct {
	name  string
	faces []core.Face // to be coated
}

// course is what a lot's route and the steps done of it come to.
type course struct {
	strip []StripMark
	next  *core.Step
	stage core.Stage // of next
}

func orderLot(w core.World, l core.Lot) OrderLot {
	ol := OrderLot{Lot: l}
	(&drawing{w: w}).draw(&ol)
	return ol
}

// draw adds to a lot all that is shown of it.
func (d *drawing) draw(ol *OrderLot) {
	l, w := &ol.Lot, &d.w
	item, c := d.item(l.Item), d.course(l)
	ol.Name, ol.Coat, ol.Strip, ol.Next, ol.Stage = item.name, len(item.faces) > 0, c.strip, c.next, c.stage
	ol.Reach, ol.AtSite, ol.Back = reachOf(w, l, item.faces), siteReach(l, w.Now), returnOf(w, l)
	switch l.Place.Kind {
	case core.AtSite:
		ol.Station = siteName(w.Book, l.Place.Ref)
	case core.OnPallet:
		if p, ok := w.State.Pallets[core.PalletCode(l.Place.Ref)]; ok {
			ol.Station = stationName(w.Book, p.Station)
		}
	case core.InBuild:
		if b, ok := w.State.Builds[core.BuildCode(l.Place.Ref)]; ok {
			ol.Station = stationName(w.Book, b.Station)
		}
	}
	if ol.Reach >= Shipped {
		return
	}
	if stop, ok := stopOf(w.State, l); ok {
		ol.Held, ol.Why, ol.HeldAt = true, stop.why, inZone(stop.since, w.Book)
	}
}

func (d *drawing) item(id core.ItemRev) drawnItem {
	item, known := d.items[id]
	if !known {
		item = drawnItem{itemName(d.w.Book, id), d.w.Book.Items[id].Faces()}
		if d.items == nil {
			d.items = map[core.ItemRev]drawnItem{}
		}
		d.items[id] = item
	}
	return item
}

// place says where a pallet is.
func (d *drawing) place(p *core.PalletRow) string {
	at := spotted{p.Bound, p.Station, p.Slot, p.Consignment}
	said, known := d.places[at]
	if !known {
		said = palletPlace(d.w, *p, inZone(d.w.Now, d.w.Book))
		if d.places == nil {
			d.places = map[spotted]string{}
		}
		d.places[at] = said
	}
	return said
}

func (d *drawing) course(l *core.Lot) course {
	var room [128]byte
	key := appendCourse(room[:0], l)
	if c, known := d.courses[string(key)]; known {
		return c
	}
	b := d.w.Book
	c := course{strip: strip(b, *l)}
	if next := core.NextSteps(b, *l); len(next) > 0 {
		c.next = &next[0]
		c.stage, _ = b.Table.Stage(next[0].Stage)
		if c.stage.Name == "" {
			c.stage = core.Stage{Name: next[0].Stage, Title: string(next[0].Stage)}
		}
	}
	if d.courses == nil {
		d.courses = map[string]course{}
	}
	d.courses[string(key)] = c
	return c
}

// appendCourse writes all of a lot that its course depends on.
func appendCourse(to []byte, l *core.Lot) []byte {
	leg := func(r core.RouteRef, done []int) {
		to = strconv.AppendInt(append(append(to, r.Name...), 0), int64(r.Version), 10)
		for _, no := range done {
			to = strconv.AppendInt(append(to, ' '), int64(no), 10)
		}
	}
	leg(l.Route, l.Done)
	if l.Rework != nil {
		to = append(to, 0)
		leg(l.Rework.Route, l.Rework.Done)
	}
	return to
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

func reachOf(w *core.World, l *core.Lot, faces []core.Face) Reach {
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
	case finished(l, faces, w.Now):
		return Finished
	}
	return InWork
}

func gone(s *core.State, l *core.Lot) bool {
	c, ok := consignmentOf(s, l)
	return ok && !c.Gone.IsZero()
}

func loaded(s *core.State, l *core.Lot) bool { _, ok := consignmentOf(s, l); return ok }

func consignmentOf(s *core.State, l *core.Lot) (core.Consignment, bool) {
	code := core.ConsignmentCode(l.Place.Ref)
	if l.Place.Kind == core.OnPallet {
		code = s.Pallets[core.PalletCode(l.Place.Ref)].Consignment
	}
	c, ok := s.Consignments[code]
	return c, ok && code != ""
}

// finished: every face asked is accepted; a part without a finish had its final
// check, a kit its kit check, a bought item its acceptance.
func finished(l *core.Lot, faces []core.Face, now time.Time) bool {
	for _, face := range faces {
		if l.Facts.At(core.Fact{Name: core.CoatAccepted, Of: string(face)}, now) != core.Yes {
			return false
		}
	}
	if len(faces) > 0 {
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
func stopOf(s *core.State, l *core.Lot) (stop, bool) {
	var found []stop
	if h, ok := core.HeldBy(s, *l); ok {
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
	for i := range lots {
		least = min(least, lots[i].progress())
	}
	return least
}

func (l *OrderLot) progress() int {
	if len(l.Strip) == 0 {
		return 1000
	}
	done := 0
	for _, m := range l.Strip {
		if m.Done {
			done++
		}
	}
	return 1000 * done / len(l.Strip)
}
