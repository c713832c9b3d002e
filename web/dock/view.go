package dock

import (
	"net/url"
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type view struct {
	head ui.StationHead
	app.DockPage
	today   core.Date
	caution string
	tablet  bool // a station's, not the office's
}

func newView(p endpoint.Page, d app.DockPage) view {
	return view{
		DockPage: d, today: core.DateOf(d.AsOf), caution: words.Caution("lifting"), tablet: p.Caller.Tablet != "",
		head: ui.StationHead{Title: "Dock", Station: d.Station, Now: p.Now, Demo: p.Demo, Keeper: string(p.Caller.Tablet), Scripts: []string{"panels.js", "pad.js", "ink.js", "desk.js"}},
	}
}

// dayTitle names a truck day, and says where it has passed.
func (v view) dayTitle(d core.Date) string {
	switch {
	case d == "":
		return "No day promised"
	case d == v.today:
		return "Today, " + ui.Day(d, v.AsOf)
	}
	return ui.Day(d, v.AsOf)
}

func (v view) late(d core.Date) bool { return d.Before(v.today) }

func (v view) current(no string) bool { return v.Order != nil && v.Order.Order.No == no }

func (v view) currentTruck(c core.ConsignmentCode) bool { return v.Truck != nil && v.Truck.Code == c }

func orderHref(no string) string { return "/dock?order=" + url.QueryEscape(no) }

func truckHref(c core.ConsignmentCode) string { return "/dock?truck=" + string(c) }

func packingHref(c core.ConsignmentCode) string { return "/dock/" + string(c) + "/packing-list.pdf" }

// progress says how far an order is, in units of its lines.
func progress(c app.OrderCard) string {
	switch {
	case c.Asked > 0 && c.Shipped >= c.Asked:
		return "all gone"
	case c.Asked > 0 && c.Packed >= c.Asked:
		return "all packed"
	case c.Packed > 0:
		return strconv.Itoa(c.Packed) + " of " + strconv.Itoa(c.Asked) + " packed"
	}
	return "none packed"
}

// site is where an order goes, by name.
func (v view) site(id string) string {
	for _, s := range v.Sites {
		if string(s.ID) == id {
			return s.Name
		}
	}
	if id == "" {
		return "collected here"
	}
	return id
}

// trucksFor are those not gone that go where the order goes.
func (v view) trucksFor(o app.DockOrder) []core.Consignment {
	var out []core.Consignment
	for _, c := range v.Trucks {
		if c.Site == o.Order.Site {
			out = append(out, c)
		}
	}
	return out
}

// day a new truck is asked for: the promised one, or today where that has passed.
func (v view) newDay(o app.DockOrder) string {
	if o.Order.Promised.Before(v.today) {
		return string(v.today)
	}
	return string(o.Order.Promised)
}

// arrived says how far a truck that has gone is counted at its site.
func arrived(c core.Consignment) string {
	switch {
	case len(c.Came)+len(c.Missed) == 0 && c.Received.IsZero():
		return "nothing counted there yet"
	case len(c.Missed) > 0:
		return strconv.Itoa(len(c.Came)) + " of " + ui.Count(len(c.Pallets), "box", "boxes") + " counted there, " + strconv.Itoa(len(c.Missed)) + " missing; what was found"
	}
	return strconv.Itoa(len(c.Came)) + " of " + ui.Count(len(c.Pallets), "box", "boxes") + " counted there; what was found"
}
