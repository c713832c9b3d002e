package shopgen

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// cutDeed brings one of an order's nests further: a sheet received, taken to a
// laser, cut, taken to a bench, broken out.
func (h *hands) cutDeed(o core.Order) deed {
	for _, n := range h.nests(o.No) {
		material, ok := h.materialOf(n)
		if !ok {
			continue
		}
		sheet, uncut := h.furthest(material)
		if !slices.Contains(h.cutting, o.No) && (sheet.Code == "" || uncut) {
			continue
		}
		if d := h.sheetDeed(sheet, material, n); d.do != nil {
			return d
		}
	}
	return deed{}
}

// nests lists an order's nests still to be broken out, those of one material by
// chance in front: the more of it is left, the likelier, so that whole sets come
// together.
func (h *hands) nests(no string) []core.Nest {
	var out []core.Nest
	for _, id := range slices.Sorted(maps.Keys(h.state.Nests)) {
		if n := h.state.Nests[id]; !n.Separated && h.cuts(n, no) {
			out = append(out, n)
		}
	}
	if len(out) > 0 {
		first := out[h.rng.IntN(len(out))].Material
		slices.SortStableFunc(out, func(a, b core.Nest) int { return other(a, first) - other(b, first) })
	}
	return out
}

func other(n core.Nest, material core.ItemRev) int {
	if n.Material == material {
		return 0
	}
	return 1
}

// cuts reports whether a nest cuts for an order, and for none of the story's.
func (h *hands) cuts(n core.Nest, no string) bool {
	mine := false
	for _, p := range n.Parts {
		if ofStory(p.Owner.Order) {
			return false
		}
		mine = mine || p.Owner.Order == no
	}
	return mine
}

// materialOf is what a nest is cut from; a remake's nest leaves that open.
func (h *hands) materialOf(n core.Nest) (core.ItemRev, bool) {
	if n.Material.Item != "" || len(n.Parts) == 0 {
		return n.Material, n.Material.Item != ""
	}
	return materialFor(h.book, h.book.Items[n.Parts[0].Item])
}

// furthest is the sheet of a material that is nearest to being broken out, and
// whether it still lies uncut where it was received.
func (h *hands) furthest(material core.ItemRev) (best core.PalletRow, uncut bool) {
	most := -1
	for _, row := range h.sheets(material) {
		if n := h.progress(row); n > most {
			best, most = row, n
		}
	}
	return best, most == 0
}

// progress is how far a sheet has come, from goods-in to the bench.
func (h *hands) progress(row core.PalletRow) int {
	at := h.book.Stations[row.Station]
	n := 0
	if _, waits := h.waitsFor(h.lots(row.Code)[0], "separate"); waits {
		n = 4
	}
	switch {
	case row.Bound != "":
		n++
	case at.Does("cut") || at.Bench:
		n += 2
	}
	return n
}

// sheetDeed is what comes next for a sheet.
func (h *hands) sheetDeed(row core.PalletRow, material core.ItemRev, n core.Nest) deed {
	if row.Code == "" {
		return deed{about: material.Key(), do: func() error { return h.receive(material) }}
	}
	if row.Bound != "" {
		return deed{about: string(row.Code), do: func() error {
			h.pass(3, 9)
			_, err := h.do(row.Bound, core.TakeIn{Pallet: row.Code})
			return err
		}}
	}
	at, l := h.book.Stations[row.Station], h.lots(row.Code)[0]
	next := core.NextSteps(h.book, l)
	if len(next) == 0 {
		return deed{}
	}
	stage := next[0].Stage
	switch {
	case at.Does(stage) && stage == "separate":
		return deed{about: string(row.Code), do: func() error { return h.breakOut(row, n) }}
	case at.Does(stage):
		return deed{about: string(row.Code), do: func() error { _, err := h.sign(row.Code, stage); return err }}
	}
	to, err := h.machineFor(stage, l)
	if err != nil {
		return deed{}
	}
	return h.onward(row.Code, to, false)
}

// machineFor is the laser or bench for a sheet or bar: bars go to the last one
// of the lasers, which takes sections, sheets to the others.
func (h *hands) machineFor(stage core.StageName, l core.Lot) (core.StationID, error) {
	if stage != "cut" {
		return h.stationFor(stage, l, "")
	}
	var lasers []core.Station
	for _, st := range h.book.Stations {
		if st.Does(stage) {
			lasers = append(lasers, st)
		}
	}
	slices.SortFunc(lasers, func(a, b core.Station) int {
		return cmp.Or(a.Order-b.Order, strings.Compare(string(a.ID), string(b.ID)))
	})
	if len(lasers) < 2 {
		return h.stationFor(stage, l, "")
	}
	flat, tube := lasers[:len(lasers)-1], lasers[len(lasers)-1]
	if h.book.Items[l.Item].Kind == core.BarItem {
		return tube.ID, nil
	}
	best := slices.MinFunc(flat, func(a, b core.Station) int { return h.crowd(a.ID) - h.crowd(b.ID) })
	return best.ID, nil
}

