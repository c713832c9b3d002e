package shopgen

import (
	"maps"
	"slices"
	"strings"
	"time"

	"tagalong/internal/core"
)

// story are the orders that the last three days are about. Their parts are
// moved by the story alone, and after it by whoever tries the demo out.
var story = []string{"O-4101", "O-4105", "O-4107", "O-4109"}

// Story names the orders of the story: "O-4101, O-4105".
func Story() string { return strings.Join(story, ", ") }

// ofStory reports whether an order is one of the story's.
func ofStory(no string) bool { return slices.Contains(story, no) }

// deed is one command that somebody in the shop might send now.
type deed struct {
	about  string // the pallet, unit or truck it is about
	urgent bool   // a pretreated pallet: it must be coated before that lapses
	do     func() error
}

// hands are the people of the shop going on with their work: for one order, one
// command at a time, chosen by looking at what there is. They know the state
// that was loaded, and nothing of what they did before.
type hands struct {
	*floor
	// apart reports whether a pallet, sheet or box is left alone.
	apart func(core.PalletCode) bool
	// strange reports whether a unit was gathered by somebody else.
	strange func(core.Build) bool
	// cutting are the orders for which another sheet may be begun.
	cutting []string
	// road is how long a truck is on its way.
	road time.Duration
	// home is how long after that carriers of the shop's own come back.
	home time.Duration
	// flawed is how often in a thousand a weld turns out bad; folds do so less.
	flawed int
	// spoils is an item of which the next one folded turns out bad; none, once
	// that has happened.
	spoils core.ItemID
}

// serve sends the next command for an order. It reports whether there was
// anything to do.
func (h *hands) serve(no string) (bool, error) {
	d, there := h.choose(no)
	if !there {
		return false, nil
	}
	return true, d.do()
}

// choose picks what to do next for an order: what can't wait, else by chance.
func (h *hands) choose(no string) (deed, bool) {
	deeds := h.deeds(no)
	if len(deeds) == 0 {
		return deed{}, false
	}
	if i := slices.IndexFunc(deeds, func(d deed) bool { return d.urgent }); i >= 0 {
		return deeds[i], true
	}
	return deeds[h.rng.IntN(len(deeds))], true
}

// hurried reports whether an order has a pallet that must be coated soon.
func (h *hands) hurried(no string) bool { return slices.ContainsFunc(h.palletsOf(no), h.pretreated) }

// deeds lists what could be done for an order now.
func (h *hands) deeds(no string) []deed {
	o, there := h.state.Orders[no]
	if !there {
		return nil
	}
	out := h.problemDeeds(no)
	for _, code := range h.palletsOf(no) {
		if d := h.palletDeed(code); d.do != nil {
			out = append(out, d)
		}
	}
	for _, next := range []func(core.Order) deed{h.unitDeed, h.dockDeed, h.kitDeed, h.cutDeed} {
		if d := next(o); d.do != nil {
			out = append(out, d)
		}
	}
	return out
}

// palletsOf lists the pallets with parts of an order on them that are not left
// alone and not loaded.
func (h *hands) palletsOf(no string) []core.PalletCode {
	found := map[core.PalletCode]bool{}
	for _, l := range h.lotsOf(no) {
		if l.Place.Kind != core.OnPallet {
			continue
		}
		code := core.PalletCode(l.Place.Ref)
		if row := h.state.Pallets[code]; row.Kind != core.SheetCarrier && row.Consignment == "" && !h.apart(code) {
			found[code] = true
		}
	}
	return slices.Sorted(maps.Keys(found))
}

// palletDeed is what comes next for a pallet: to be taken in, worked on, printed
// or sent on.
func (h *hands) palletDeed(code core.PalletCode) deed {
	row := h.state.Pallets[code]
	urgent := h.pretreated(code)
	if row.Bound != "" {
		return deed{string(code), urgent, func() error {
			h.pass(3, 9)
			_, err := h.do(row.Bound, core.TakeIn{Pallet: code, PrintSeen: lastPrint(row)})
			return err
		}}
	}
	if row.Station == "" {
		return deed{}
	}
	l, step, ok := h.first(&job{pallet: code, stop: h.waitsForSet})
	if !ok {
		to := h.rest(code)
		if to == "" {
			return deed{}
		}
		if d := h.together(row, to); d.do != nil || to == row.Station {
			return d
		}
		return h.onward(code, to, urgent)
	}
	if !urgent && (step.Stage == "pretreat" || step.Stage == "key-and-clean") && !h.mayPretreat() {
		return deed{}
	}
	at, err := h.stationFor(step.Stage, l, row.Station)
	if err != nil {
		return deed{}
	}
	if at != row.Station {
		return h.onward(code, at, urgent)
	}
	return deed{string(code), urgent, func() error {
		_, err := h.sign(code, step.Stage, h.flaws(code, step)...)
		return err
	}}
}

