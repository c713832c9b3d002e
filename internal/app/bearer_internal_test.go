package app

import (
	"slices"
	"testing"
	"time"

	"tagalong/internal/core"
)

// A bearer's own are the lots that left on their consignment, whatever pallet
// another lot left on and whatever became of that pallet since.
func TestABearersLots(t *testing.T) {
	shipped := func(e core.EventID) core.Facts {
		return core.Facts{core.Fact{Name: core.IsShipped}: core.Standing{Value: core.Yes, By: e}}
	}
	state := &core.State{Lots: map[core.LotID]core.Lot{
		"own":     {ID: "own", Box: "P1", Facts: shipped("E1")},
		"part":    {ID: "part", Parents: []core.LotID{"own"}, Box: "P1", Facts: shipped("E1")},
		"later":   {ID: "later", Box: "P1", Facts: shipped("E2")}, // on the same pallet, sent again
		"another": {ID: "another", Box: "P9", Facts: shipped("E9")},
		"inside":  {ID: "inside"},
	}, Snags: map[core.SnagID]core.Snag{
		"own":        {ID: "own", Order: "O-1", Consignment: "C1"},
		"another":    {ID: "another", Order: "O-1", Consignment: "C2"},
		"the shop's": {ID: "the shop's", Order: "O-1"},
	}}
	b := bearing{Bearer{Link: "L-C1-1", Consignment: "C1"}, []sending{{Event: "E1", Consignment: "C1", Lots: []sentLot{{"P1", "own", 4}}}}, []string{"O-1"}}
	work := func(lots ...core.LotID) core.WorkAtSite {
		w := core.WorkAtSite{Stage: "unpack"}
		for _, l := range lots {
			w.Picks = append(w.Picks, core.Pick{Lot: l, Qty: 1})
		}
		return w
	}
	onto := work("own")
	onto.To = "P9"
	back := work("own")
	back.To = "P1"
	for _, x := range []struct {
		body core.Body
		want string
	}{
		{work("own", "part"), ""},
		{back, ""},
		{core.ReportProblem{Lot: "part", Qty: 1, What: "dent"}, ""},
		{core.ReceiveAtSite{Consignment: "C1"}, ""},
		{onto, "link-other-pallet"},
		{work("own", "later"), "link-other-lot"},
		{work("another"), "link-other-lot"},
		{work("inside"), "link-other-lot"},
		{work("nowhere"), "link-other-lot"},
		{core.ReportProblem{Lot: "later", Qty: 1, What: "dent"}, "link-other-lot"},
		{core.ReportProblem{Lot: "own", Pallet: "P1", Qty: 1, What: "dent"}, "bearer-may-not"},
		{core.ReceiveAtSite{Consignment: "C2"}, "link-other-consignment"},
		{core.Dispose{}, "bearer-may-not"},
		{core.TurnUp{Consignment: "C1", Finds: []core.Pick{{Lot: "part", Qty: 1}}}, ""},
		{core.TurnUp{Consignment: "C1", Finds: []core.Pick{{Lot: "another", Qty: 1}}}, "link-other-lot"},
		{core.TurnUp{Consignment: "C2"}, "link-other-consignment"},
		{core.ReportSnag{Consignment: "C1", Order: "O-1", What: "wall"}, ""},
		{core.ReportSnag{Consignment: "C1", Unit: "own", What: "binds"}, ""},
		{core.ReportSnag{Consignment: "C1", Unit: "another", What: "binds"}, "link-other-lot"},
		{core.ReportSnag{Consignment: "C1", Order: "O-2", What: "wall"}, "link-other-order"},
		{core.ReportSnag{Order: "O-1", What: "wall"}, "link-other-consignment"},
		{core.PutRightSnag{Snag: "own", Done: "painted"}, ""},
		{core.PutRightSnag{Snag: "another", Done: "painted"}, "link-other-consignment"},
		{core.PutRightSnag{Snag: "the shop's", Done: "painted"}, "link-other-consignment"},
		{core.PutRightSnag{Snag: "nowhere", Done: "painted"}, ""}, // told by the shop's rules
		{core.CloseSnag{Snag: "own"}, "bearer-may-not"},
	} {
		got := ""
		if r := b.refuses(state, core.Command{Body: x.body}); r != nil {
			got = r.Code
		}
		if got != x.want {
			t.Errorf("%+v: %q, want %q", x.body, got, x.want)
		}
	}
}

