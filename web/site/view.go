package site

import (
	"net/url"
	"strconv"
	"strings"
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
	page endpoint.Page
	site string
	ends string
	note string
	code string // the consignment's, spaced
}

func newOpenView(p endpoint.Page, b *core.Book, l app.SiteLink) openView {
	v := openView{page: p, site: l.Site, note: l.Note, code: ui.Spaced(string(l.Consignment)), ends: day(l.Ends(), p.Now)}
	if st, ok := b.Stations[core.StationID(l.Site)]; ok {
		v.site = st.Name
	}
	return v
}

func day(t, now time.Time) string { return ui.Day(core.DateOf(t.In(now.Location())), now) }

// mineView is the bearer's pages.
type mineView struct {
	app.Mine
	page  endpoint.Page
	book  *core.Book
	box   *app.MineBox // being counted
	wrong string       // with the box asked for
	work  *work
	back  string       // the pallet that parts were just sent back on
	found *app.SiteLot // on which something was found
}

func newMineView(p endpoint.Page, b *core.Book, m app.Mine) mineView {
	return mineView{Mine: m, page: p, book: b}
}

// work is one kind of work on what came.
type work struct {
	core.Stage
	act, done string
	back      bool
	sign      bool // the client signs
	caution   string
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

func workOf(b *core.Book, m app.Mine, name core.StageName) (*work, bool) {
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
		return &w, true
	}
	return nil, false
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
		w, _ := workOf(v.book, v.Mine, k.Name)
		t := tab{title: w.Title, href: "/site/mine?do=" + string(k.Name), current: v.work != nil && v.work.Name == k.Name}
		if w.back {
			t.title = "Send back"
		} else {
			n := 0
			for _, l := range w.rows {
				n += l.Qty
			}
			t.count = strconv.Itoa(n)
		}
		out = append(out, t)
	}
	return out
}

// came counts the boxes that came.
func (v mineView) came() int { return len(v.Came) }

func (v mineView) progress() string {
	return strconv.Itoa(v.came()) + " of " + ui.Count(len(v.Boxes), "box", "boxes")
}

// next says what happens next.
func (v mineView) next() string {
	var out []string
	switch n := len(v.Awaited()); {
	case v.Gone.IsZero():
		out = append(out, "The truck has not left the shop yet. This page shows what is on it; count it when it is here.")
	case n > 0 && v.came()+len(v.Missed) == 0:
		out = append(out, "Scan the label of each box, or type its code, and say what is in it.")
	case n > 0:
		out = append(out, "Scan the next box; "+ui.Count(n, "box is", "boxes are")+" still to be counted.")
	default:
		out = append(out, "All of it is counted. Unpack, fit out, and have it accepted, each with a signature here.")
	}
	if len(v.Missed) > 0 {
		out = append(out, ui.Count(len(v.Missed), "box is", "boxes are")+" missing: the shop sees that and looks for it. If it comes after all, scan it.")
	}
	if n := v.Open(); n > 0 {
		out = append(out, "The shop sees "+ui.Count(n, "snag", "snags")+" and decides; what becomes of it stands under Snags.")
	}
	return strings.Join(out, " ")
}

func boxHref(p core.PalletCode) string { return "/site/mine?box=" + string(p) }

func lotHref(l core.LotID) string { return "/site/mine/snags?lot=" + url.QueryEscape(string(l)) }

func field(i int, what string) string { return "counts." + strconv.Itoa(i) + "." + what }

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

// listed is what a box holds by the packing list.
func listed(b app.MineBox) string {
	var out []string
	for _, p := range b.Parts {
		out = append(out, app.Named(p.Qty, p.Name))
	}
	return strings.Join(out, ", ")
}

func (v mineView) tomorrow() string { return string(core.DateOf(v.AsOf.AddDate(0, 0, 1))) }

func said(refused *app.Refused) string {
	t := words.Refusal(refused.Refusal.Code, refused.Refusal.Params)
	return t.Title + " " + t.Remedy
}

// when says when a snag was reported, and by when it is wanted put right.
func when(s app.Snag, now time.Time) string {
	out := "reported " + ui.Moment(s.At, now)
	if s.Wanted != "" {
		out += ", wanted by " + ui.Day(s.Wanted, now)
	}
	return out
}
