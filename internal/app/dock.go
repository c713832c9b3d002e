package app

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"tagalong/internal/core"
)

// dockOrders is how many open orders the dock lists.
const dockOrders = 60

// dockTrucks is how many consignments the dock and a site list.
const dockTrucks = 40

// DockPage is what the dock needs: orders by the day their truck leaves, the
// trucks, and one of either in full.
type DockPage struct {
	Station string    // name of the caller's
	AsOf    time.Time // in the shop's zone
	Days    []DockDay
	Trucks  []core.Consignment // not gone yet, by day
	Back    []SiteReturn       // pallets that stand at a site, to come back
	Away    []CarriersAway     // carriers of the shop's own still out, longest gone first
	Sites   []DockSite
	Order   *DockOrder // the one looked at
	Truck   *DockTruck // or this
}

// DockDay is the orders of one truck day.
type DockDay struct {
	Date   core.Date
	Orders []OrderCard
}

// DockSite is a place consignments go to.
type DockSite struct {
	ID   core.StationID
	Name string
}

// DockOrder is one order as the dispatcher sees it.
type DockOrder struct {
	OrderView
	Ready   []OrderPallet // packed, nothing open on them, not loaded
	Loaded  []OrderPallet // on a consignment that has not left
	Missing []Missing
	Journey core.Journey
	Packing []core.Packing // what the way asks of what it delivers
}

// Complete reports whether all that the order asks is packed, loaded or gone.
func (o DockOrder) Complete() bool { return len(o.Missing) == 0 }

// DockTruck is one consignment with what leaving it would leave behind.
type DockTruck struct {
	ConsignmentView
	Orders []DockOrder // of its pallets
	Load   TruckLoad
}

// Unagreed lists the orders that would leave incomplete and whose customers have
// not agreed to part shipments beforehand.
func (t DockTruck) Unagreed() []DockOrder {
	return slices.DeleteFunc(t.Short(), func(o DockOrder) bool { return o.Order.Consent })
}

// Short lists the orders that would leave incomplete.
func (t DockTruck) Short() []DockOrder {
	var out []DockOrder
	for _, o := range t.Orders {
		if !o.Complete() {
			out = append(out, o)
		}
	}
	return out
}

// DockQuery chooses what the dock shows in full: an order or a truck. With
// neither, the first order of the list.
type DockQuery struct {
	Order string
	Truck core.ConsignmentCode
	At    core.StationID // the caller's
}

// Dock reads the dock's page. The error is ErrNotFound where the order or the
// consignment asked for is not known.
func (s *Service) Dock(ctx context.Context, q DockQuery) (DockPage, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return DockPage{}, err
	}
	p := DockPage{AsOf: inZone(s.Clock(), b), Sites: dockSites(b), Station: dockName(b, q.At)}
	cards, err := s.Store.Docket(ctx, dockOrders)
	if err != nil {
		return p, err
	}
	if err := s.countDelivered(ctx, b, cards); err != nil {
		return p, err
	}
	p.Days = dockDays(cards)
	trucks, err := s.Store.Consignments(ctx, dockTrucks)
	if err != nil {
		return p, err
	}
	for _, c := range trucks {
		if c.Gone.IsZero() {
			p.Trucks = append(p.Trucks, c)
		}
	}
	if p.Back, err = s.siteReturns(ctx, b, siteIDs(b)); err != nil {
		return p, err
	}
	if p.Away, err = s.carriersAway(ctx, b); err != nil {
		return p, err
	}
	switch {
	case q.Truck != "":
		t, err := s.DockTruck(ctx, q.Truck)
		p.Truck = t
		return p, err
	case q.Order == "" && len(p.Days) > 0:
		q.Order = p.Days[0].Orders[0].No
	}
	if q.Order == "" {
		return p, nil
	}
	o, err := s.DockOrder(ctx, q.Order)
	if err != nil {
		return p, err
	}
	p.Order = &o
	return p, nil
}

// dockCounted is how many orders of products that go out as their components
// are counted by those; the store's cards count whole lines only.
const dockCounted = dockOrders

// loadedAtOnce is how many orders are read side by side.
const loadedAtOnce = 4

// countDelivered puts the counts of what really goes out into the cards of
// orders whose products are put together at the site.
func (s *Service) countDelivered(ctx context.Context, b *core.Book, cards []OrderCard) error {
	var begun []*OrderCard
	for i := range cards {
		c := &cards[i]
		whole := !slices.ContainsFunc(c.Lines, func(l core.OrderLine) bool {
			rev := b.Items[l.Item]
			return rev.Route.Name == "" && len(rev.Bill) > 0
		})
		switch {
		case whole:
		case c.Live == 0 && c.Shipped == 0 && c.Packed == 0 && c.Made == 0: // not begun
			c.Asked = deliverables(b, c.Order)
		case len(begun) < dockCounted:
			begun = append(begun, c)
		}
	}
	errs := make([]error, len(begun))
	room := make(chan struct{}, loadedAtOnce)
	var all sync.WaitGroup
	for i, c := range begun {
		all.Go(func() {
			room <- struct{}{}
			defer func() { <-room }()
			_, v, err := s.orderStands(ctx, c.No, nil) // what is on sheets still is no part of the counts
			if err == nil {
				c.Asked, c.Made, c.Packed, c.Shipped = delivered(v.Needs)
			} else if !errors.Is(err, ErrNotFound) {
				errs[i] = err
			}
		})
	}
	all.Wait()
	return errors.Join(errs...)
}

