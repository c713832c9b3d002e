package app

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

// MaxFind is the most characters a search looks at.
const MaxFind = 100

// maxHits is the most hits a search lists.
const maxHits = 20

// Whereabouts answers "where is it?" for one text.
type Whereabouts struct {
	Text string
	AsOf time.Time // in the shop's zone
	// Sentence answers, fit to be read out on the phone. It is empty where
	// nothing was asked; where several things fit, it says so.
	Sentence string
	// Details say more where the sentence tells only the gist.
	Details []string
	// At most one of these is set.
	Order       *OrderView
	Pallet      *PalletView
	Consignment *ConsignmentView
	Snags       []Snag // of Order, found at its site; latest first

	Hits []Hit // several things that fit, or the orders that ask for an item
	// Try says what to try where nothing was found.
	Try []string
}

// PalletView is one pallet with its lots.
type PalletView struct {
	OrderPallet
	Orders []core.Order // of the lots on it
	Left   bool         // the lots are those it left with
}

// ConsignmentView is one consignment with its pallets.
type ConsignmentView struct {
	core.Consignment
	SiteName string
	Pallets  []OrderPallet // with what was on them when they left, once they have
}

// WhereIs answers a text: an order's number, a customer, a customer's own
// reference, an item, a printed code (typed or scanned) or a consignment.
func (s *Service) WhereIs(ctx context.Context, text string) (Whereabouts, error) {
	text = strings.Join(strings.Fields(text), " ")
	b, err := s.Book(ctx)
	if err != nil {
		return Whereabouts{}, err
	}
	found := Whereabouts{Text: text, AsOf: inZone(s.Clock(), b)}
	switch n := utf8.RuneCountInString(text); {
	case n == 0:
		return found, nil
	case n > MaxFind && !strings.Contains(text, "://"):
		return notFound(found, "That is longer than anything that could be found: "+counted(MaxFind, "character")+" at most."), nil
	}
	if scan, err := code.ParseScan(text); err == nil {
		return s.whereIsCode(ctx, found, scan.Code)
	}
	hits, err := s.Store.Search(ctx, text, maxHits)
	if err != nil {
		return found, err
	}
	exact := func(h Hit) bool {
		item, _, _ := strings.Cut(h.Key, "@")
		return strings.EqualFold(h.Key, text) || h.Kind == "item" && strings.EqualFold(item, text)
	}
	if i := slices.IndexFunc(hits, exact); i >= 0 {
		return s.whereIsHit(ctx, found, hits[i])
	}
	switch len(hits) {
	case 0:
		return notFound(found, ""), nil
	case 1:
		return s.whereIsHit(ctx, found, hits[0])
	}
	found.Hits = saidHits(hits, core.DateOf(found.AsOf))
	found.Sentence = upperFirst(counted(len(hits), kindOf(hits))) + " fit “" + text + "”."
	if len(hits) == maxHits {
		found.Sentence = "Many " + plural(kindOf(hits)) + " fit “" + text + "”; these are the first " + inWords(maxHits) + "."
	}
	return found, nil
}

// kindOf is what all hits are, or else things.
func kindOf(hits []Hit) string {
	for _, h := range hits {
		if h.Kind != hits[0].Kind {
			return "thing"
		}
	}
	return hits[0].Kind
}

// saidHits writes the promised date that ends an order's line as people say it.
func saidHits(hits []Hit, today core.Date) []Hit {
	out := slices.Clone(hits)
	for i, h := range out {
		at := strings.LastIndex(h.Sub, ", ")
		if h.Kind != "order" || at < 0 {
			continue
		}
		if d := core.Date(h.Sub[at+2:]); !d.Time(time.UTC).IsZero() {
			out[i].Sub = h.Sub[:at] + ", " + lowerFirst(promise(d, today))
		}
	}
	return out
}

func notFound(w Whereabouts, why string) Whereabouts {
	w.Sentence = why
	if why == "" {
		w.Sentence = "Nothing fits “" + w.Text + "”."
	}
	w.Try = []string{
		"The order's number alone, such as 4117, or the customer's own reference.",
		"The first letters of the customer's name.",
		"An item's number or a word of its name.",
		"The eight characters under the square code on the traveller; they never hold 0, O, 1, I or L.",
	}
	return w
}

func (s *Service) whereIsHit(ctx context.Context, found Whereabouts, h Hit) (Whereabouts, error) {
	switch h.Kind {
	case "order":
		return s.whereIsOrder(ctx, found, h.Key)
	case "pallet", "sheet", "box", "consignment", "unit":
		c, err := code.Parse(h.Key)
		if err != nil {
			return notFound(found, ""), nil
		}
		return s.whereIsCode(ctx, found, c)
	case "item":
		return s.whereIsItem(ctx, found, h)
	}
	found.Hits = []Hit{h}
	return found, nil
}