// receive takes in one more sheet or bar of a material.
func (h *hands) receive(material core.ItemRev) error {
	now := h.clock.Now().In(h.zone)
	heat := "H" + now.Format("06") + "-" + now.Format("0102")
	return h.takeGoods(core.ReceiveGoods{Item: material, Qty: 1, Heat: heat, Label: received + now.Format("0102-1504"), Note: "certificate MC " + heat})
}

// goods takes in bought goods for an order.
func (h *hands) goods(item core.ItemRev, qty int, owner core.Owner) error {
	now := h.clock.Now().In(h.zone)
	return h.takeGoods(core.ReceiveGoods{Item: item, Qty: qty, Owner: owner, Heat: string(item.Item) + now.Format(" 06-01"),
		Label: received + now.Format("0102-1504"), Expires: core.DateOf(now.AddDate(1, 6, 0))})
}

func (h *hands) takeGoods(c core.ReceiveGoods) error {
	stage, _ := h.book.Table.Stage("goods-in")
	who, err := h.who("GOODS-1", stage, core.Step{}, nil)
	if err != nil {
		return err
	}
	c.Identified, c.Checks = true, h.readings(core.Step{Checks: core.BirthChecks(h.book, c.Item, "goods-in")})
	h.pass(5, 12)
	_, err = h.do("GOODS-1", c, who)
	return err
}

// breakOut ticks a nest off. Parts of one order that go the same way share a
// pallet, one that stands at the bench already where there is one.
func (h *hands) breakOut(row core.PalletRow, n core.Nest) error {
	c := core.Separate{Sheet: row.Code, Nest: n.ID}
	if next := core.NextSteps(h.book, h.lots(row.Code)[0]); len(next) > 0 {
		c.Checks = h.readings(next[0])
	}
	letters := map[string]string{}
	for _, p := range n.Parts {
		key := p.Owner.Order + " " + h.way(p.Item)
		to := h.standing(row.Station, key)
		if to == "" {
			if letters[key] == "" {
				letters[key] = string(rune('A' + len(letters)))
			}
			to = core.PalletCode("new:" + letters[key])
		}
		c.Ticks = append(c.Ticks, core.PartTick{Line: p.No, Good: p.Qty, To: to,
			Checks: h.readings(core.Step{Checks: core.BirthChecks(h.book, p.Item, "cut", "separate")})})
	}
	stage, _ := h.book.Table.Stage("separate")
	who, err := h.who(row.Station, stage, core.Step{}, nil)
	if err != nil {
		return err
	}
	h.pass(8, 16)
	_, err = h.do(row.Station, c, who)
	return err
}

// standing is a pallet at a bench that carries parts of the same order going
// the same way, none of them worked on yet, with room for more.
func (h *hands) standing(at core.StationID, key string) core.PalletCode {
	for _, code := range slices.Sorted(maps.Keys(h.state.Pallets)) {
		row := h.state.Pallets[code]
		if row.Kind != core.PalletCarrier || row.Station != at || row.Bound != "" || h.apart(code) {
			continue
		}
		lots := h.lots(code)
		if len(lots) > 0 && len(lots) < 4 && !slices.ContainsFunc(lots, func(l core.Lot) bool {
			return l.Owner.Order+" "+h.way(l.Item) != key
		}) {
			return code
		}
	}
	return ""
}

// way groups items by where they go: components by the stage that joins them,
// parts by the stages of their route.
func (h *hands) way(item core.ItemRev) string {
	if stage, joins := h.joinedBy(item); joins {
		return string(stage)
	}
	var out []string
	for _, s := range h.book.Routes[h.book.Items[item].Route].Steps {
		out = append(out, string(s.Stage))
	}
	return strings.Join(out, " ")
}

// joinedBy is the stage that begins the assembly an item goes into.
func (h *hands) joinedBy(item core.ItemRev) (core.StageName, bool) {
	best := core.StageName("")
	for _, rev := range h.book.Items {
		steps := h.book.Routes[rev.Route].Steps
		if len(steps) == 0 || !slices.ContainsFunc(rev.Bill, func(c core.Component) bool { return c.Item == item }) {
			continue
		}
		if best == "" || steps[0].Stage < best {
			best = steps[0].Stage
		}
	}
	return best, best != ""
}
