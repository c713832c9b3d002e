package main

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// scaleItem is a part of the sample catalogue.
var scaleItem = core.ItemRev{Item: "SK-1200", Rev: "D"}

// placed puts an order of so many pallets, a lot on each, at a station, as if
// they had been received there, and prints the traveller of the last.
func (v *visit) placed(no string, pallets int, at core.StationID, as ...func(*core.Lot)) (code core.PalletCode) {
	v.b.Helper()
	now := time.Now().UTC().Truncate(time.Microsecond)
	owner := core.Owner{Order: no, Line: 1}
	order := core.Command{ID: core.CommandID("order-" + no), Happened: now, Body: core.Enlist{Source: "a benchmark", Orders: []core.Order{{
		No: no, Customer: "Scale Works (invented)", Site: "SITE-LARKFIELD", Promised: core.DateOf(now.AddDate(0, 0, 9)),
		Lines: []core.OrderLine{{Owner: owner, Item: scaleItem, Qty: 10 * pallets}}}}}}
	v.run(order, func(w core.World) core.Outcome { return core.Decide(w, order) })
	for i := range pallets {
		id := fmt.Sprintf("%s-%d", no, i)
		v.run(core.Command{ID: core.CommandID(id), Station: at, Body: core.Gather{Item: scaleItem, Owner: owner}}, func(w core.World) core.Outcome {
			code = w.Fresh[0]
			lot := core.Lot{ID: core.LotID(id + "/1"), Item: scaleItem, Owner: owner, Route: w.Book.Items[scaleItem].Route, Place: core.On(code),
				Heats: []string{"H-SCALE"}, Arrived: w.Now}
			for _, set := range as {
				set(&lot)
			}
			return core.Outcome{Events: []core.Event{{ID: core.EventID(id + ".1"), Kind: core.EvGoodsReceived, V: 1, Happened: w.Now, Station: at,
				Pallets: []core.PalletCode{code}, Lots: []core.LotCount{{Lot: lot.ID, Item: lot.Item, Owner: owner, Good: 10}},
				Effects: []core.Effect{
					{PalletPut: &core.PalletRow{Code: code, Kind: core.PalletCarrier, Station: at, Since: w.Now, Version: 1}},
					{LotBorn: &lot},
					{Moved: &core.Move{Lot: lot.ID, Item: lot.Item, From: core.Place{Kind: core.FromSupplier}, To: core.On(code), Qty: 10}},
				}}}}
		})
	}
	v.become(string(at))
	if _, done := v.do(core.PrintTraveller{Pallet: code}); !done {
		v.b.Fatalf("the traveller of %s wasn't printed", code)
	}
	return code
}

// run carries out what a command is decided to come to.
func (v *visit) run(c core.Command, decide func(core.World) core.Outcome) []app.Recorded {
	v.b.Helper()
	a, err := v.svc.Store.Execute(v.b.Context(), c, sha256.Sum256([]byte(c.ID)), decide)
	must(v.b, err)
	if a.Refusal != nil {
		v.b.Fatalf("%s: %+v", c.ID, a.Refusal)
	}
	return a.Events
}

// carried moves the parts of a pallet from one to the next so many times.
func (v *visit) carried(at core.StationID, from core.PalletCode, lot core.LotID, times int) {
	v.b.Helper()
	for i := range times {
		c := core.Command{ID: core.CommandID(fmt.Sprintf("%s-carried-%d", from, i)), Happened: time.Now(), Station: at,
			Body: core.Divide{From: from, Picks: []core.Pick{{Lot: lot, Qty: 10}}}}
		e := v.run(c, func(w core.World) core.Outcome { return core.Decide(w, c) })[0]
		for _, f := range e.Effects {
			if m := f.Moved; m != nil && m.To.Kind == core.OnPallet {
				lot, from = m.Lot, core.PalletCode(m.To.Ref)
			}
		}
	}
}

// quickest asks for a page so many times at a station's tablet.
func (v *visit) quickest(b *testing.B, at core.StationID, path string) time.Duration {
	b.Helper()
	v.become(string(at))
	best := time.Hour
	for range b.N {
		began := time.Now()
		if w := v.get(path); w.Code >= 400 {
			b.Fatalf("%s: %d %.300s", path, w.Code, w.Body)
		}
		best = min(best, time.Since(began))
	}
	return best
}

