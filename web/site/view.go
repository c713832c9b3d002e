package site

import (
	"net/url"
	"slices"
	"strconv"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// linksView is the dispatcher's page of a consignment's links.
type linksView struct {
	app.LinksPage
	page endpoint.Page
	made *madeLink // just made: shown this once
}

type madeLink struct {
	app.SiteLink
	address string
	symbol  string // SVG
}

func (v linksView) head() ui.OfficeHead {
	return ui.OfficeHead{Title: "Links of consignment " + ui.Spaced(string(v.Code)), Shop: v.page.Shop, Person: v.page.Caller.Name, Demo: v.page.Demo, Nav: ui.OfficeNav("/dock")}
}

// state says how a link stands.
func (v linksView) state(l app.SiteLink) string {
	switch {
	case !l.Revoked.IsZero():
		return "revoked " + ui.Moment(l.Revoked, v.AsOf)
	case !l.Live(v.AsOf):
		return "ended " + ui.Moment(l.Ends(), v.AsOf)
	case l.Claimed.IsZero():
		return "not opened yet"
	}
	return "claimed " + ui.Moment(l.Claimed, v.AsOf)
}

func (v linksView) action(l app.SiteLink, what string) string {
	return "/dock/" + string(v.Code) + "/links/" + string(l.ID) + "/" + what
}

// openView is what a link is for.
type openView struct {
	page  endpoint.Page
	site  string
	ends  string
	note  string
	order string // the only one it opens
	// printed: it stands on a packing list
	printed bool
	code    string // the consignment's, spaced
}

func newOpenView(p endpoint.Page, b *core.Book, l app.SiteLink) openView {
	v := openView{page: p, site: l.Site, note: l.Note, order: l.Order, printed: l.Printed, code: ui.Spaced(string(l.Consignment)), ends: day(l.Ends(), p.Now)}
	if st, ok := b.Stations[core.StationID(l.Site)]; ok {
		v.site = st.Name
	}
	return v
}

func day(t, now time.Time) string { return ui.Day(core.DateOf(t.In(now.Location())), now) }

// mineView is the bearer's pages.
type mineView struct {
	receipt
	page  endpoint.Page
	book  *core.Book
	work  *work
	sets  []app.SiteSet // before it is fitted out
	back  string        // the pallet that parts were just sent back on
	found *app.SiteLot  // on which something was found
	about *snagAbout    // something that is wrong, and is no fault of parts
}

func newMineView(p endpoint.Page, b *core.Book, m app.Mine) mineView {
	return mineView{receipt: receipt{Mine: m, home: "/site/mine"}, page: p, book: b}
}

// work is one kind of work on what came.
type work struct {
	core.Stage
	act, done string
	back      bool
	sign      bool // the client signs
	caution   string
	order     string   // whose client signs
	orders    []string // of which some wait for the client's signature
	waiting   int      // parts, whoever's
	rows      []app.SiteLot
}

// kinds are the kinds of work at a site, in their order, each with how far
// parts must have come.
var kinds = []struct {
	work
	from app.SiteReach
}{
	{work{Stage: core.Stage{Name: "unpack"}, act: "Sign: unpacked", done: "Unpacked"}, app.SiteReceived},
	{work{Stage: core.Stage{Name: "fit-out"}, act: "Sign: fitted out", done: "Fitted out"}, app.SiteUnpacked},
	{work{Stage: core.Stage{Name: "accept"}, act: "Sign: accepted", done: "Accepted", sign: true}, app.SiteFitted},
	{work{Stage: core.Stage{Name: "return"}, act: "Sign: send them back", done: "Sent back", back: true}, app.SiteReceived},
}

// workOf is one kind of work, on all that waits for it; what a client signs for,
// on one order's.
func workOf(b *core.Book, m app.Mine, name core.StageName, order string) (*work, bool) {
	for _, k := range kinds {
		if k.Name != name {
			continue
		}
		w := k.work
		w.Stage, _ = b.Table.Stage(name)
		w.caution = words.Caution(w.Caution)
		for _, o := range m.Orders {
			for _, t := range o.Trucks {
				for _, l := range t.Lots {
					if w.back || l.Reach == k.from && !heldHere(m, l.ID) {
						w.rows = append(w.rows, l)
					}
				}
			}
		}
		for _, l := range w.rows {
			w.waiting += l.Qty
		}
		if w.sign {
			w.forOneClient(order)
		}
		return &w, true
	}
	return nil, false
}

// forOneClient keeps the rows of one order: the one asked for, or the first.
func (w *work) forOneClient(order string) {
	for _, l := range w.rows {
		if !slices.Contains(w.orders, l.Owner.Order) {
			w.orders = append(w.orders, l.Owner.Order)
		}
	}
	if len(w.orders) > 0 && !slices.Contains(w.orders, order) {
		order = w.orders[0]
	}
	w.order = order
	w.rows = slices.DeleteFunc(w.rows, func(l app.SiteLot) bool { return l.Owner.Order != order })
}

// heldHere reports whether something found on a lot is not decided yet.
func heldHere(m app.Mine, l core.LotID) bool {
	for _, s := range m.Snags {
		if s.Lot == l && s.Held {
			return true
		}
	}
	return false
}

// tab is one kind of work to choose.
type tab struct {
	title, href, count string
	current            bool
}

func (v mineView) tabs() []tab {
	var out []tab
	for _, k := range kinds {
		w, _ := workOf(v.book, v.Mine, k.Name, "")
		t := tab{title: w.Title, href: "/site/mine?do=" + string(k.Name), current: v.work != nil && v.work.Name == k.Name}
		if w.back {
			t.title = "Send back"
		} else {
			t.count = strconv.Itoa(w.waiting)
		}
		out = append(out, t)
	}
	return out
}

func lotHref(l core.LotID) string { return "/site/mine/snags?lot=" + url.QueryEscape(string(l)) }

func pick(i int, what string) string { return "picks." + strconv.Itoa(i) + "." + what }

func id(i int, what string) string { return what + "-" + strconv.Itoa(i) }

// emptied are the boxes parts may go back on.
func (v mineView) emptied() []core.PalletCode {
	var out []core.PalletCode
	for _, o := range v.Orders {
		out = append(out, o.Emptied()...)
	}
	return out
}

// hereLots is all that came and is here, in the order of the orders.
func (v mineView) hereLots() []app.SiteLot {
	var out []app.SiteLot
	for _, o := range v.Orders {
		for _, t := range o.Trucks {
			out = append(out, t.Lots...)
		}
	}
	return out
}

// how says how far a lot has come, and in which box it came.
func (v mineView) how(l app.SiteLot) string {
	out := app.SiteText(l.Reach)
	if heldHere(v.Mine, l.ID) {
		out = "held: the shop decides"
	}
	if l.Pallet != "" {
		out += ", came in box " + ui.Spaced(string(l.Pallet))
	}
	return out
}

func said(refused *app.Refused) string {
	t := words.Refusal(refused.Refusal.Code, refused.Refusal.Params)
	return t.Title + " " + t.Remedy
}
