package shopday

import (
	"net/http"
	"testing"

	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/server"
)

// TestNumbersAndIdsRefused: a command whose own numbers don't sum, and an id
// used for something else.
func TestNumbersAndIdsRefused(t *testing.T) {
	s := open(t)
	sheet := s.cut("SH-5005-3", "LASER-1", "BENCH-1")
	bench := s.at("BENCH-1")
	ticks := func(good int) core.Separate {
		return core.Separate{Sheet: sheet, Nest: "N-5001", Ticks: []core.PartTick{
			{Line: 1, Good: 2, To: "new:A"}, {Line: 2, Good: good, To: "new:A"}, {Line: 3, Good: 2, To: "new:A"},
		}}
	}
	s.refuseAll(t, []no{{
		name: "ticks don't sum", from: bench, pallet: sheet, ask: s.asks(ticks(2), "P06"), person: "P06",
		status: http.StatusConflict, code: "nest-numbers", lots: []core.LotID{s.on(sheet)[0].ID},
		says:   "Line 2, wall stiffener: the nest asks for 3, and your numbers come to 2.",
		remedy: "Nothing was recorded. Good and damaged and missing, less the extra ones, must come to 3.",
	}})
	parts := bench.does(ticks(3), "P06")
	pallet := s.palletOf(parts.Lots[0].Lot)
	skins, trays := parts.Lots[0].Lot, parts.Lots[2].Lot
	bench.does(core.PrintTraveller{Pallet: pallet})

	round := s.at("ROUND-AL")
	s.takeIn(pallet, "ROUND-AL")
	short := s.signOff(pallet, "edge-round", skins)
	short.Lots[0].Good, short.Lots[0].Bad, short.Lots[0].Why, short.Lots[0].NotDone = 1, 1, "dented", 1
	s.refuseAll(t, []no{{
		name: "counts don't sum", from: round, pallet: pallet, ask: s.asks(short, operator), person: operator,
		status: http.StatusConflict, code: "numbers-dont-sum", lots: []core.LotID{skins},
		says:   "1 good, 1 not good and 1 not done come to 3, but there are 2 wall skins 1200.",
		remedy: "Nothing was recorded. Put the numbers right; they must come to 2. If the record is wrong, recount it.",
	}})

	// The same id again is answered as before; with another body it is refused.
	once := s.asks(s.signOff(pallet, "edge-round", skins), operator)
	first := round.recorded(round.post(once))
	events := s.events()
	got := round.post(once)
	again := decoded[server.Answer](t, got.body)
	if got.StatusCode != http.StatusOK || !again.Again || len(again.Events) != 1 || again.Events[0].ID != first.ID || s.events() != events {
		t.Errorf("the same id again: %d %s", got.StatusCode, got.body)
	}
	other := once
	other.Body = s.signOff(pallet, "edge-round", trays)
	s.refuseAll(t, []no{{
		name: "same id, another body", from: round, pallet: pallet, ask: other,
		status: http.StatusConflict, code: "id-used",
		says:   "This tablet has sent something else under the same number before.",
		remedy: "What was recorded first still stands; this was not recorded. Reload the page, look what is recorded, then do it again.",
	}})

	s.stalePrint(t, pallet, trays)
	s.verified()
}

// stalePrint: print 1 no longer says what is on the pallet; the tablet is told
// what changed and asked, and goes on once the person says so.
func (s *shop) stalePrint(t *testing.T, pallet core.PalletCode, trays core.LotID) {
	t.Helper()
	s.at("ROUND-AL").does(core.Divide{From: pallet, Picks: []core.Pick{{Lot: trays, Qty: 1}}})
	brake := s.at("BRAKE-1")
	seen := s.asks(core.TakeIn{Pallet: pallet, PrintSeen: 1})
	s.refuseAll(t, []no{{
		name: "stale print", from: brake, pallet: pallet, ask: seen, status: http.StatusConflict, code: "print-stale", asks: true,
		says:   "The ticket you hold (print 1) no longer says what is on pallet " + code.Code(pallet).Spaced() + ": roof tray 2400: 2 became 1.",
		remedy: "Look at the parts. If the screen is right, go on, and print a new ticket before the pallet leaves.",
	}})
	yes := s.asks(seen.Body)
	yes.Confirm = []string{"print-stale"}
	brake.recorded(brake.post(yes))
	if at := s.pallet(pallet).Station; at != "BRAKE-1" {
		t.Errorf("confirmed, and the pallet is at %s", at)
	}
}
