package app

import (
	"slices"
	"strconv"
	"testing"

	"tagalong/internal/core"
)

// What is given back pays what was lent, whichever parts they are; what was
// taken back in the record, or went to stock, is no loan.
func TestLoansAreWhatIsNotPaidBack(t *testing.T) {
	a, b, stock := core.Owner{Order: "O-1", Line: 1}, core.Owner{Order: "O-2", Line: 3}, core.Owner{}
	c := core.Owner{Order: "O-3", Line: 1}
	tray, rail := core.ItemRev{Item: "TRAY", Rev: "A"}, core.ItemRev{Item: "RAIL", Rev: "A"}
	book := &core.Book{Items: map[core.ItemRev]core.Revision{tray: {ItemRev: tray, Name: "tray"}, rail: {ItemRev: rail, Name: "rail"}}}
	var events []Recorded
	gave := func(from, to core.Owner, item core.ItemRev, qty int) core.EventID {
		id := core.EventID("E" + strconv.Itoa(len(events)))
		events = append(events, Recorded{Event: core.Event{ID: id, Kind: core.EvOwnerChanged,
			Lots: []core.LotCount{{Item: item, Owner: from, Good: qty}}, Effects: []core.Effect{{LotBorn: &core.Lot{Owner: to}}}}})
		return id
	}
	holds := func(order string, want ...Loan) {
		t.Helper()
		if got := loansOf(book, order, events); !slices.Equal(got, want) {
			t.Errorf("of %s: %+v\nwant %+v", order, got, want)
		}
	}
	gave(a, b, tray, 4)
	gave(a, b, rail, 2)
	gave(a, stock, rail, 1)
	holds("O-1", Loan{a, b, tray, "tray", 4}, Loan{a, b, rail, "rail", 2})
	gave(b, a, tray, 3)
	holds("O-2", Loan{a, b, tray, "tray", 1}, Loan{a, b, rail, "rail", 2})
	gave(b, a, tray, 2) // one more than was owed
	holds("O-2", Loan{a, b, rail, "rail", 2}, Loan{b, a, tray, "tray", 1})
	wrong := gave(b, c, rail, 2)
	holds("O-3", Loan{b, c, rail, "rail", 2})
	events = append(events, Recorded{Event: core.Event{ID: "E99", Kind: core.EvCorrected, Corrects: wrong}})
	holds("O-3")
	holds("O-1", Loan{a, b, rail, "rail", 2}, Loan{b, a, tray, "tray", 1})
}
