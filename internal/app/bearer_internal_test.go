package app

import (
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
	}}
	b := bearing{Bearer{"L-C1-1", "C1"}, []sending{{Event: "E1", Consignment: "C1", Lots: []sentLot{{"P1", "own", 4}}}}}
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
