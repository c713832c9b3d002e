package app

import "tagalong/internal/core"

// PrintJudgement says whether the print in a person's hand still tells what is
// on the pallet.
type PrintJudgement struct {
	Seen    int      // number of the print scanned; 0: a typed code, not judged
	Newest  int      // number of the last print; 0: never printed
	Known   bool     // Seen is a print of this pallet
	Changes []string // what is different now from what the print seen says, a few words each
	Due     bool     // the newest print is out of date too, or there is none
}

// Stale reports whether the print scanned must not be trusted.
func (j PrintJudgement) Stale() bool { return j.Seen > 0 && (!j.Known || len(j.Changes) > 0) }

func judgePrint(w core.World, row core.PalletRow, seen int) PrintJudgement {
	j := PrintJudgement{Seen: seen}
	if n := len(row.Prints); n > 0 {
		j.Newest = row.Prints[n-1].No
	}
	if seen > 0 {
		j.Changes, j.Known = core.StalePrint(w.State, w.Book, row, seen)
	}
	if len(w.State.LotsAt(core.On(row.Code))) > 0 {
		changes, known := core.StalePrint(w.State, w.Book, row, j.Newest)
		j.Due = !known || len(changes) > 0
	}
	return j
}