// onward sends a pallet to a station, with a traveller that says what is on it.
func (h *hands) onward(code core.PalletCode, to core.StationID, urgent bool) deed {
	row := h.state.Pallets[code]
	if h.stale(row) {
		return deed{string(code), urgent, func() error { return h.print(code, row.Station) }}
	}
	return deed{string(code), urgent, func() error {
		h.pass(1, 4)
		_, err := h.do(row.Station, core.HandOver{Pallet: code, To: to})
		return err
	}}
}

// stale reports whether a pallet's last print no longer says what is on it.
func (f *floor) stale(row core.PalletRow) bool {
	n := len(row.Prints)
	if n == 0 {
		return true
	}
	changes, _ := core.StalePrint(f.state, f.book, row, row.Prints[n-1].No)
	return len(changes) > 0
}

// rest is where a pallet goes on which nothing is left to do: components to the
// bench of their assembly, finished parts to the dock. Empty: it stays.
func (h *hands) rest(code core.PalletCode) core.StationID {
	to := core.StationID("")
	for _, l := range h.lots(code) {
		if _, held := core.HeldBy(h.state, l); held || h.unfinished(l) {
			return ""
		}
		if l.Facts.At(core.Fact{Name: core.IsPacked}, h.clock.Now()) == core.Yes {
			return ""
		}
		if at := h.benchOf(l); at != "" {
			to = at
		}
	}
	return to
}

// unfinished reports whether something is left to do on a lot before it can go
// into an assembly or onto a truck.
func (h *hands) unfinished(l core.Lot) bool {
	next := core.NextSteps(h.book, l)
	return len(next) > 0 && !h.waitsForSet(l, next[0])
}

// waitsForSet: bought goods are packed only where they travel by themselves;
// those of an order go into its kit.
func (h *hands) waitsForSet(l core.Lot, s core.Step) bool {
	if s.Stage != "pack" || l.Owner.Stock() || h.book.Items[l.Item].Kind != core.BoughtItem {
		return false
	}
	_, joins := h.joinedBy(l.Item)
	return joins
}

// together puts what is bound for a bench on the pallet of the same order that
// stands beside it, so that a set doesn't take up the whole floor.
func (h *hands) together(row core.PalletRow, to core.StationID) deed {
	mine := h.lots(row.Code)
	for _, code := range h.palletsOf(mine[0].Owner.Order) {
		other, lots := h.state.Pallets[code], h.lots(code)
		if code >= row.Code || other.Station != row.Station || other.Bound != "" || other.Kind != row.Kind || len(lots)+len(mine) > 8 ||
			h.rest(code) != to || h.way(lots[0].Item) != h.way(mine[0].Item) {
			continue
		}
		if h.stale(row) {
			return deed{about: string(row.Code), do: func() error { return h.print(row.Code, row.Station) }}
		}
		c := core.Divide{From: row.Code, To: code, PrintSeen: lastPrint(row)}
		for _, l := range mine {
			c.Picks = append(c.Picks, core.Pick{Lot: l.ID, Qty: l.Qty})
		}
		return deed{about: string(row.Code), do: func() error {
			h.pass(4, 8)
			_, err := h.do(row.Station, c)
			return err
		}}
	}
	return deed{}
}

// pretreated reports whether a lot on a pallet waits for its coat, pretreated.
func (h *hands) pretreated(code core.PalletCode) bool {
	return slices.ContainsFunc(h.lots(code), func(l core.Lot) bool {
		return l.Facts.At(core.Fact{Name: core.Pretreated}, h.clock.Now()) == core.Yes && len(core.NextSteps(h.book, l)) > 0
	})
}

// mayPretreat: a pretreatment that waits over a night or a Sunday lapses.
func (h *hands) mayPretreat() bool { return h.clock.Turn() > 4*time.Hour }

// received begins the number of a sheet that the hands took in themselves.
const received = "R-"

// sheets lists the sheets and bars of a material that the hands may cut.
func (h *hands) sheets(material core.ItemRev) []core.PalletRow {
	var out []core.PalletRow
	for code, row := range h.state.Pallets {
		if row.Kind != core.SheetCarrier || !strings.HasPrefix(row.Label, received) || h.apart(code) {
			continue
		}
		if lots := h.lots(code); len(lots) == 1 && lots[0].Item == material {
			out = append(out, row)
		}
	}
	slices.SortFunc(out, func(a, b core.PalletRow) int { return strings.Compare(string(a.Code), string(b.Code)) })
	return out
}
