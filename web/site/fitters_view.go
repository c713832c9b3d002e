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

// siteView is the fitters' page.
type siteView struct {
	head ui.OfficeHead
	app.SitePage
	book    *core.Book
	work    siteWork // of the order looked at
	receipt receipt  // of the consignment looked at
}

// siteWork is one kind of work at a site, with what it may be done on.
type siteWork struct {
	core.Stage
	from    app.SiteReach // parts must have come so far, and no further
	back    bool          // sends back, whatever they have come to
	act     string        // "Sign: unpacked"
	done    string
	caution string
	rows    []siteRow
}

// siteRow is like parts that are counted together.
type siteRow struct {
	name, sub string
	count     int
	lots      []app.SiteLot
	first     int // number of its first lot on the page
}

// siteWorks are the kinds of work at a site, in their order.
var siteWorks = []siteWork{
	{Stage: core.Stage{Name: "unpack"}, from: app.SiteReceived, act: "Sign: unpacked", done: "Unpacked"},
	{Stage: core.Stage{Name: "fit-out"}, from: app.SiteUnpacked, act: "Sign: fitted out", done: "Fitted out"},
	{Stage: core.Stage{Name: "accept"}, from: app.SiteFitted, act: "Sign: accepted", done: "Accepted"},
	{Stage: core.Stage{Name: "return"}, back: true, act: "Sign: send them back", done: "Sent back"},
}

func newSiteView(p endpoint.Page, b *core.Book, s app.SitePage, do string) siteView {
	v := siteView{
		SitePage: s, book: b,
		head: ui.OfficeHead{
			Title: "At the site", Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Scripts: []string{"panels.js", "pad.js", "photos.js", "scan.js", "site.js", "mine.js"},
			Nav: []ui.Link{{Text: "At the site", Href: "/site", Current: true}, {Text: "Find", Href: "/find"}},
		},
	}
	if s.Truck != nil {
		v.receipt = receipt{Mine: *s.Truck, home: "/site?truck=" + string(s.Truck.Code), sign: true}
	}
	if s.Order != nil {
		v.work = chosenWork(b, *s.Order, do)
	}
	return v
}

// chosenWork is the work asked for; else the first that anything waits for.
func chosenWork(b *core.Book, o app.SiteOrder, do string) siteWork {
	chosen := siteWorks[len(siteWorks)-1]
	n := o.Counts()
	for _, w := range siteWorks {
		if string(w.Name) == do || do == "" && !w.back && n[w.from] > 0 {
			chosen = w
			break
		}
	}
	chosen.Stage, _ = b.Table.Stage(chosen.Name)
	chosen.caution = words.Caution(chosen.Caution)
	chosen.rows = rowsFor(chosen, o)
	return chosen
}

// rowsFor puts like parts together. What is still packed is known by its
// pallet; unpacked parts lie together, whichever pallet they came on.
func rowsFor(w siteWork, o app.SiteOrder) []siteRow {
	type key struct {
		truck  core.ConsignmentCode
		pallet core.PalletCode
		item   core.ItemRev
		line   int
		reach  app.SiteReach
	}
	at := map[key]int{}
	var out []siteRow
	for _, t := range o.Trucks {
		for _, l := range t.Lots {
			if !w.back && l.Reach != w.from {
				continue
			}
			k := key{truck: t.Code, item: l.Item, line: l.Owner.Line, reach: l.Reach}
			if l.Reach == app.SiteReceived {
				k.pallet = l.Pallet
			}
			i, ok := at[k]
			if !ok {
				i, at[k] = len(out), len(out)
				out = append(out, siteRow{name: l.Name, sub: rowSub(w, t, l)})
			}
			out[i].count += l.Qty
			out[i].lots = append(out[i].lots, l)
		}
	}
	n := 0
	for i := range out {
		out[i].first = n
		n += len(out[i].lots)
	}
	return out
}

// rowSub says how one knows the parts of a row.
func rowSub(w siteWork, t app.SiteTruck, l app.SiteLot) string {
	var parts []string
	if w.back {
		parts = append(parts, app.SiteText(l.Reach))
	}
	switch {
	case l.Reach == app.SiteReceived && l.Pallet != "":
		parts = append(parts, "on pallet "+ui.Spaced(string(l.Pallet)))
	case t.Code != "":
		parts = append(parts, "came on "+ui.Spaced(string(t.Code)))
	}
	return strings.Join(parts, ", ")
}

// alike reports whether some row stands for parts the record keeps apart.
func (w siteWork) alike() bool {
	for _, r := range w.rows {
		if len(r.lots) > 1 {
			return true
		}
	}
	return false
}

