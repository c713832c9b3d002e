package shopgen

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"tagalong/internal/core"
)

// past are the orders of the weeks before, and how many days ago each was
// promised for.
var past = []struct {
	no  string
	ago int
	wish
}{
	{"O-4092", 13, wish{customer: "Tamsford Printworks", site: "SITE-LARKFIELD", reference: "TP-0081", lines: []core.Component{of("LB-760", 3)}}},
	{"O-4094", 11, wish{customer: "Dunvale College", reference: "DC/EST/61",
		lines: []core.Component{of("RT-1800", 2), of("CT-1800", 2), of("SC-COVER", 4)}}},
	{"O-4096", 8, wish{customer: "Ostrey Laboratories", site: "SITE-FARNESS", reference: "OL-5498", longHaul: true,
		lines: []core.Component{of("WP-1800", 2), of("EW-1200", 1)}}},
	{"O-4098", 6, wish{customer: "Merrowdale Clinics", site: "SITE-LARKFIELD", reference: "MC-26-038",
		lines: []core.Component{of("BF-1800", 1), of("DL-L", 1), of("DL-R", 1)}}},
}

const (
	// storyTakes is the working time at the end that the story fills.
	storyTakes = 50 * time.Hour
	// crowded and busy are how many pallets stand in the shop, and how many of
	// them have work left on them, before no other sheet is begun. The story's
	// are not counted.
	crowded = 46
	busy    = 40
	// cutAtOnce is for how many orders sheets are cut at one time.
	cutAtOnce = 2
	// road is how long a truck is on its way to a site.
	road = 5 * time.Hour
	// home is how long after that carriers come back from there.
	home = 40 * time.Hour
)

// weeks are the weeks before the story: the orders of the time are made and
// sent off, those of the catalogue begun.
func (f *floor) weeks() error {
	var orders []core.Order
	for _, p := range past {
		promised := workday(core.DateOf(f.clock.end().In(f.zone).AddDate(0, 0, -p.ago)))
		orders = append(orders, f.order(p.no, promised, p.wish))
	}
	if err := f.enlist("P02", "orders of the weeks before", orders...); err != nil {
		return err
	}
	f.others = f.newHands()
	f.theirs = true
	defer func() { f.theirs = false }()
	for f.clock.Left() > storyTakes {
		did, err := f.othersWork()
		if err != nil {
			return err
		}
		if !did {
			f.pass(20, 40)
		}
	}
	return nil
}

// newHands are the people who make what the story does not tell of. They touch
// what they made themselves.
func (f *floor) newHands() *hands {
	return &hands{floor: f, flawed: 80, spoils: "SC-COVER", road: road, home: home, apart: func(c core.PalletCode) bool { return !f.own[c] },
		strange: func(core.Build) bool { return false }}
}

// othersWork lets somebody do one thing for an order the story does not tell
// of: the late ones first, then by chance. New sheets are cut for the orders
// promised first, as long as there is not too much on the way.
func (f *floor) othersWork() (bool, error) {
	var trucks []core.Consignment
	for _, code := range slices.Sorted(maps.Keys(f.state.Consignments)) {
		trucks = append(trucks, f.state.Consignments[code])
	}
	if d := f.others.homeDeed(trucks); d.do != nil {
		return true, d.do()
	}
	nos := f.openOrders()
	f.rng.Shuffle(len(nos), func(i, j int) { nos[i], nos[j] = nos[j], nos[i] })
	place := map[string]int{}
	for _, no := range nos {
		place[no] = f.queue(no)
	}
	slices.SortStableFunc(nos, func(a, b string) int { return place[a] - place[b] })
	next := f.cutNext()
	f.others.cutting = nil
	if standing, way := f.floorOf(); standing < crowded && way < busy {
		f.others.cutting = next
	}
	did, err := f.serveOne(nos)
	if did || err != nil || len(next) == 0 || f.others.cutting != nil {
		return did, err
	}
	// A full floor on which nothing can move waits for parts not yet cut.
	f.others.cutting = next[:1]
	return f.serveOne(nos)
}

// serveOne does something for the first order that has anything to do.
func (f *floor) serveOne(nos []string) (bool, error) {
	for _, no := range nos {
		did, err := f.others.serve(no)
		if err != nil {
			return did, fmt.Errorf("order %s: %w", no, err)
		}
		if did {
			return true, nil
		}
	}
	return false, nil
}

// cutNext lists the orders promised first of which something is still to be cut.
func (f *floor) cutNext() []string {
	var out []string
	for _, n := range f.state.Nests {
		if n.Separated || slices.ContainsFunc(n.Parts, func(p core.NestPart) bool { return ofStory(p.Owner.Order) }) {
			continue
		}
		for _, p := range n.Parts {
			if no := p.Owner.Order; no != "" && !slices.Contains(out, no) {
				out = append(out, no)
			}
		}
	}
	slices.SortFunc(out, func(a, b string) int {
		return cmp.Or(strings.Compare(string(f.state.Orders[a].Promised), string(f.state.Orders[b].Promised)), strings.Compare(a, b))
	})
	return out[:min(len(out), cutAtOnce)]
}

// queue is an order's place in the queue: pretreated metal does not wait, and
// what is promised earliest goes before the rest.
func (f *floor) queue(no string) int {
	if f.others.hurried(no) {
		return -1
	}
	for i, p := range past {
		if p.no == no {
			return i
		}
	}
	return len(past)
}

// openOrders lists the orders that the story does not tell of, by number.
func (f *floor) openOrders() []string {
	var out []string
	for no := range f.state.Orders {
		if !ofStory(no) {
			out = append(out, no)
		}
	}
	slices.Sort(out)
	return out
}

// floorOf counts the pallets of the others that stand in the shop, and those of
// them with something left to do on them.
func (f *floor) floorOf() (standing, way int) {
	for code := range f.own {
		row, lots := f.state.Pallets[code], f.lots(code)
		if row.Kind == core.SheetCarrier || row.Station == "" || len(lots) == 0 {
			continue
		}
		standing++
		if slices.ContainsFunc(lots, func(l core.Lot) bool { return len(core.NextSteps(f.book, l)) > 0 }) {
			way++
		}
	}
	return standing, way
}

// noteOwn keeps which pallets the others made. A pallet that an event of theirs
// put first is theirs.
func (f *floor) noteOwn(e core.Event) {
	for _, effect := range e.Effects {
		if p := effect.PalletPut; p != nil && p.Version == 1 {
			f.own[p.Code] = true
		}
	}
}
