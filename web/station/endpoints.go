package station

import (
	"tagalong/internal/app"
	"tagalong/web/endpoint"
)

// Endpoints are the tablet's pages over a service.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	p := pages{s}
	return []endpoint.Endpoint{
		{Method: "GET", Path: "/station", Access: endpoint.Tablet, Handler: p.rest, Doc: "The tablet's station at rest: pallets here and on their way."},
		{Method: "POST", Path: "/station/scan", Access: endpoint.Tablet, Handler: p.scan, MaxBody: 2048, Doc: "Find what a scanned or typed code names, and go there."},
		{Method: "GET", Path: "/station/pallets/{code}", Access: endpoint.Tablet, Handler: p.pallet, Doc: "One pallet at the tablet's station, with the one thing to do now."},
		{Method: "GET", Path: "/station/units", Access: endpoint.Tablet, Handler: p.unit, Doc: "One unit or kit to gather and build, by item and order line or its code; all of them, where none is named."},
		{Method: "GET", Path: "/station/late/{code}", Access: endpoint.Tablet, Handler: p.late, Doc: "One made unit on a pallet: which components come out of it, and which late ones go in."},
		{Method: "GET", Path: "/station/apart/{code}", Access: endpoint.Tablet, Handler: p.apart, Doc: "One made unit on a pallet: what comes out of it when it is taken apart, and what is held."},
		{Method: "GET", Path: "/station/paper/{code}", Access: endpoint.Tablet, Handler: p.paper, Doc: "A step that was signed with a pen on the traveller, entered afterwards by two people."},
		{Method: "GET", Path: "/station/prints", Access: endpoint.Tablet, Handler: p.prints, Doc: "The pallets that a motion changed, pallets=CODE,CODE, with the travellers to print; next= is the pallet to go on with."},
		{Method: "GET", Path: "/station/lend/{code}", Access: endpoint.Tablet, Handler: p.lend, Doc: "One lot on a pallet, lot=ID, whose parts are lent to another order, paid back or put to stock."},
		{Method: "GET", Path: "/station/goods", Access: endpoint.Tablet, Handler: p.goods, Doc: "Goods in: a sheet, a bar or a bought item to take in."},
		{Method: "GET", Path: "/P/{code}", Access: endpoint.TabletOr().OrBearer(), Handler: p.printed, Doc: "The address in a pallet's QR symbol; to the bearer of a link, a box to count."},
		{Method: "GET", Path: "/P/{code}/{print}", Access: endpoint.TabletOr().OrBearer(), Handler: p.printed, Doc: "The address in a traveller's QR symbol, with the number of the print."},
		{Method: "GET", Path: "/S/{code}", Access: endpoint.TabletOr(), Handler: p.printed, Doc: "The address in a sheet's or bar's QR symbol."},
		{Method: "GET", Path: "/S/{code}/{print}", Access: endpoint.TabletOr(), Handler: p.printed, Doc: "The same, with the number of the print."},
		{Method: "GET", Path: "/U/{code}", Access: endpoint.TabletOr(), Handler: p.printed, Doc: "The address in a unit build's QR symbol."},
		{Method: "GET", Path: "/station/place", Access: endpoint.Tablet, Handler: p.place, Doc: "What a sign says on a tablet: whose it is (of=, slot=), and what stands there; pallet= is the one looked at before."},
		{Method: "GET", Path: "/T/{station}", Access: endpoint.TabletOr(), Handler: p.signed, Doc: "The address in a station sign's QR symbol."},
		{Method: "GET", Path: "/T/{station}/{slot}", Access: endpoint.TabletOr(), Handler: p.signed, Doc: "The address in a slot sign's QR symbol."},
		{Method: "GET", Path: "/stations/{station}", Access: endpoint.TabletOr(), Handler: p.standing, Doc: "What stands at a station and what is on its way there; slot= for one slot of a pallet store."},
	}
}