// The bearer of a link for one order does nothing with another's, though it came
// in the same box.
func TestABearersOrder(t *testing.T) {
	sent := core.Facts{core.Fact{Name: core.IsShipped}: core.Standing{Value: core.Yes, By: "E1"}}
	state := &core.State{Lots: map[core.LotID]core.Lot{
		"own":    {ID: "own", Box: "P1", Facts: sent, Owner: core.Owner{Order: "O-1", Line: 1}},
		"theirs": {ID: "theirs", Box: "P1", Facts: sent, Owner: core.Owner{Order: "O-2", Line: 1}},
	}, Snags: map[core.SnagID]core.Snag{
		"own":    {ID: "own", Order: "O-1", Consignment: "C1"},
		"theirs": {ID: "theirs", Order: "O-2", Consignment: "C1"},
	}}
	b := bearing{Bearer{Link: "L-C1-1", Consignment: "C1", Order: "O-1"}, []sending{{Event: "E1", Consignment: "C1"}}, []string{"O-1", "O-2"}}
	for _, x := range []struct {
		body core.Body
		want string
	}{
		{core.ReceiveAtSite{Consignment: "C1", Order: "O-1"}, ""},
		{core.ReceiveAtSite{Consignment: "C1"}, "link-other-order"},
		{core.ReceiveAtSite{Consignment: "C1", Order: "O-2"}, "link-other-order"},
		{core.WorkAtSite{Stage: "accept", Picks: []core.Pick{{Lot: "own", Qty: 1}}}, ""},
		{core.WorkAtSite{Stage: "accept", Picks: []core.Pick{{Lot: "theirs", Qty: 1}}}, "link-other-order"},
		{core.ReportProblem{Lot: "theirs", Qty: 1, What: "dent"}, "link-other-order"},
		{core.TurnUp{Consignment: "C1", Finds: []core.Pick{{Lot: "theirs", Qty: 1}}}, "link-other-order"},
		{core.ReportSnag{Consignment: "C1", Order: "O-1", What: "wall"}, ""},
		{core.ReportSnag{Consignment: "C1", Order: "O-2", What: "wall"}, "link-other-order"},
		{core.PutRightSnag{Snag: "own", Done: "painted"}, ""},
		{core.PutRightSnag{Snag: "theirs", Done: "painted"}, "link-other-order"},
	} {
		got := ""
		if r := b.refuses(state, core.Command{Body: x.body}); r != nil {
			got = r.Code
		}
		if got != x.want {
			t.Errorf("%+v: %q, want %q", x.body, got, x.want)
		}
	}
}

