package app_test

import (
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
)

// past is what happened to the one pallet, a minute apart.
func past(events ...core.Event) []app.Recorded {
	var out []app.Recorded
	for i, e := range events {
		e.Happened = apptest.Now.Add(time.Duration(i-len(events)) * time.Minute)
		e.Pallets = []core.PalletCode{onePallet}
		out = append(out, app.Recorded{Seq: int64(i + 1), Event: e})
	}
	return out
}

// pageAfter is the page of the one pallet at a station after events.
func pageAfter(t *testing.T, f *apptest.Floor, at core.StationID, events ...core.Event) app.PalletPage {
	t.Helper()
	store := &apptest.Store{Floor: f, Events: past(events...)}
	p, err := store.Service(t).PalletPage(t.Context(), app.Caller{Tablet: "T1", Station: at}, onePallet, 0, "")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// A note stands at the station it was written at, on the way, and at the next
// one; a note of what was taken back does not stand.
func TestHowLongANoteStands(t *testing.T) {
	takenIn := func(at core.StationID) core.Event { return core.Event{Kind: core.EvTakenIn, Station: at} }
	signed := core.Event{ID: "s", Kind: core.EvSigned, Station: "ROUND-AL", Note: " two are scratched ", Signed: []core.Signature{{Person: "P21"}}}
	handed := core.Event{Kind: core.EvHandedOver, Station: "ROUND-AL"}
	onward := core.Event{Kind: core.EvHandedOver, Station: "BRAKE-1", Note: "long tool"}
	for _, c := range []struct {
		name   string
		at     core.StationID // where the pallet is; "": on its way
		events []core.Event
		want   []string
	}{
		{"where it was written", "ROUND-AL", []core.Event{takenIn("ROUND-AL"), signed}, []string{"two are scratched"}},
		{"on the way", "", []core.Event{takenIn("ROUND-AL"), signed, handed}, []string{"two are scratched"}},
		{"at the next station", "BRAKE-1", []core.Event{takenIn("ROUND-AL"), signed, handed, takenIn("BRAKE-1")}, []string{"two are scratched"}},
		{"beside a newer one", "", []core.Event{takenIn("ROUND-AL"), signed, handed, takenIn("BRAKE-1"), onward}, []string{"long tool"}},
		{"at the one after that", "BRAKE-2", []core.Event{takenIn("ROUND-AL"), signed, handed, takenIn("BRAKE-1"), onward, takenIn("BRAKE-2")}, []string{"long tool"}},
		{"carried on without a hand-over", "BRAKE-2", []core.Event{takenIn("ROUND-AL"), signed, takenIn("BRAKE-1"), takenIn("BRAKE-2")}, nil},
		{"taken back", "BRAKE-1", []core.Event{takenIn("ROUND-AL"), signed, {Kind: core.EvCorrected, Corrects: "s", Note: "other pallet"}, handed, takenIn("BRAKE-1")}, nil},
		{"of other kinds", "BRAKE-1", []core.Event{{Kind: core.EvRecounted, Note: "8 recorded, 7 found"}, {Kind: core.EvPrinted, Note: "2"}}, nil},
	} {
		f := apptest.New(t)
		f.Pallet(onePallet, c.at)
		if c.at == "" {
			f.Change(onePallet, func(p *core.PalletRow) { p.Bound = "BRAKE-1" })
		}
		f.Lot(onePallet, "SK-1200", lineOf("O-4101"), 2, "fold")
		p := pageAfter(t, f, "BRAKE-1", c.events...)
		var got []string
		for _, n := range p.Notes {
			got = append(got, n.Text)
		}
		if len(got) != len(c.want) || len(got) > 0 && got[0] != c.want[0] {
			t.Errorf("%s: the notes are %q, want %q", c.name, got, c.want)
		}
		if len(p.Notes) == 1 && p.Notes[0].Text == "two are scratched" && (p.Notes[0].By != "Merrin Stroud" || p.Notes[0].Station == "ROUND-AL" || p.Notes[0].At.IsZero()) {
			t.Errorf("%s: the note is %+v", c.name, p.Notes[0])
		}
	}
}

// What a station does last is told where it is scanned again; parts at the end
// of their route wait for their unit; the rules' own words are told elsewhere.
func TestWhatAScanElsewhereSays(t *testing.T) {
	for _, c := range []struct {
		name   string
		item   core.ItemID
		before core.StageName
		is, at core.StationID
		code   string // of the refusal of the take-in
		says   string
	}{
		{"done here", "SK-1200", "fold", "BRAKE-1", "ROUND-AL", "nothing-to-do", "“Round the edges” is done already for 2 wall skins 1200; next is “Fold”."},
		{"a step too early", "SK-1200", "edge-round", "ROUND-AL", "BRAKE-1", "nothing-to-do", "Press brake 1 has nothing to do for pallet PMCX UKXP; it waits for “Round the edges”."},
		{"past a hold point", "WP-2400", "weld-inspect", "INSPECT-1", "PRETREAT-1", "hold-not-released", "2 wall panels 2400 wait for a release: nobody may pass this hold point before an inspector has released it."},
		{"done, and for a unit", "SK-1200", "", "WELD-1", "BRAKE-1", "nothing-to-do", "“Fold” is done already for 2 wall skins 1200; next is “Weld”."},
		{"for a unit elsewhere", "SK-1200", "", "BRAKE-1", "OVEN-1", "nothing-to-do", "Curing oven has nothing to do for pallet PMCX UKXP; it waits for “Weld”."},
		{"the pallet store takes all", "SK-1200", "fold", "BRAKE-1", "STORE-1", "", ""},
	} {
		f := apptest.New(t)
		f.Pallet(onePallet, c.is)
		f.Lot(onePallet, c.item, lineOf("O-4101"), 2, c.before)
		p := pageAfter(t, f, c.at)
		code := ""
		if p.Turned != nil {
			code = p.Turned.Code
		}
		if code != c.code || p.TurnedWhy.Title != c.says {
			t.Errorf("%s: %s, %q\nwant %s, %q", c.name, code, p.TurnedWhy.Title, c.code, c.says)
		}
	}
}

// A lot that is at a station for a step that may not be done yet says why; one
// that has just been worked there does not.
func TestWhatBarsALot(t *testing.T) {
	for _, c := range []struct {
		name   string
		item   core.ItemID
		before core.StageName
		at     core.StationID
		code   string
		done   bool
	}{
		{"release missing at the booth", "WP-2400", "weld-inspect", "BOOTH-1", "hold-not-released", false},
		{"rounding missing at the brake", "SK-1200", "edge-round", "BRAKE-1", "step-skipped", false},
		{"coated once here, cured next, coated again later", "WP-2400", "cure", "BOOTH-1", "", true},
		{"released here", "WP-2400", "pretreat", "INSPECT-1", "", true},
		{"in the store", "SK-1200", "edge-round", "STORE-1", "", false},
	} {
		f := apptest.New(t)
		f.Pallet(onePallet, c.at)
		f.Lot(onePallet, c.item, lineOf("O-4101"), 1, c.before)
		l := pageAfter(t, f, c.at).Lots[0]
		code := ""
		if l.Bar != nil {
			code = l.Bar.Code
		}
		if code != c.code || (l.Done != nil) != c.done {
			t.Errorf("%s: barred by %q, done here %v; want %q, %v", c.name, code, l.Done != nil, c.code, c.done)
		}
	}
}
