package station_test

import (
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// counting is a source of bytes that are the same every time for one n.
type counting struct{ n, i byte }

func (c *counting) Read(p []byte) (int, error) {
	for i := range p {
		c.i++
		p[i] = (c.n*7 + c.i*11 + c.n*c.i) % 31
	}
	return len(p), nil
}

// pallet is the code of the shop's nth pallet.
func pallet(n int) core.PalletCode {
	c, err := code.New(code.Pallet, &counting{n: byte(n)})
	if err != nil {
		panic(err)
	}
	return core.PalletCode(c)
}

var (
	mixed      = pallet(1) // three lots of two orders, at the rounding line
	short      = pallet(2) // one lot, at the rounding line
	coming     = pallet(3) // bound for the rounding line
	held       = pallet(4) // held, at the rounding line
	outside    = pallet(5) // at the pallet store
	emptied    = pallet(6)
	folded     = pallet(7) // at a brake
	framed     = pallet(8) // a welded frame, at the inspection bay
	sharp      = pallet(9) // unrounded and rounded together, at the booth
	onward     = pallet(10)
	changed    = pallet(11) // its print is out of date
	pretreated = pallet(12) // pretreated, at the booth
	parts      = pallet(13) // components, at a weld bench
	cracked    = pallet(15) // a frame at the inspection bay
	alike      = pallet(16) // two equal lots, at the rounding line
	unreleased = pallet(17) // a panel at the pretreat line whose weld nobody released
	beside     = pallet(18) // such a panel at the booth, beside covers that may be coated
	touched    = pallet(20) // posts at a weld bench whose disc has touched stainless
	sent       = pallet(19) // rounded at the rounding line, on its way to a brake, with a note
	doubtful   = pallet(14) // nobody knows whether its edges were rounded
)

func line(order string, n int) core.Owner { return core.Owner{Order: order, Line: n} }

// noted puts on record what the rounding line signed of the sent pallet, and its
// words for whoever takes it in; and a note on the long one.
func noted(s *apptest.Live) {
	at := apptest.Now.Add(-time.Hour)
	write := func(p core.PalletCode, id core.EventID, kind core.EventKind, station core.StationID, stage core.StageName, note string) {
		e := core.Event{ID: id, Kind: kind, Happened: at, Station: station, Stage: stage, Note: note, Pallets: []core.PalletCode{p},
			Signed: []core.Signature{{Person: operator, At: at}}}
		for _, l := range s.World.State.LotsAt(core.On(p)) {
			e.Lots = append(e.Lots, core.LotCount{Lot: l.ID, Item: l.Item, Owner: l.Owner, Good: l.Qty})
		}
		s.Events = append(s.Events, app.Recorded{Seq: int64(len(s.Events) + 1), Recorded: at, Event: e})
		at = at.Add(5 * time.Minute)
	}
	write(sent, "n1", core.EvTakenIn, "ROUND-AL", "", "")
	write(sent, "n2", core.EvSigned, "ROUND-AL", "edge-round", "")
	write(sent, "n3", core.EvHandedOver, "ROUND-AL", "", "two skins have a scratch on the inside, fold those last")
	if _, there := s.World.State.Pallets[long]; there {
		write(long, "n4", core.EvHandedOver, "ROUND-AL", "", "the film came off the last forty: keep a clean sheet under them on the table, and look at the marked ones before the tool is changed; the rest is as the drawing says, both flanges long side first")
	}
}

// floor is the shop the tests look at.
func floor(t testing.TB) *apptest.Floor {
	t.Helper()
	f := apptest.New(t)
	f.Pallet(mixed, "ROUND-AL")
	f.Lot(mixed, "RT-2400", line("O-4101", 1), 4, "edge-round")
	f.Lot(mixed, "LB-SIDE", line("O-4102", 1), 2, "edge-round")
	f.Lot(mixed, "SC-COVER", line("O-4101", 1), 18, "edge-round")
	f.Pallet(short, "ROUND-AL")
	f.Lot(short, "LB-BLADE", line("O-4104", 1), 24, "edge-round")
	f.Pallet(coming, "")
	f.Change(coming, func(p *core.PalletRow) { p.Station, p.Bound = "BENCH-1", "ROUND-AL" })
	f.Lot(coming, "DF-STILE", line("O-4109", 1), 12, "edge-round")
	f.Pallet(held, "ROUND-AL")
	f.Lot(held, "DF-RAIL", line("O-4102", 1), 6, "edge-round")
	f.Hold("H1", core.HoldPallet, string(held), "rails mixed up with stiles", 2*time.Hour)
	f.Pallet(outside, "STORE-1")
	f.Lot(outside, "SK-1200", line("O-4102", 1), 2, "edge-round")
	f.Pallet(emptied, "ROUND-AL")
	f.Change(emptied, func(p *core.PalletRow) { p.GoneTo = []core.PalletCode{mixed, outside} })
	f.Pallet(folded, "BRAKE-1")
	f.Lot(folded, "SK-1200", line("O-4104", 1), 6, "fold")
	f.Pallet(onward, "ROUND-AL")
	f.Lot(onward, "ST-1900", line("O-4101", 1), 10, "fold")
	f.Pallet(changed, "ROUND-AL")
	gone := f.Lot(changed, "SC-COVER", line("O-4104", 1), 8, "edge-round")
	f.Lot(changed, "DF-RAIL", line("O-4104", 1), 3, "edge-round")
	f.ChangeLot(gone, func(l *core.Lot) { l.Qty = 6 })
	f.Pallet(pretreated, "BOOTH-1")
	f.Lot(pretreated, "SC-COVER", line("O-4102", 1), 8, "coat")
	f.Pallet(sharp, "BOOTH-1")
	f.Lot(sharp, "SC-COVER", line("O-4101", 1), 6, "coat")
	bare := f.Lot(sharp, "SC-COVER", line("O-4104", 1), 18, "coat")
	f.ChangeLot(bare, func(l *core.Lot) { delete(l.Facts, core.Fact{Name: core.EdgesRounded}) })
	f.Pallet(doubtful, "BOOTH-1")
	unsure := f.Lot(doubtful, "SC-COVER", line("O-4109", 1), 5, "coat")
	f.ChangeLot(unsure, func(l *core.Lot) {
		l.Facts[core.Fact{Name: core.EdgesRounded}] = core.Standing{Value: core.Unsure, By: "E0"}
	})
	f.Pallet(framed, "INSPECT-1")
	f.Lot(framed, "BF-2400", line("O-4108", 1), 1, "weld-inspect")
	f.ChangeLot(f.World.State.LotsAt(core.On(framed))[0].ID, func(l *core.Lot) {
		l.Makers = map[string][]core.PersonID{"weld": {welder}}
	})
	f.Pallet(cracked, "INSPECT-1")
	f.Lot(cracked, "BF-2400", line("O-4102", 1), 1, "weld-inspect")
	f.Pallet(alike, "ROUND-AL")
	f.Lot(alike, "ST-1900", line("O-4110", 1), 3, "edge-round")
	f.Lot(alike, "ST-1900", line("O-4110", 1), 4, "edge-round")
	f.Pallet(unreleased, "PRETREAT-1")
	f.Lot(unreleased, "WP-2400", line("O-4101", 1), 1, "weld-inspect")
	f.Pallet(beside, "BOOTH-1")
	f.Lot(beside, "SC-COVER", line("O-4102", 1), 8, "coat")
	f.Lot(beside, "WP-2400", line("O-4102", 1), 1, "weld-inspect")
	f.Pallet(touched, "WELD-3")
	f.Lot(touched, "PO-1900", line("O-4101", 1), 3, "hand-round")
	f.World.State.Abrasives["DISC-W3"] = core.Abrasive{ID: "DISC-W3", Touched: []core.Metal{core.Stainless}}
	f.Pallet(sent, "")
	f.Change(sent, func(p *core.PalletRow) { p.Bound = "BRAKE-1" })
	f.Lot(sent, "SK-1200", line("O-4104", 1), 6, "fold")
	f.Pallet(parts, "WELD-1")
	for _, c := range f.World.Book.Items[f.Item("BF-2400")].Bill[:2] {
		f.Lot(parts, c.Item.Item, line("O-4101", 1), c.Qty, "")
	}
	return f
}
