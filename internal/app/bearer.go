package app

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

// Bearer is whoever claimed the link of a consignment, on the browser they did
// it with: nobody the shop knows, and a signer of what is done with that
// consignment at its site.
type Bearer struct {
	Link        core.PersonID // the signer's id
	Consignment core.ConsignmentCode
	Order       string // the only one it opens; empty: the whole consignment
}

// Bears reports whether the caller is known by a consignment's link and by
// nothing else.
func (c Caller) Bears() bool { return c.Bearer.Link != "" && !c.OnTablet() && !c.SignedIn() }

// Signer is the person signed in or the bearer of a link; empty: neither.
func (c Caller) Signer() core.PersonID {
	if c.Bears() {
		return c.Bearer.Link
	}
	return c.Person
}

// knowBearer finds whose browser it is by the secret left when a link was
// claimed. Where a tablet or a person is known already they ask, not a bearer.
func (s *Service) knowBearer(ctx context.Context, c *Caller, secret string) error {
	if len(secret) != base64.RawURLEncoding.EncodedLen(tokenBytes) || c.OnTablet() || c.SignedIn() {
		return nil
	}
	l, err := s.Store.SiteLinkByDevice(ctx, sha256.Sum256([]byte(secret)))
	switch {
	case errors.Is(err, ErrNotFound):
		return nil
	case err != nil:
		return fmt.Errorf("find the bearer: %w", err)
	}
	if c.LinkOver = l.over(s.Clock()); c.LinkOver != "" {
		return nil
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return fmt.Errorf("read the catalogue: %w", err)
	}
	c.Bearer = Bearer{Link: l.ID, Consignment: l.Consignment, Order: l.Order}
	if at, ok := book.Stations[core.StationID(l.Site)]; ok && at.Site {
		c.Station = at.ID
	}
	return nil
}

// LinkID is the id of a consignment's n-th link.
func LinkID(c core.ConsignmentCode, n string) core.PersonID {
	return core.PersonID(bearerPrefix + string(c) + "-" + n)
}

// bearsFor reports whether an id is that of a bearer of one of a consignment's
// links.
func bearsFor(id core.PersonID, c core.ConsignmentCode) bool {
	return strings.HasPrefix(string(id), string(LinkID(c, "")))
}

// bearerName is how the record reads a bearer: by what the link was for.
func bearerName(id core.PersonID) (string, bool) {
	rest, ok := strings.CutPrefix(string(id), bearerPrefix)
	c, _, two := strings.Cut(rest, "-")
	if !ok || !two {
		return "", false
	}
	return "the bearer of the link for consignment " + code.Code(c).Spaced(), true
}

// bearing is what a bearer's command is judged with, beside the shop's rules.
type bearing struct {
	Bearer
	sent   []sending // of the consignment
	orders []string  // of what was sent
}

func (s *Service) bearingOf(ctx context.Context, c Caller) (bearing, error) {
	sent, err := s.sendings(ctx, []core.ConsignmentCode{c.Bearer.Consignment}, nil)
	if err != nil {
		return bearing{}, err
	}
	orders, err := s.ordersSent(ctx, sent)
	return bearing{c.Bearer, sent, orders}, err
}

// decide lets the shop's rules decide on what is the bearer's to do: with the
// consignment of the link, and with lots that left on it. The bearer signs as a
// fitter.
func (b bearing) decide(w core.World, c core.Command, rules func(core.World, core.Command) core.Outcome) core.Outcome {
	if r := b.refuses(w.State, c); r != nil {
		return core.Outcome{Refusal: r}
	}
	book := *w.Book
	book.People = maps.Clone(book.People)
	book.People[b.Link] = core.Person{ID: b.Link, Roles: []core.Role{core.Fitter}}
	w.Book = &book
	return rules(w, c)
}

func (b bearing) refuses(state *core.State, c core.Command) *core.Refusal {
	no := func(code string, pairs ...string) *core.Refusal { return &Refuse(code, pairs...).Refusal }
	switch body := c.Body.(type) {
	case core.ReceiveAtSite:
		if b.Order != "" && body.Order != b.Order {
			return no("link-other-order", "order", b.Order)
		}
		return b.otherTruck(body.Consignment)
	case core.TurnUp:
		if r := b.otherTruck(body.Consignment); r != nil {
			return r
		}
		for _, f := range body.Finds {
			if r := b.others(state, f.Lot); r != nil {
				return r
			}
		}
	case core.ReportSnag:
		if r := b.otherTruck(body.Consignment); r != nil {
			return r
		}
		if body.Unit != "" {
			return b.others(state, body.Unit)
		}
		if !slices.Contains(b.orders, body.Order) || b.Order != "" && body.Order != b.Order {
			return no("link-other-order", "order", cmp.Or(b.Order, strings.Join(b.orders, ", ")))
		}
	case core.PutRightSnag:
		if x, known := state.Snags[body.Snag]; known {
			if r := b.otherTruck(x.Consignment); r != nil {
				return r
			}
			if b.Order != "" && x.Order != b.Order {
				return no("link-other-order", "order", b.Order)
			}
		}
	case core.ReportProblem:
		if body.Pallet != "" || body.To != "" {
			return no("bearer-may-not", "kind", "a problem on a pallet")
		}
		return b.others(state, body.Lot)
	case core.WorkAtSite:
		if body.To != "" && !slices.Contains(b.pallets(), body.To) {
			return no("link-other-pallet", "pallet", code.Code(body.To).Spaced(), "consignment", code.Code(b.Consignment).Spaced())
		}
		for _, k := range body.Picks {
			if r := b.others(state, k.Lot); r != nil {
				return r
			}
		}
	default:
		return no("bearer-may-not", "kind", c.Body.Kind())
	}
	return nil
}

func (b bearing) otherTruck(c core.ConsignmentCode) *core.Refusal {
	if c == b.Consignment {
		return nil
	}
	return &Refuse("link-other-consignment", "consignment", code.Code(b.Consignment).Spaced()).Refusal
}

// others refuses a lot that did not come on the consignment, or is of another
// order than the link's.
func (b bearing) others(state *core.State, id core.LotID) *core.Refusal {
	if l, ok := state.Lots[id]; ok && b.brought(l) {
		if b.Order == "" || l.Owner.Order == b.Order {
			return nil
		}
		return &Refuse("link-other-order", "order", b.Order).Refusal
	}
	return &Refuse("link-other-lot", "consignment", code.Code(b.Consignment).Spaced()).Refusal
}

// pallets are those the consignment left on.
func (b bearing) pallets() []core.PalletCode {
	var out []core.PalletCode
	for _, x := range b.sent {
		for _, l := range x.Lots {
			out = append(out, l.Pallet)
		}
	}
	return out
}

// bearerSigns is the signature of a bearer: whoever has the phone on which the
// link was claimed. Nobody else signs beside them, and they set no rule aside.
func bearerSigns(caller Caller, p Policy, book *core.Book, c core.Command, req Request) ([]core.Signature, error) {
	if len(req.Sign) > 0 || len(req.Waive) > 0 {
		return nil, Refuse("bearer-may-not", "kind", "a concession, or a signature with a badge,")
	}
	meaning, err := meaningOf(p, book, c.Body, 0, "")
	return []core.Signature{{Person: caller.Bearer.Link, Meaning: meaning, At: c.Happened}}, err
}

// brought reports whether a lot, or what it was split off, left on the
// consignment.
func (b bearing) brought(l core.Lot) bool {
	return slices.ContainsFunc(b.sent, func(x sending) bool { return x.Event == sentBy(l) })
}
