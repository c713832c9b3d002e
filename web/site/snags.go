package site

import (
	"cmp"
	"net/url"
	"strconv"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// snagAbout is what a snag that is no fault of parts is about: an order, or a
// unit of it.
type snagAbout struct {
	order string
	unit  *app.SiteLot
}

func (a snagAbout) lot() string {
	if a.unit == nil {
		return ""
	}
	return string(a.unit.ID)
}

// snagAct is what a reader of snags may do about them.
type snagAct int

const (
	reads     snagAct = iota
	saysRight         // a bearer of a link: the shop closes it
	closes
)

// orderSnagsView is the page of an order's snags.
type orderSnagsView struct {
	app.OrderSnags
	head     ui.OfficeHead
	reports  bool // the reader may report one
	does     snagAct
	tomorrow string
}

func newOrderSnagsView(p endpoint.Page, o app.OrderSnags) orderSnagsView {
	may := func(roles []core.Role) bool { return p.Caller.OnTablet() || p.Caller.Is(roles...) }
	does := reads
	if may(app.SnagClosers) {
		does = closes
	}
	return orderSnagsView{
		OrderSnags: o, reports: may(app.SnagReporters), does: does,
		tomorrow: string(core.DateOf(o.AsOf.AddDate(0, 0, 1))),
		head: ui.OfficeHead{Title: "Snags of order " + o.No, Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo,
			Scripts: []string{"panels.js", "pad.js", "photos.js"}},
	}
}

// whose says whose order it is, and where it goes.
func (v orderSnagsView) whose() string {
	if v.SiteName == "" {
		return v.Customer
	}
	return v.Customer + ", " + v.SiteName
}

func orderSnagsHref(no string) string { return "/site/order/" + url.PathEscape(no) + "/snags" }

func aboutHref(what string) string { return "/site/mine/snags?about=" + url.QueryEscape(what) }

func acceptHref(no string) string { return "/site/mine?do=accept&order=" + url.QueryEscape(no) }

// after is the page that follows what is signed of a kind of work.
func (v mineView) after() string {
	if len(v.work.orders) > 1 {
		return acceptHref(v.work.order)
	}
	return "/site/mine?do=" + string(v.work.Name)
}

// title says what was found on what.
func title(s app.Snag) string {
	if s.Parts == "" {
		return s.What
	}
	return s.Parts + ": " + s.What
}

// when says when a snag was reported, by whom, and by when it is wanted put right.
func when(s app.Snag, now time.Time) string {
	out := "reported " + ui.Moment(s.At, now)
	if s.Who != "" {
		out += " by " + s.Who
	}
	if s.Wanted != "" {
		out += ", wanted by " + ui.Day(s.Wanted, now)
	}
	return out
}

// setHead says how much of a set is there.
func setHead(s app.SiteSet) string {
	here, asked := s.Counts()
	if s.Complete() {
		return "The set is complete"
	}
	return "The set is not complete: " + strconv.Itoa(here) + " of " + strconv.Itoa(asked)
}

// lackText says where what is missing of a line is, and when it comes as far as
// that is known. In full it names pallets, benches and reasons; a bearer is told
// what it waits for.
func lackText(l app.SetLine, now time.Time, full bool) []string {
	var out []string
	say := func(n int, what string) {
		if n > 0 {
			out = append(out, strconv.Itoa(n)+" "+what)
		}
	}
	say(l.Held, "here, held: the shop decides")
	say(l.Lost, "missing from what came")
	for _, s := range l.Not {
		if full {
			out = append(out, ui.SpotText(s, now))
		} else {
			out = append(out, bearersSpot(s))
		}
	}
	for _, a := range l.Again {
		say(a.Qty, "to be made again"+ui.Usually(a.Usual))
	}
	say(l.Made, "still to be put together in the shop")
	say(l.Cut, "cut, and still in the sheet")
	say(l.Uncut, "not cut yet")
	none := map[core.ItemKind]string{core.KitItem: "not made up yet", core.BoughtItem: "not at the shop yet"}[l.Kind]
	say(l.None, cmp.Or(none, "neither made nor on a nest"))
	return out
}

// bearersSpot is where parts are, for whoever sees no more of the shop than that.
func bearersSpot(s app.Spot) string {
	out := strconv.Itoa(s.Qty)
	if s.Remake {
		out += " made again"
	}
	switch {
	case s.Reach >= app.Loaded:
		return out + " " + s.Place
	case s.Reach == app.Packed:
		return out + " packed, in the shop"
	case s.Held:
		return out + " held in the shop"
	case s.Stage == "":
		return out + " in the shop"
	}
	out += " in the shop, waits for " + s.Stage
	if len(s.Then) > 0 {
		out += ", then " + ui.List(s.Then...)
	}
	return out + ui.Usually(s.Usual)
}