// OrderStands is how an order stands.
func (s *Service) OrderStands(ctx context.Context, no string) (OrderView, error) {
	sheets, err := s.Store.OpenSheets(ctx)
	if err != nil {
		return OrderView{}, err
	}
	_, v, err := s.orderStands(ctx, no, sheets)
	return v, err
}

// orderStands is OrderStands for whoever has read the open sheets already, with
// the rows it is read from.
func (s *Service) orderStands(ctx context.Context, no string, sheets []SheetCard) (w core.World, v OrderView, err error) {
	if w, err = s.Store.ReadOrder(ctx, no); err != nil {
		return w, v, err
	}
	if w.Book == nil {
		if w.Book, err = s.Book(ctx); err != nil {
			return w, v, err
		}
	}
	w.Now = s.Clock()
	left, err := s.leftOnPallets(ctx, w, no)
	if err != nil {
		return w, v, err
	}
	v, err = newOrderView(w, no, sheets, left)
	return w, v, err
}

// leftOnPallets tells of an order's lots on trucks which pallets they left on.
func (s *Service) leftOnPallets(ctx context.Context, w core.World, no string) (map[core.LotID]core.PalletCode, error) {
	var away []core.Lot
	var events []core.EventID
	for _, l := range w.State.Lots {
		if l.Owner.Order == no && l.Place.Kind == core.InConsignment {
			away, events = append(away, l), append(events, sentBy(l))
		}
	}
	if len(away) == 0 {
		return nil, nil
	}
	sent, err := s.sendings(ctx, nil, events)
	out := map[core.LotID]core.PalletCode{}
	for _, l := range away {
		if _, on := cameOn(sent, l); on.Pallet != "" {
			out[l.ID] = on.Pallet
		}
	}
	return out, err
}

func (s *Service) whereIsOrder(ctx context.Context, found Whereabouts, no string) (Whereabouts, error) {
	sheets, err := s.Store.OpenSheets(ctx)
	if err != nil {
		return found, err
	}
	w, v, err := s.orderStands(ctx, no, sheets)
	if errors.Is(err, ErrNotFound) {
		return notFound(found, ""), nil
	}
	if err != nil {
		return found, err
	}
	found.Order = &v
	found.Sentence, found.Details = standing(&v)
	if slices.ContainsFunc(v.Needs, func(n Need) bool { return n.Shipped > 0 }) { // before that there is no site
		found.Snags, err = s.snagsOfOrder(ctx, w.Book, no)
	}
	return found, err
}

func (s *Service) whereIsItem(ctx context.Context, found Whereabouts, h Hit) (Whereabouts, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return found, err
	}
	id, rev, _ := strings.Cut(h.Key, "@")
	open, err := s.openOrders(ctx, func(o core.Order) bool { return asks(b, o, core.ItemID(id)) })
	if err != nil {
		return found, err
	}
	name := "Item " + id
	if n := b.Items[core.ItemRev{Item: core.ItemID(id), Rev: rev}].Name; n != "" {
		name += ", " + n + ","
	}
	switch len(open) {
	case 0:
		found.Sentence = name + " is asked for by no open order."
	default:
		found.Hits = open
		found.Sentence = name + " is asked for by " + counted(len(open), "open order") + ", the earliest promised first."
		if len(open) == 1 {
			found.Sentence = name + " is asked for by one open order."
		}
	}
	return found, nil
}

// openOrders lists the open orders that a test chooses, by promised date.
func (s *Service) openOrders(ctx context.Context, want func(core.Order) bool) ([]Hit, error) {
	const all = 500
	cards, err := s.Store.Docket(ctx, all)
	if err != nil {
		return nil, err
	}
	today := core.DateOf(s.Clock())
	var out []Hit
	for _, c := range cards {
		if !want(c.Order) || len(out) == maxHits {
			continue
		}
		out = append(out, Hit{Kind: "order", Key: c.No, Title: c.No, Sub: c.Customer + ", " + lowerFirst(promise(c.Promised, today))})
	}
	return out, nil
}

// asks reports whether an order asks for an item, itself or inside another.
func asks(b *core.Book, o core.Order, id core.ItemID) bool {
	seen := map[core.ItemRev]bool{}
	var holds func(item core.ItemRev) bool
	holds = func(item core.ItemRev) bool {
		if item.Item == id {
			return true
		}
		if seen[item] {
			return false
		}
		seen[item] = true
		return slices.ContainsFunc(b.Items[item].Bill, func(c core.Component) bool { return holds(c.Item) })
	}
	return slices.ContainsFunc(o.Lines, func(l core.OrderLine) bool { return holds(l.Item) })
}
