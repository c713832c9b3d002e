package main

import (
	"crypto/rand"
	"net/http"
	"testing"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

func newCode(t *testing.T, kind code.Kind) string {
	t.Helper()
	c, err := code.New(kind, rand.Reader)
	must(t, err)
	return string(c)
}

func freshCode(t *testing.T) core.PalletCode { return core.PalletCode(newCode(t, code.Pallet)) }

// TestSheetToPallet goes the first steps of a day over HTTP: orders, a sheet,
// cutting, separation, a print, a hand-over and a take-in.
func TestSheetToPallet(t *testing.T) {
	s := newShop(t)
	nest := s.bundle.Nests[0]
	var orders []core.Order
	wanted := map[string]bool{}
	for _, p := range nest.Parts {
		wanted[p.Owner.Order] = true
	}
	for _, o := range s.bundle.Orders {
		if wanted[o.No] {
			orders = append(orders, o)
		}
	}
	s.signedIn("P01").do(core.Enlist{Orders: orders, Nests: []core.Nest{nest}, Source: "samples"})

	badge := s.badge("P08") // separator and operator
	goods := s.tablet("GOODS-1").do(core.ReceiveGoods{
		Item: nest.Material, Qty: 1, Heat: s.bundle.Sheets[0].Heat, Label: "M-1", Identified: true,
	}, badge)
	sheet := goods.Events[0].Pallets[0]
	laser := s.tablet("LASER-1")
	laser.do(core.TakeIn{Pallet: sheet})
	sheetLot := s.lots(t, sheet)[0]
	laser.do(core.SignOff{Pallet: sheet, Stage: "cut", Lots: []core.LotWork{{Lot: sheetLot.ID, Good: 1}}}, badge)

	var ticks []core.PartTick
	for _, p := range nest.Parts {
		ticks = append(ticks, core.PartTick{Line: p.No, Good: p.Qty, To: "new:A"})
	}
	bench := s.tablet(s.station(t, func(x core.Station) bool { return x.Bench }))
	bench.do(core.TakeIn{Pallet: sheet})
	done := bench.do(core.Separate{Sheet: sheet, Nest: nest.ID, Ticks: ticks}, badge)
	var pallet core.PalletCode
	for _, c := range done.Events[0].Pallets {
		if c != sheet {
			pallet = c
		}
	}
	bench.do(core.PrintTraveller{Pallet: pallet})
	bench.do(core.HandOver{Pallet: pallet, To: "STORE-1"})
	store := s.tablet("STORE-1")
	store.do(core.TakeIn{Pallet: pallet, PrintSeen: 1})

	got := store.get("/api/pallets/" + string(pallet))
	if got.StatusCode != http.StatusOK {
		t.Fatalf("%d %s", got.StatusCode, got.body)
	}
	facts := decoded[struct {
		Pallet core.PalletRow
		Lots   []core.Lot
	}](t, got)
	parts := 0
	for _, l := range facts.Lots {
		parts += l.Qty
	}
	asked := 0
	for _, p := range nest.Parts {
		asked += p.Qty
	}
	if facts.Pallet.Station != "STORE-1" || parts != asked {
		t.Errorf("at %s with %d parts, want STORE-1 with %d", facts.Pallet.Station, parts, asked)
	}
	past := decoded[struct{ Rows []core.Event }](t, store.get("/api/history/"+string(pallet)))
	if n := len(past.Rows); n < 4 {
		t.Errorf("%d events in its history, want the separation, the print, the hand-over and the take-in", n)
	}
	listed := decoded[struct {
		Rows []struct{ Code core.PalletCode }
	}](t, store.get("/api/pallets?limit=500"))
	found := false
	for _, row := range listed.Rows {
		found = found || row.Code == pallet
	}
	if !found {
		t.Errorf("the list of pallets lacks %s", pallet)
	}
	if hits := store.get("/api/find?q=" + orders[0].No); hits.StatusCode != http.StatusOK || len(decoded[struct{ Rows []any }](t, hits).Rows) == 0 {
		t.Errorf("find %s: %d %s", orders[0].No, hits.StatusCode, hits.body)
	}
	// A rule's refusal: nothing is coated that was never rounded.
	p := store.refused("sign-off", s.request(core.SignOff{
		Pallet: pallet, PrintSeen: 1, Stage: "coat", Lots: []core.LotWork{{Lot: facts.Lots[0].ID, Good: facts.Lots[0].Qty}},
	}).signed(badge), http.StatusConflict, "wrong-station")
	if p.Type != "/api/refusals#wrong-station" {
		t.Errorf("type %q", p.Type)
	}
}

func (s *testShop) lots(t *testing.T, pallet core.PalletCode) []core.Lot {
	t.Helper()
	w, err := s.app.World(t.Context(), core.Names{Pallets: []core.PalletCode{pallet}}, "")
	must(t, err)
	return w.State.LotsAt(core.On(pallet))
}

func (s *testShop) station(t *testing.T, is func(core.Station) bool) core.StationID {
	t.Helper()
	for _, x := range s.bundle.Stations {
		if is(x) {
			return x.ID
		}
	}
	t.Fatal("the samples have no such station")
	return ""
}