// parts says of how many of what a row is.
func (r siteRow) parts() string { return app.Named(r.count, r.name) }

func (r siteRow) field(i int, what string) string {
	return "picks." + strconv.Itoa(r.first+i) + "." + what
}

func (v siteView) tabs() []tab {
	n := v.Order.Counts()
	var out []tab
	for _, w := range siteWorks {
		st, _ := v.book.Table.Stage(w.Name)
		t := tab{title: st.Title, href: v.doHref(w.Name), current: w.Name == v.work.Name}
		if w.back {
			t.title = "Send back"
		} else {
			t.count = strconv.Itoa(n[w.from])
		}
		out = append(out, t)
	}
	return out
}

func siteHref(o app.SiteOrder) string {
	return "/site?order=" + url.QueryEscape(o.No) + "&at=" + url.QueryEscape(string(o.At))
}

func (v siteView) doHref(s core.StageName) string { return siteHref(*v.Order) + "&do=" + string(s) }

// after is the page that follows what is signed here.
func (v siteView) after() string { return siteHref(*v.Order) }

// title names an order, or what is of none.
func orderTitle(o app.SiteOrder) string {
	if o.No == "" {
		return "Of no order"
	}
	return o.No
}

// stands says how far the parts of an order have come: "3 fitted out, 1 not
// unpacked yet".
func stands(o app.SiteOrder) string { return standing(o.Counts()) }

func standing(n [4]int) string {
	var out []string
	for r := app.SiteAccepted; r >= app.SiteReceived; r-- {
		if n[r] > 0 {
			out = append(out, strconv.Itoa(n[r])+" "+app.SiteText(r))
		}
	}
	return strings.Join(out, ", ")
}

// came is one item of a consignment, with how far its parts have come.
type came struct{ what, stands string }

func cameOn(t app.SiteTruck) []came {
	type key struct {
		item core.ItemRev
		line int
	}
	var order []key
	names, counts := map[key]string{}, map[key]*[4]int{}
	for _, l := range t.Lots {
		k := key{l.Item, l.Owner.Line}
		if counts[k] == nil {
			order, counts[k], names[k] = append(order, k), &[4]int{}, l.Name
		}
		counts[k][l.Reach] += l.Qty
	}
	var out []came
	for _, k := range order {
		n := *counts[k]
		out = append(out, came{app.Named(n[0]+n[1]+n[2]+n[3], names[k]), standing(n)})
	}
	return out
}

func (v siteView) heading() string {
	if v.Name == "" {
		return "At the sites"
	}
	return "At the site"
}

func (v siteView) name(c core.Consignment) string {
	if st, ok := v.book.Stations[core.StationID(c.Site)]; ok {
		return st.Name
	}
	return c.Site
}

func (v siteView) left(c core.Consignment) string {
	return "left " + ui.Moment(c.Gone, v.AsOf) + ", vehicle " + c.Vehicle
}

func (v siteView) day(t time.Time) string { return ui.Moment(t, v.AsOf) }

// truckTitle says how parts came.
func (v siteView) truckTitle(t app.SiteTruck) string {
	if t.Code == "" {
		return "How it came is not on record"
	}
	return "Consignment " + ui.Spaced(string(t.Code)) + ", received " + v.day(t.Received)
}

// why is what was said of the parts on a returned pallet.
func why(r app.SiteReturn) string {
	for _, l := range r.Lots {
		if l.Held {
			return l.Why
		}
	}
	return ""
}

// printHref is where a numbered print of a pallet's traveller is shown.
func printHref(p core.PalletCode) string {
	return "/pallets/" + string(p) + "/traveller?back=" + url.QueryEscape("/site")
}

// nothing says of a kind of work that nothing waits for it, and what does.
func (w siteWork) nothing(o app.SiteOrder) string {
	n := o.Counts()
	switch {
	case w.from == app.SiteAccepted-1 && n[app.SiteReceived]+n[app.SiteUnpacked] > 0:
		return "Accept what is fitted out; " + strconv.Itoa(n[app.SiteReceived]+n[app.SiteUnpacked]) + " are not."
	case w.from == app.SiteUnpacked && n[app.SiteReceived] > 0:
		return "Fit out what is unpacked; " + strconv.Itoa(n[app.SiteReceived]) + " are still packed."
	}
	return "All that is here has come further already."
}

// cautionBack is for whoever moves the pallet.
func (v siteView) cautionBack() string { return words.Caution("lifting") }
