package core

import (
	"slices"
	"strconv"
	"strings"
)

// LongestSlot is the most characters a slot's name has.
const LongestSlot = 20

// SlotName is a slot's name as it is kept: in capitals, single spaces between
// its words, so that it is the same place however it was typed.
func SlotName(text string) string {
	return strings.ToUpper(strings.Join(strings.Fields(text), " "))
}

// Store reports whether the station only keeps pallets. It does no stage, so it
// takes everything, and its places are slots.
func (s Station) Store() bool { return len(s.Stages) == 0 && !s.Bench && !s.Dock && !s.Site }

// slotWrong refuses a slot that no pallet can be put into here, and a pallet
// that stands where it is to be put.
func (d *deciding) slotWrong(p PalletRow, here bool, slot string) *Refusal {
	st := d.station()
	switch {
	case len([]rune(slot)) > LongestSlot:
		return refuse("slot-too-long", "most", strconv.Itoa(LongestSlot))
	case slot != "" && !st.Store():
		return refuse("no-slots-here", "station", st.Name, "slot", slot)
	case here && slot == "":
		return refuse("already-here", "pallet", string(p.Code), "station", st.Name)
	case here && slot == p.Slot:
		return refuse("already-in-slot", "pallet", string(p.Code), "slot", slot)
	}
	return nil
}

// slotTaken asks where another pallet is on record in the slot: the shop may
// stack two, or somebody took the other one away and did not say so. Only who
// stands before it can see which.
func (d *deciding) slotTaken(p PalletRow, slot string) *Refusal {
	others := d.inSlot(slot, p.Code)
	if len(others) == 0 {
		return nil
	}
	return refuse("slot-taken", "slot", slot, "pallet", joinCodes(others)).ask()
}

// inSlot lists the other pallets with parts on them in a slot of this store.
// What came in at no station, as imported sheets do, lies in the store too.
func (d *deciding) inSlot(slot string, but PalletCode) []PalletCode {
	var out []PalletCode
	if slot == "" {
		return nil
	}
	for code, q := range d.s.Pallets {
		if code != but && (q.Station == d.c.Station || q.Station == "") && q.Bound == "" && q.Slot == slot && len(d.s.LotsAt(On(code))) > 0 {
			out = append(out, code)
		}
	}
	slices.Sort(out)
	return out
}