// deliverables counts what goes out for an order.
func deliverables(b *core.Book, o core.Order) int {
	sum := 0
	for _, l := range o.Lines {
		for _, n := range core.Deliverables(b, l.Item, l.Qty) {
			sum += n
		}
	}
	return sum
}

// delivered adds up what goes out.
func delivered(needs []Need) (asked, made, packed, shipped int) {
	for _, n := range needs {
		a, m, p, s := n.Asked, n.There, n.Packed, n.Shipped
		if n.Delivered {
			a, m, p, s = delivered(n.Parts)
		}
		asked, made, packed, shipped = asked+a, made+m, packed+p, shipped+s
	}
	return asked, made, packed, shipped
}

// dockName is the station's name; on an office page, that of the first dock.
func dockName(b *core.Book, at core.StationID) string {
	if st, ok := b.Stations[at]; ok {
		return upperFirst(st.Name)
	}
	for _, st := range b.Stations {
		if st.Dock {
			return upperFirst(st.Name)
		}
	}
	return "Dock"
}

func dockSites(b *core.Book) []DockSite {
	var out []DockSite
	for _, st := range b.Stations {
		if st.Site {
			out = append(out, DockSite{st.ID, st.Name})
		}
	}
	slices.SortFunc(out, func(x, y DockSite) int {
		return cmp.Or(cmp.Compare(b.Stations[x.ID].Order, b.Stations[y.ID].Order), cmp.Compare(x.ID, y.ID))
	})
	return out
}

func dockDays(cards []OrderCard) []DockDay {
	var out []DockDay
	for _, c := range cards {
		if len(out) == 0 || out[len(out)-1].Date != c.Promised {
			out = append(out, DockDay{Date: c.Promised})
		}
		d := &out[len(out)-1]
		d.Orders = append(d.Orders, c)
	}
	return out
}

// OrdersPage is the open orders by promised date.
type OrdersPage struct {
	AsOf   time.Time
	Orders []OrderCard
	More   bool // there are later ones
}

// Orders reads the open orders that are promised first.
func (s *Service) Orders(ctx context.Context) (OrdersPage, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return OrdersPage{}, err
	}
	p := OrdersPage{AsOf: inZone(s.Clock(), b)}
	if p.Orders, err = s.Store.Docket(ctx, dockOrders+1); err != nil {
		return p, err
	}
	if len(p.Orders) > dockOrders {
		p.Orders, p.More = p.Orders[:dockOrders], true
	}
	return p, s.countDelivered(ctx, b, p.Orders)
}

// DockOrder reads one order as the dispatcher sees it.
func (s *Service) DockOrder(ctx context.Context, no string) (DockOrder, error) {
	v, err := s.OrderStands(ctx, no)
	if err != nil {
		return DockOrder{}, err
	}
	b, err := s.Book(ctx)
	if err != nil {
		return DockOrder{}, err
	}
	return newDockOrder(b, v), nil
}

func newDockOrder(b *core.Book, v OrderView) DockOrder {
	o := DockOrder{OrderView: v, Missing: MissingOf(v), Journey: core.JourneyOf(b, v.Order), Packing: packingOf(b, v.Order)}
	for _, p := range v.Pallets {
		switch {
		case p.Reach == Loaded:
			o.Loaded = append(o.Loaded, p)
		case p.Reach == Packed && !slices.ContainsFunc(p.Lots, func(l OrderLot) bool { return l.Held }):
			o.Ready = append(o.Ready, p)
		}
	}
	return o
}

// DockTruck reads one consignment, and how the orders of its pallets stand. The
// error is ErrNotFound where there is none.
func (s *Service) DockTruck(ctx context.Context, c core.ConsignmentCode) (*DockTruck, error) {
	v, err := s.consignment(ctx, c)
	if err != nil {
		return nil, err
	}
	t := DockTruck{ConsignmentView: *v}
	var nos []string
	for _, p := range t.Pallets {
		for _, l := range p.Lots {
			if no := l.Owner.Order; no != "" && !slices.Contains(nos, no) {
				nos = append(nos, no)
			}
		}
	}
	slices.Sort(nos)
	b, err := s.Book(ctx)
	if err != nil {
		return nil, err
	}
	sheets, err := s.Store.OpenSheets(ctx)
	if err != nil {
		return nil, err
	}
	for _, no := range nos {
		_, o, err := s.orderStands(ctx, no, sheets)
		if errors.Is(err, ErrNotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		t.Orders = append(t.Orders, newDockOrder(b, o))
	}
	t.Load = loadOf(b, t.ConsignmentView, t.Orders)
	return &t, nil
}