// BenchmarkOrderOf300Pallets asks for the pages of an order of 3 pallets and of
// one of 300 in the same shop, and for the pages of the shop before and after
// the large one came, and reports how many times as long the large one takes by
// the quickest of each. It may take twice as long at most. A page that counts and
// lists what the small order has not got says so; it may take so little more that
// nobody notices. What is all of an order by what it is for, as a PDF of every
// traveller and the record as JSON, isn't asked for.
func BenchmarkOrderOf300Pallets(b *testing.B) {
	const most, unnoticed = 2.0, time.Millisecond
	v := newVisit(b)
	judge := func(b *testing.B, small, large time.Duration, lists string) {
		b.Helper()
		times := float64(large) / float64(small)
		b.ReportMetric(float64(small.Microseconds())/1000, "ms/3")
		b.ReportMetric(float64(large.Microseconds())/1000, "ms/300")
		b.ReportMetric(times, "times")
		switch {
		case b.N < 20:
		case times > most && (lists == "" || large-small > unnoticed):
			b.Errorf("with 300 pallets it takes %v, %.1f times as long as the %v with 3, more than %.0f", large, times, small, most)
		}
	}
	small := string(v.placed("O-7003", 3, "BRAKE-1"))
	// A small order with so much behind it that its history fills a page, as a large one's does.
	v.carried("WELD-2", v.placed("O-7203", 3, "WELD-2"), "O-7203-2/1", 120)
	shop := []string{"/dock", "/orders", "/wall", "/quality", "/station"}
	before := map[string]time.Duration{}
	for _, path := range shop {
		b.Run("before"+path, func(b *testing.B) { before[path] = v.quickest(b, "DOCK-1", path) })
	}
	large := string(v.placed("O-7300", 300, "BRAKE-2"))
	for _, path := range shop {
		b.Run("shop"+path, func(b *testing.B) { judge(b, before[path], v.quickest(b, "DOCK-1", path), "") })
	}
	packed := func(l *core.Lot) {
		l.Facts = core.Facts{{Name: core.IsPacked}: {Value: core.Yes}, {Name: core.FinalAccepted}: {Value: core.Yes}}
	}
	v.placed("O-7103", 3, "DOCK-1", packed)
	v.placed("O-7400", 300, "DOCK-1", packed)
	for _, x := range []struct {
		name, path string // %s: the order, or the pallet
		of         [2]string
		at         [2]core.StationID
		lists      string
	}{
		{name: "find", path: "/find?q=%s", of: [2]string{"O-7003", "O-7300"}, lists: "its sentence counts every pallet, and twelve are listed"},
		{name: "find-api", path: "/api/find?q=%s", of: [2]string{"O-7003", "O-7300"}},
		{name: "order-history", path: "/history/order/%s", of: [2]string{"O-7203", "O-7300"}},
		{name: "travellers", path: "/orders/%s/travellers", of: [2]string{"O-7003", "O-7300"}, lists: "every pallet's print is compared with the pallet, and 24 are listed"},
		{name: "dock-order", path: "/dock?order=%s", of: [2]string{"O-7003", "O-7300"}},
		{name: "dock-packed", path: "/dock?order=%s", of: [2]string{"O-7103", "O-7400"}},
		{name: "find-packed", path: "/find?q=%s", of: [2]string{"O-7103", "O-7400"}, lists: "the same"},
		{name: "snags", path: "/site/order/%s/snags", of: [2]string{"O-7003", "O-7300"}},
		{name: "pallet-found", path: "/find?q=%s", of: [2]string{small, large}},
		{name: "pallet-history", path: "/history/%s", of: [2]string{small, large}},
		{name: "traveller", path: "/pallets/%s/traveller", of: [2]string{small, large}},
		{name: "station", path: "/station%.0s", at: [2]core.StationID{"BRAKE-1", "BRAKE-2"}},
		{name: "pallet", path: "/station/pallets/%s", of: [2]string{small, large}, at: [2]core.StationID{"BRAKE-1", "BRAKE-2"}},
	} {
		b.Run(x.name, func(b *testing.B) {
			var took [2]time.Duration
			for i := range took {
				took[i] = v.quickest(b, cmp.Or(x.at[i], "DOCK-1"), fmt.Sprintf(x.path, x.of[i]))
			}
			judge(b, took[0], took[1], x.lists)
		})
	}
	b.Run("take-in", func(b *testing.B) {
		took := [2]time.Duration{v.taken(b, small), v.taken(b, large)}
		judge(b, took[0], took[1], "")
	})
}

// taken takes a pallet in at one station and at another, and reports the
// quickest.
func (v *visit) taken(b *testing.B, pallet string) time.Duration {
	b.Helper()
	best := time.Hour
	for range b.N {
		for _, at := range []string{"LASER-1", "STORE-1"} {
			v.become(at)
			began := time.Now()
			if _, done := v.do(core.TakeIn{Pallet: core.PalletCode(pallet)}); !done {
				b.Fatalf("%s was not taken in", pallet)
			}
			best = min(best, time.Since(began))
		}
	}
	return best
}
