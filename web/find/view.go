package find

import (
	"net/url"
	"slices"
	"strconv"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// view is what the page shows.
type view struct {
	head       ui.OfficeHead
	found      app.Whereabouts
	now        time.Time
	pallets    []app.OrderPallet
	further    int // pallets that are not listed: they come after those that are
	loose      []looseLots
	nothingYet bool // there is no open order in the shop
}

// looseLots are lots on no pallet that are at one place.
type looseLots struct {
	where string
	lots  []app.OrderLot
}

func gather(lots []app.OrderLot) []looseLots {
	var out []looseLots
	for _, l := range lots {
		i := slices.IndexFunc(out, func(g looseLots) bool { return g.where == l.Where })
		if i < 0 {
			i, out = len(out), append(out, looseLots{where: l.Where})
		}
		out[i].lots = append(out[i].lots, l)
	}
	return out
}

// listed is how many pallets are listed unless all are asked for. Those furthest
// behind come first.
const listed = 12

func newView(p endpoint.Page, found app.Whereabouts, all bool) view {
	v := view{found: found, now: found.AsOf}
	v.head = ui.OfficeHead{Title: "Find", Shop: p.Shop, Person: p.Caller.Name, Find: found.Text, Demo: p.Demo}
	if found.Text != "" {
		v.head.Title = "Find " + found.Text
	}
	switch {
	case found.Order != nil:
		v.pallets, v.loose = found.Order.Pallets, gather(found.Order.Loose)
	case found.Pallet != nil:
		v.pallets = []app.OrderPallet{found.Pallet.OrderPallet}
	case found.Consignment != nil:
		v.pallets = found.Consignment.Pallets
	}
	if n := len(v.pallets); n > listed && !all {
		v.pallets, v.further = v.pallets[:listed], n-listed
	}
	return v
}

// long says that an answer is better set smaller.
func (v view) long() bool { return len(v.found.Sentence) > 300 }

// asOf is the time the answer was read, and of which day.
func (v view) asOf() string {
	text := "As of " + v.now.Format("15:04:05") + ", " + v.now.Format("Monday 2 January 2006")
	if v.found.Order != nil && v.found.Order.Order.Reference != "" {
		text += "; the customer’s reference is " + v.found.Order.Order.Reference
	}
	return text + "."
}

// inFull is the address of the same answer with every pallet.
func (v view) inFull() string {
	return "/find?" + url.Values{"q": {v.found.Text}, "all": {"1"}}.Encode()
}

func (v view) historyOfOrder() string {
	if v.found.Order == nil {
		return ""
	}
	return "/history/order/" + v.found.Order.Order.No
}

func (v view) travellersOfOrder() string {
	return "/orders/" + url.PathEscape(v.found.Order.Order.No) + "/travellers"
}

func (v view) snagsOfOrder() string {
	return "/site/order/" + url.PathEscape(v.found.Order.Order.No) + "/snags"
}

// snagText says what a snag is, on what, and since when.
func (v view) snagText(s app.Snag) string {
	what := s.What
	if s.Parts != "" {
		what = s.Parts + ": " + what
	}
	return what + ", reported " + ui.Moment(s.At, v.found.AsOf) + " by " + s.Who
}

// steps is a lot's strip as it is drawn.
func steps(l app.OrderLot) []ui.StripStep {
	var out []ui.StripStep
	for _, m := range l.Strip {
		out = append(out, ui.StripStep{
			Name: m.Title, Mark: m.Mark, Hold: m.Hold, Done: m.Done, Current: m.Next && !l.Held, Held: m.Next && l.Held,
		})
	}
	return out
}

// what is the lot in figures: "4 wall panels 2400".
func what(l app.OrderLot) string { return app.Named(l.Qty, l.Name) }

// standing says what a lot waits for, in few words.
func standing(l app.OrderLot) string {
	switch {
	case l.Place.Kind == core.AtSite:
		return app.SiteText(l.AtSite)
	case l.Reach == app.Received:
		return "received at the site"
	case l.Reach >= app.Shipped:
		return "gone"
	case l.Reach == app.Loaded:
		return "loaded"
	case l.Held:
		return ""
	case l.Reach == app.Packed:
		return "packed"
	case l.Stage.Name == "":
		return "its route has ended"
	case l.Started != nil:
		return app.StageNoun(l.Stage) + " has begun"
	}
	return "waits for " + app.StageNoun(l.Stage)
}

func hitLink(h app.Hit) string {
	return "/find?q=" + h.Key
}

func hitName(h app.Hit) string {
	if h.Kind == "order" {
		return "Order " + h.Key
	}
	return h.Title
}

// need is one row of what was asked.
type need struct {
	app.Need
	depth int
}

// needs flattens what was asked, components below their unit.
func needs(in []app.Need) []need {
	var out []need
	var walk func(n app.Need, depth int)
	walk = func(n app.Need, depth int) {
		out = append(out, need{n, depth})
		for _, p := range n.Parts {
			walk(p, depth+1)
		}
	}
	for _, n := range in {
		walk(n, 0)
	}
	return out
}

// lack says what is not there, in few words.
func (n need) lack() string {
	var out []string
	add := func(k int, text string) {
		if k > 0 {
			out = append(out, strconv.Itoa(k)+" "+text)
		}
	}
	add(n.Missing, missingWord(n.Kind))
	add(n.ToCut, "not cut")
	add(n.ToBreak, "in the sheet")
	if !n.Delivered {
		add(n.ToBuild(), "to build")
	}
	return ui.List(out...)
}

func missingWord(k core.ItemKind) string {
	if k == core.KitItem || k == core.BoughtItem {
		return "not here"
	}
	return "missing"
}

func (n need) short() bool { return n.Missing > 0 }

func count(n int) string {
	if n == 0 {
		return "–"
	}
	return strconv.Itoa(n)
}
