package demo

import (
	"slices"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// try is one thing worth trying.
type try struct {
	title, text string
	at          core.StationID // the tablet to be; empty: the office
	station     string
	by          core.PersonID // who signs
	person      string
	pallet      core.PalletCode // where it is about one
	next        string          // the page it starts on
	refused     bool            // it ends in a refusal
}

// finder picks pallets that a try is about. What has moved on since drops out of
// the list.
type finder struct {
	book  *core.Book
	cards []app.PalletCard
	out   []try
}

// tries lists what is worth trying in the demo shop as it stands now.
func tries(b *core.Book, cards []app.PalletCard) []try {
	f := &finder{book: b, cards: cards}
	f.pallet("INSPECT-1", "weld-inspect", "base frame", try{title: "Release a weld", by: "P19",
		text: "The base frame was refused once, ground out and welded again. Inspect it and release it, or refuse it once more."})
	f.elsewhere("INSPECT-1", "weld-inspect", "base frame", "PRETREAT-1", try{title: "Pass an unreleased hold", refused: true,
		text: "Take the base frame in at the pretreat line before anybody has released its weld."})
	f.elsewhere("BRAKE-1", "fold", "", "HAND-AL", try{title: "Work at the wrong station", refused: true,
		text: "Take a pallet that waits for the press brake in at the hand rounding bench."})
	f.sheet("BENCH-1", try{title: "Break out a cut sheet", by: "P06",
		text: "The cutting list says nest N-7004. Tick it off, put the parts on pallets and print their travellers. Its stiffeners are what the second wall panel lacks."})
	f.pallet("BRAKE-1", "fold", "", try{title: "Fold for two orders", by: "P17",
		text: "One pallet, five lots, two orders. Sign some of it, all of it, or report one part bent wrong."})
	f.pallet("COAT-TABLE-1", "coat-inspect", "roof tray", try{title: "Measure a coat", by: "P20",
		text: "Type a film thickness below the limit and see what it says, then one inside it."})
	f.elsewhere("ROUND-AL", "edge-round", "", "ROUND-SS", try{title: "Mix belts and metals", by: "P16", refused: true,
		text: "Take the aluminium roof tray in at the line with stainless belts, and sign."})
	f.pallet("INSPECT-1", "final-check", "", try{title: "Sign with a badge that was lost", by: "", refused: true,
		text: "Sign the final check with the lost badge at the end of this page. Then with a wrong PIN, five times."})
	f.at("DOCK-1", "/dock", try{title: "Send the truck", by: "P25",
		text: "The louvre banks are packed and loaded. See what the order lacks, then send them; the customer agreed to a part shipment."})
	f.at("WELD-2", "/station", try{title: "See what a unit lacks", by: "P13",
		text: "The second wall panel is gathered by half. The page says what is missing and where that is."})
	f.office("/quality", try{title: "Say what becomes of it", by: "P03",
		text: "A scratched door leaf, a bracket damaged at separation and a louvre bank with orange peel wait for a disposition."})
	f.office("/find?q=O-4101", try{title: "Where is my order?", by: "P04",
		text: "The hospital's order is late. One sentence to read out, then where everything is."})
	return f.out
}

// find is the first pallet at a station that waits for a stage and carries an
// item of that name, or any.
func (f *finder) find(at core.StationID, stage core.StageName, item string) (app.PalletCard, bool) {
	i := slices.IndexFunc(f.cards, func(c app.PalletCard) bool {
		named := item == "" || slices.ContainsFunc(c.Names, func(n string) bool { return len(n) >= len(item) && n[:len(item)] == item })
		return c.Station == at && c.Bound == "" && !c.Held && named && slices.Contains(c.Stages, stage)
	})
	if i < 0 {
		return app.PalletCard{}, false
	}
	return f.cards[i], true
}

func (f *finder) add(t try) {
	t.station, t.person = f.book.Stations[t.at].Name, ""
	if t.by != "" {
		t.person = app.PersonName(f.book, t.by)
	}
	f.out = append(f.out, t)
}

// pallet is about a pallet where it is.
func (f *finder) pallet(at core.StationID, stage core.StageName, item string, t try) {
	f.elsewhere(at, stage, item, at, t)
}

// elsewhere is about a pallet of one station, on the tablet of another.
func (f *finder) elsewhere(from core.StationID, stage core.StageName, item string, at core.StationID, t try) {
	if c, ok := f.find(from, stage, item); ok {
		t.at, t.pallet, t.next = at, c.Code, "/station/pallets/"+string(c.Code)
		f.add(t)
	}
}

func (f *finder) sheet(at core.StationID, t try) {
	if c, ok := f.find(at, "separate", ""); ok {
		t.at, t.pallet, t.next = at, c.Code, "/separate"
		f.add(t)
	}
}

func (f *finder) at(at core.StationID, next string, t try) {
	t.at, t.next = at, next
	f.add(t)
}

func (f *finder) office(next string, t try) {
	t.next = next
	f.add(t)
}
