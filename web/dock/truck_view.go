package dock

import (
	"strconv"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/ui"
)

// loadText is how many carriers a truck has and what they weigh, as far as the
// drawings say.
func loadText(t app.DockTruck) string {
	text := ui.Count(len(t.Pallets), "carrier")
	if t.Load.Mass > 0 {
		text += ", parts " + ui.Kilograms(t.Load.Mass) + " by the drawings"
	}
	if n := len(t.Load.Unknown); n > 0 {
		text += ", " + strconv.Itoa(n) + " not known"
	}
	return text
}

// onIt is what stands on a carrier: its parts and their orders.
func onIt(p app.StowedPallet) string {
	text := names(p.Lots)
	if len(p.Orders) > 0 {
		text += ", " + ui.List(p.Orders...)
	}
	return text
}

func massText(p app.StowedPallet) string {
	switch {
	case p.Gross > 0:
		return "gross " + ui.Kilograms(p.Gross)
	case p.Mass == 0:
		return "mass not known"
	}
	return ui.Kilograms(p.Mass)
}

// grossText is a gross mass as it is typed; empty where none was.
func grossText(p app.StowedPallet) string {
	if p.Gross == 0 {
		return ""
	}
	return strconv.FormatFloat(p.Gross, 'f', -1, 64)
}

// handedOver says on which vehicle a load left, and how its driver signed.
func handedOver(t app.DockTruck) string {
	text := "vehicle " + t.Vehicle
	if signed := app.DriverText(t.HandedTo); signed != "" {
		text += ", " + signed
	}
	return text
}

// receivedText says whether an order on a truck is received at its site.
func receivedText(v view, t app.DockTruck, no string) string {
	for _, r := range t.Receipts {
		if r.Order == no {
			return "received at the site " + ui.Moment(r.At.In(v.AsOf.Location()), v.AsOf)
		}
	}
	if !t.Received.IsZero() {
		return "received at the site " + ui.Moment(t.Received.In(v.AsOf.Location()), v.AsOf)
	}
	return "not received yet"
}

// lacks is what of an order would stay behind, in one line.
func lacks(o app.DockOrder) string {
	var out []string
	for _, m := range o.Missing {
		out = append(out, app.Named(m.Count, m.Name))
	}
	return strings.Join(out, "; ")
}

// asks names the orders a truck leaves short without an agreement made before.
func asks(t app.DockTruck) string {
	if len(t.Unagreed()) > 0 {
		return "order-short"
	}
	return ""
}

// field names a field of the n-th entry of a list.
func field(list string, n int, name string) string {
	return list + "." + strconv.Itoa(n) + "." + name
}

func kindName(k core.ReturnKind) string {
	return strings.ToUpper(string(k)[:1]) + string(k)[1:] + "s"
}

// packedFor is what the way of an order asks, with how far it is; empty where it
// asks nothing.
func packedFor(o app.DockOrder) string {
	if len(o.Packing) == 0 {
		return ""
	}
	return o.Journey.Text() + ": " + core.PackingText(o.Packing)
}

func (v view) away(c app.CarriersAway) string {
	return core.CarriersText(c.Owed()) + ", " + c.SiteName
}
