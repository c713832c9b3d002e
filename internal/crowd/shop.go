package crowd

import "tagalong/internal/core"

// The invented shop: orders that ask for the same things at every depth, so that
// parts can be lent both ways, over routes just long enough for each kind of
// work to matter.
var (
	Plate = core.ItemRev{Item: "EQ-PLATE", Rev: "A"}
	Strut = core.ItemRev{Item: "EQ-STRUT", Rev: "A"}
	Cap   = core.ItemRev{Item: "EQ-CAP", Rev: "A"}
	Joint = core.ItemRev{Item: "EQ-JOINT", Rev: "A"} // a component that is an assembly itself
	Frame = core.ItemRev{Item: "EQ-FRAME", Rev: "A"}
	Bag   = core.ItemRev{Item: "EQ-BAG", Rev: "1"}
	Tube  = core.ItemRev{Item: "EQ-TUBE", Rev: "1"}
	Kit   = core.ItemRev{Item: "EQ-KIT", Rev: "A"}
	Set   = core.ItemRev{Item: "EQ-SET", Rev: "A"} // a product, put together at the site

	Sheet = core.ItemRev{Item: "SH-5005-3", Rev: "1"} // of the samples, as are people and stations
	Bar   = core.ItemRev{Item: "BAR-L40", Rev: "1"}
)

// Gauges are what caps may be measured with.
var Gauges = []string{"CA-01", "CA-02"}

// Site is where everything goes.
const Site = "SITE-LARKFIELD"

// Items are all that routes lead to their end.
var Items = []core.ItemRev{Plate, Strut, Cap, Joint, Frame, Bag, Tube, Kit}

// Catalogue is the shop's own routes and items, to be added to a book that has
// the samples' stages, stations, people, instruments and batches.
func Catalogue() (routes []core.Route, items []core.Revision) {
	route := func(name string, stages ...core.StageName) core.RouteRef {
		r := core.Route{RouteRef: core.RouteRef{Name: name, Version: 1}}
		for i, s := range stages {
			step := core.Step{No: 10 * (i + 1), Stage: s}
			if name == "EQ-CAP" && s == "edge-round" {
				step.Checks = []core.Characteristic{{ID: "rim", Text: "Height of the rim", Kind: core.Measure, Unit: "mm",
					Nominal: new(30.0), Lower: new(29.5), Upper: new(30.5), Instrument: "caliper", Source: "drawing"}}
			}
			if name == "EQ-CAP" && s == "final-check" {
				step.Sampling = []core.SampleRow{{UpTo: 2, Size: 1}, {Size: 2}}
			}
			r.Steps = append(r.Steps, step)
		}
		routes = append(routes, r)
		return r.RouteRef
	}
	add := func(id core.ItemRev, kind core.ItemKind, route core.RouteRef, bill ...core.Component) {
		rev := core.Revision{ItemRev: id, Kind: kind, Name: string(id.Item), Route: route, Bill: bill}
		if kind == core.PartItem || kind == core.AssemblyItem {
			rev.Metal, rev.Grade, rev.Thickness = core.Aluminium, "5005-H32", 3
		}
		items = append(items, rev)
	}
	bought := route("EQ-BOUGHT", "goods-in", "pack")
	add(Plate, core.PartItem, route("EQ-PLATE", "cut", "separate", "edge-round"))
	add(Strut, core.PartItem, route("EQ-STRUT", "cut", "separate", "hand-round"))
	add(Cap, core.PartItem, route("EQ-CAP", "cut", "separate", "edge-round", "final-check", "pack"))
	add(Bag, core.BoughtItem, bought)
	add(Tube, core.BoughtItem, bought)
	add(Joint, core.AssemblyItem, route("EQ-JOINT", "weld", "hand-round"), core.Component{Item: Plate, Qty: 1}, core.Component{Item: Strut, Qty: 2})
	add(Frame, core.AssemblyItem, route("EQ-FRAME", "weld", "hand-round", "weld-inspect", "final-check", "pack"),
		core.Component{Item: Joint, Qty: 1}, core.Component{Item: Plate, Qty: 1})
	add(Kit, core.KitItem, route("EQ-KIT", "kit-check", "pack"), core.Component{Item: Bag, Qty: 2}, core.Component{Item: Tube, Qty: 1})
	add(Set, core.ProductItem, core.RouteRef{}, core.Component{Item: Frame, Qty: 1}, core.Component{Item: Kit, Qty: 1}, core.Component{Item: Cap, Qty: 2})
	return routes, items
}

// Sets is an order for product and caps, Frames one for a product and frames,
// whose customer takes it in parts.
func Sets(no string) core.Order {
	return core.Order{No: no, Customer: "Invented Works", Site: Site, Promised: "2026-12-04",
		Lines: []core.OrderLine{line(no, 1, Set, 2), line(no, 2, Cap, 3)}}
}

func Frames(no string) core.Order {
	return core.Order{No: no, Customer: "Invented Halls", Site: Site, Promised: "2026-12-11", Consent: true,
		Lines: []core.OrderLine{line(no, 1, Set, 1), line(no, 2, Frame, 2)}}
}

func line(no string, n int, item core.ItemRev, qty int) core.OrderLine {
	return core.OrderLine{Owner: core.Owner{Order: no, Line: n}, Item: item, Qty: qty}
}