// A link ends 30 days after it is made for, and two weeks after all is received.
func TestWhenALinkEnds(t *testing.T) {
	at := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	l := SiteLink{EndsAt: at.AddDate(0, 0, 30)}
	for _, x := range []struct {
		name              string
		received, revoked time.Time
		after             time.Duration
		want              string
	}{
		{name: "at once", want: ""},
		{name: "day 30", after: 30*24*time.Hour - time.Second, want: ""},
		{name: "after day 30", after: 30 * 24 * time.Hour, want: "link-ended"},
		{name: "13 days after receipt", received: at, after: 14*24*time.Hour - time.Second, want: ""},
		{name: "14 days after receipt", received: at, after: 14 * 24 * time.Hour, want: "link-ended"},
		{name: "received late", received: at.AddDate(0, 0, 28), after: 30 * 24 * time.Hour, want: "link-ended"},
		{name: "revoked", revoked: at, want: "link-revoked"},
	} {
		l.Received, l.Revoked = x.received, x.revoked
		if got := l.over(at.Add(x.after)); got != x.want {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
}

func TestABearersName(t *testing.T) {
	book := &core.Book{}
	for id, want := range map[core.PersonID]string{
		"L-C5RPZHNR-2": "the bearer of the link for consignment C5RP ZHNR", "P27": "P27", "L-x": "L-x",
	} {
		if got := PersonName(book, id); got != want {
			t.Errorf("%s is read as %q", id, got)
		}
	}
}

// A box that is awaited is counted as listed; one that was missed, by what was
// lost with it; one that came, no more.
func TestTheBoxesOfALink(t *testing.T) {
	truck := core.Consignment{Code: "C1", Pallets: []core.PalletCode{"P1", "P2", "P3"}, Came: []core.PalletCode{"P3"}, Missed: []core.PalletCode{"P2"}}
	on, lost := core.Place{Kind: core.InConsignment, Ref: "C1"}, core.Place{Kind: core.Unexplained, Ref: "C1"}
	item := core.ItemRev{Item: "TRAY", Rev: "A"}
	w := core.World{
		Book: &core.Book{Items: map[core.ItemRev]core.Revision{item: {ItemRev: item, Name: "tray"}}},
		State: &core.State{Lots: map[core.LotID]core.Lot{
			"a": {ID: "a", Item: item, Box: "P1", Place: on, Qty: 4},
			"b": {ID: "b", Item: item, Box: "P2", Place: lost, Lost: 3},
			"c": {ID: "c", Item: item, Box: "P3", Place: core.Place{Kind: core.AtSite, Ref: "S"}, Qty: 2},
			"d": {ID: "d", Item: item, Box: "P1", Place: core.Place{Kind: core.Unexplained, Ref: "C9"}, Lost: 9},
		}},
	}
	for _, x := range []struct {
		box   core.PalletCode
		state BoxState
		part  MinePart
	}{
		{"P1", BoxAwaited, MinePart{"a", "tray", 4, "", "P1"}},
		{"P2", BoxMissed, MinePart{"b", "tray", 3, "", "P2"}},
		{"P3", BoxCame, MinePart{}},
	} {
		got := mineBox(w, truck, x.box, nil, "")
		var part MinePart
		if len(got.Parts) == 1 {
			part = got.Parts[0]
		}
		if got.State != x.state || part != x.part || len(got.Parts) > 1 {
			t.Errorf("%s: %+v", x.box, got)
		}
	}
}

// Where a box holds two orders' parts, each sees its own in it, as far as its own
// was received; what was short is told apart from what is awaited.
func TestTheBoxesOfOneOrdersLink(t *testing.T) {
	truck := core.Consignment{Code: "C1", Pallets: []core.PalletCode{"P1", "P2"}, Gone: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC),
		Came: []core.PalletCode{"P2"}, Counted: []core.BoxOrder{{Box: "P1", Order: "O-1"}}}
	on, lost := core.Place{Kind: core.InConsignment, Ref: "C1"}, core.Place{Kind: core.Unexplained, Ref: "C1"}
	of := func(no string) core.Owner { return core.Owner{Order: no, Line: 1} }
	w := core.World{Book: &core.Book{}, State: &core.State{Lots: map[core.LotID]core.Lot{
		"theirs": {ID: "theirs", Box: "P1", Owner: of("O-2"), Place: on, Qty: 3},
		"short":  {ID: "short", Box: "P2", Owner: of("O-1"), Place: lost, Lost: 1},
	}}}
	both := []MinePart{{Order: "O-1", Qty: 2}, {Order: "O-2", Qty: 3}}
	if b := mineBox(w, truck, "P1", both, "O-1"); b.State != BoxCame || len(b.Parts) > 0 {
		t.Errorf("own box: %+v", b)
	}
	if b := mineBox(w, truck, "P1", both, "O-2"); b.State != BoxAwaited || len(b.Parts) != 1 || b.Parts[0].Qty != 3 || len(b.Listed) != 1 {
		t.Errorf("the other's: %+v", b)
	}
	if b := mineBox(w, truck, "P1", both, ""); b.State != BoxAwaited || len(b.Parts) != 1 {
		t.Errorf("the whole: %+v", b)
	}
	if m := missingWithin(w, truck, "O-1"); len(m) != 1 || m[0].Lot != "short" || m[0].Qty != 1 {
		t.Errorf("missing: %+v", m)
	}
	if m := missingWithin(w, truck, "O-2"); len(m) != 0 {
		t.Errorf("of the other's is missing: %+v", m)
	}
	within := map[core.PalletCode][]MinePart{"P1": both, "P2": both[:1]}
	got := receipts(w, Mine{Consignment: truck}, within)
	want := []Receipt{{Order: "O-1", Missing: 1}, {Order: "O-2", Boxes: 1}}
	if !slices.Equal(got, want) {
		t.Errorf("receipts: %+v, want %+v", got, want)
	}
	if got := receipts(w, Mine{Consignment: truck, Only: "O-2"}, within); len(got) != 1 || got[0].Order != "O-2" {
		t.Errorf("receipts of one: %+v", got)
	}
}

// What becomes of a snag, in the words of the one list.
func TestWhatBecomesOfASnag(t *testing.T) {
	closed := time.Date(2026, 11, 26, 8, 0, 0, 0, time.UTC)
	remake := func(cut bool, again ...core.Lot) SnagEntry {
		p := core.Problem{Disposition: core.DisposeRemake, Closed: closed}
		return SnagEntry{RegisterEntry{Problem: p, Cut: cut}, again}
	}
	sent := core.Facts{core.Fact{Name: core.IsShipped}: core.Standing{Value: core.Yes, By: "E5"}}
	for _, x := range []struct {
		entry SnagEntry
		want  string
		over  bool
	}{
		{SnagEntry{}, "reported; the shop has not decided yet", false},
		{remake(false), "to be made again: asked for at the shop", false},
		{remake(true), "being made again", false},
		{remake(true, core.Lot{Place: core.Place{Kind: core.InConsignment, Ref: "C2"}}), "being made again", false}, // loaded, not gone
		{remake(true, core.Lot{Place: core.Place{Kind: core.InConsignment, Ref: "C2"}, Facts: sent}), "made again, and on its way", false},
		{remake(true, core.Lot{Place: core.Place{Kind: core.AtSite, Ref: "S"}}), "made again, and at the site", true},
		{SnagEntry{RegisterEntry: RegisterEntry{Problem: core.Problem{Disposition: core.DisposeUseAsIs, Closed: closed}}}, "may be used as it is", true},
		{SnagEntry{RegisterEntry: RegisterEntry{Problem: core.Problem{Closed: closed}}}, "taken back", true},
	} {
		if got, over := snagState(x.entry); got != x.want || over != x.over {
			t.Errorf("%+v: %q over %v", x.entry.Problem, got, over)
		}
	}
}
