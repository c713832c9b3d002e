package app

import (
	"context"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

// How long a consignment's link is good: so many days after the truck's day, and
// so many after all of it was received, whichever is sooner.
const (
	linkDays         = 30
	linkDaysReceived = 14
)

// mostLinkNote is how long the note on a bearer may be, in characters.
const mostLinkNote = 60

// bearerPrefix begins the ids of bearers; no person's begins so.
const bearerPrefix = "L-"

// LinkMakers may make and revoke the links of consignments.
var LinkMakers = []core.Role{core.Dispatcher, core.Manager, core.Admin}

// SiteLink is the link of a consignment: whoever claims it first, on the phone
// they do it with, may receive that consignment and work on what it brought.
type SiteLink struct {
	ID          core.PersonID // of what its bearer signs
	Consignment core.ConsignmentCode
	Order       string // the only one it opens; empty: the whole consignment
	Site        string // of the consignment
	Note        string // who is meant, in the maker's words; may be blanked
	MadeBy      core.PersonID
	Made        time.Time
	EndsAt      time.Time // at the latest
	Claimed     time.Time
	Revoked     time.Time
	Received    time.Time // all of the consignment
	Printed     bool      // on a packing list: the next list printed with one withdraws it
}

// Ends is when the link ends by itself.
func (l SiteLink) Ends() time.Time {
	if l.Received.IsZero() {
		return l.EndsAt
	}
	if sooner := l.Received.AddDate(0, 0, linkDaysReceived); sooner.Before(l.EndsAt) {
		return sooner
	}
	return l.EndsAt
}

// over is the refusal's code of a link that is good no longer; empty: it is good.
func (l SiteLink) over(now time.Time) string {
	switch {
	case !l.Revoked.IsZero():
		return "link-revoked"
	case !now.Before(l.Ends()):
		return "link-ended"
	}
	return ""
}

// Live reports whether the link is good, claimed or not.
func (l SiteLink) Live(now time.Time) bool { return l.over(now) == "" }

// Links keeps the links of consignments, and reads what their bearers found.
// Tokens come as their SHA-256.
type Links interface {
	// Snags lists the nonconformities found at a site, since a time, on the lots
	// named or what was split off them, latest first.
	Snags(ctx context.Context, lots []core.LotID, since time.Time, limit int) ([]SnagEntry, error)
	// OrderSnags lists what was found at a site on lots of an order, and on what
	// was split off them; latest first.
	OrderSnags(ctx context.Context, order string, limit int) ([]SnagEntry, error)
	// SnagsOf lists the snags of orders that are no nonconformities of parts, latest
	// first.
	SnagsOf(ctx context.Context, orders []string, limit int) ([]core.Snag, error)
	// NewSiteLink stores a link under the next free id of its consignment, which
	// it returns.
	NewSiteLink(ctx context.Context, tokenSHA [32]byte, l SiteLink) (core.PersonID, error)
	// SiteLinks lists a consignment's, newest first.
	SiteLinks(ctx context.Context, c core.ConsignmentCode) ([]SiteLink, error)
	// SiteLinkByToken and SiteLinkByDevice find one, good or not; ErrNotFound.
	SiteLinkByToken(ctx context.Context, tokenSHA [32]byte) (SiteLink, error)
	SiteLinkByDevice(ctx context.Context, deviceSHA [32]byte) (SiteLink, error)
	// ClaimSiteLink binds a link that nobody has claimed to a browser; ErrNotFound
	// where it is claimed or revoked.
	ClaimSiteLink(ctx context.Context, id core.PersonID, deviceSHA [32]byte, now time.Time) error
	// RevokeSiteLink ends one; ErrNotFound where none is in force.
	RevokeSiteLink(ctx context.Context, id core.PersonID, by core.PersonID) error
	// BlankSiteLink takes the note off one; ErrNotFound.
	BlankSiteLink(ctx context.Context, id core.PersonID, by core.PersonID) error
}

// linkText is how tokens are written: in a QR symbol's alphanumeric set.
var linkText = base32.StdEncoding.WithPadding(base32.NoPadding)

func (s *Service) linkToken() (text string, sha [32]byte, err error) {
	var raw [tokenBytes]byte
	if _, err := io.ReadFull(s.Random, raw[:]); err != nil {
		return "", sha, fmt.Errorf("make a link's token: %w", err)
	}
	text = linkText.EncodeToString(raw[:])
	return text, sha256.Sum256([]byte(text)), nil
}

// linkSHA is the hash of a token as it came, typed or scanned; false where it is
// none of ours.
func linkSHA(text string) ([32]byte, bool) {
	text = strings.ToUpper(strings.TrimSpace(text))
	if raw, err := linkText.DecodeString(text); err != nil || len(raw) != tokenBytes {
		return [32]byte{}, false
	}
	return sha256.Sum256([]byte(text)), true
}

// MakeLink makes a link for one consignment, or for what is of one order on it,
// and returns its token, which is kept nowhere and shown once.
func (s *Service) MakeLink(ctx context.Context, by Caller, c core.ConsignmentCode, order, note string) (token string, l SiteLink, err error) {
	return s.makeLink(ctx, by, SiteLink{Consignment: c, Order: order, Note: note})
}

// PrintLink makes a link for the packing list that is about to be printed, as
// MakeLink does. Of the lists of a consignment the newest alone has one that can
// be claimed: those printed before are withdrawn, unless somebody has claimed
// them and may be counting.
func (s *Service) PrintLink(ctx context.Context, by Caller, c core.ConsignmentCode) (token string, l SiteLink, err error) {
	token, l, err = s.makeLink(ctx, by, SiteLink{Consignment: c, Printed: true})
	if err != nil {
		return "", l, err
	}
	links, err := s.Store.SiteLinks(ctx, c)
	if err != nil {
		return "", l, fmt.Errorf("find the links printed before: %w", err)
	}
	for _, x := range links {
		if !x.Printed || x.ID == l.ID || !x.Claimed.IsZero() || !x.Live(s.Clock()) {
			continue
		}
		if err := s.Store.RevokeSiteLink(ctx, x.ID, by.Person); err != nil && !errors.Is(err, ErrNotFound) {
			return "", l, fmt.Errorf("withdraw the link printed before: %w", err)
		}
	}
	return token, l, nil
}

// makeLink makes the link that l begins: its consignment, order and note.
func (s *Service) makeLink(ctx context.Context, by Caller, l SiteLink) (string, SiteLink, error) {
	if err := mayLink(by); err != nil {
		return "", l, err
	}
	l.Note = strings.TrimSpace(l.Note)
	if len([]rune(l.Note)) > mostLinkNote {
		return "", l, Refuse("bad-value", "field", "note", "problem", "it is longer than "+strconv.Itoa(mostLinkNote)+" characters")
	}
	truck, orders, err := s.linked(ctx, l.Consignment)
	if err != nil {
		return "", l, err
	}
	if l.Order != "" && !slices.Contains(orders, l.Order) {
		return "", l, Refuse("link-no-order", "order", Shorten(l.Order, 40), "consignment", code.Code(l.Consignment).Spaced())
	}
	b, err := s.Book(ctx)
	if err != nil {
		return "", l, err
	}
	day, err := time.ParseInLocation(time.DateOnly, string(truck.Day), b.Zone)
	if err != nil || day.Before(s.Clock()) {
		day = s.Clock()
	}
	l.Site, l.MadeBy, l.Made, l.EndsAt, l.Received = truck.Site, by.Person, s.Clock(), day.AddDate(0, 0, linkDays), truck.Received
	if !l.Live(s.Clock()) {
		return "", l, Refuse("link-late", "consignment", code.Code(l.Consignment).Spaced())
	}
	token, sha, err := s.linkToken()
	if err != nil {
		return "", l, err
	}
	if l.ID, err = s.Store.NewSiteLink(ctx, sha, l); err != nil {
		return "", l, fmt.Errorf("keep a link: %w", err)
	}
	return token, l, nil
}

// linked is the consignment a link is for, and the orders on it.
func (s *Service) linked(ctx context.Context, c core.ConsignmentCode) (core.Consignment, []string, error) {
	w, err := s.look(ctx, core.Names{Consignments: []core.ConsignmentCode{c}})
	if err != nil {
		return core.Consignment{}, nil, err
	}
	if w.State == nil || w.State.Consignments[c].Code == "" {
		return core.Consignment{}, nil, ErrNotFound
	}
	truck := w.State.Consignments[c]
	sent, err := s.sendings(ctx, []core.ConsignmentCode{c}, nil)
	if err != nil {
		return truck, nil, err
	}
	listed, err := s.listed(ctx, w, truck, sent)
	return truck, ordersIn(listed), err
}

// LinksPage is the links of a consignment.
type LinksPage struct {
	AsOf time.Time
	core.Consignment
	SiteName string
	Orders   []string   // on it
	Links    []SiteLink // newest first; times in the shop's zone
	Makers   map[core.PersonID]string
}

// LinksOf reads the links of one consignment.
func (s *Service) LinksOf(ctx context.Context, by Caller, c core.ConsignmentCode) (LinksPage, error) {
	if err := mayLink(by); err != nil {
		return LinksPage{}, err
	}
	b, err := s.Book(ctx)
	if err != nil {
		return LinksPage{}, err
	}
	p := LinksPage{AsOf: inZone(s.Clock(), b), Makers: map[core.PersonID]string{}}
	if p.Consignment, p.Orders, err = s.linked(ctx, c); err != nil {
		return p, err
	}
	p.SiteName = siteName(b, p.Site)
	if p.Links, err = s.Store.SiteLinks(ctx, c); err != nil {
		return p, err
	}
	for i := range p.Links {
		l := &p.Links[i]
		l.Made, l.EndsAt, l.Claimed, l.Revoked, l.Received = inZone(l.Made, b), inZone(l.EndsAt, b), inZone(l.Claimed, b), inZone(l.Revoked, b), inZone(l.Received, b)
		p.Makers[l.MadeBy] = PersonName(b, l.MadeBy)
	}
	return p, nil
}

// RevokeLink ends a link at once, as when a phone is lost.
func (s *Service) RevokeLink(ctx context.Context, by Caller, id core.PersonID) error {
	return s.changeLink(by, func() error { return s.Store.RevokeSiteLink(ctx, id, by.Person) })
}

// BlankLink takes the note off a link; what was signed with it stays.
func (s *Service) BlankLink(ctx context.Context, by Caller, id core.PersonID) error {
	return s.changeLink(by, func() error { return s.Store.BlankSiteLink(ctx, id, by.Person) })
}

func (s *Service) changeLink(by Caller, f func() error) error {
	if err := mayLink(by); err != nil {
		return err
	}
	err := f()
	if errors.Is(err, ErrNotFound) {
		return Refuse("link-unknown")
	}
	return err
}

func mayLink(c Caller) error {
	switch {
	case !c.SignedIn():
		return Refuse("needs-sign-in", "kind", "this page")
	case !c.Is(LinkMakers...):
		return roleRefusal(c.Person, c.Name, LinkMakers)
	}
	return nil
}

// OpenLink is what a link is for, to whoever opens it: nothing is claimed by it.
// Claimed says that the caller's browser has claimed it already. From is the
// network address that asks: one that has tried many links that do not exist is
// made to wait, and so are all when too many are tried.
func (s *Service) OpenLink(ctx context.Context, caller Caller, from, token string) (l SiteLink, claimed bool, err error) {
	if wait := s.tries.wait(from, s.Clock()); wait > 0 && !caller.Bears() {
		return l, false, Refuse("link-tries", "wait", spoken(wait)).after(wait)
	}
	sha, ok := linkSHA(token)
	if ok {
		l, err = s.Store.SiteLinkByToken(ctx, sha)
	}
	switch {
	case !ok || errors.Is(err, ErrNotFound):
		s.tries.missed(from, s.Clock())
		return l, false, Refuse("link-unknown")
	case err != nil:
		return l, false, fmt.Errorf("find a link: %w", err)
	}
	over := l.over(s.Clock())
	switch {
	case over != "":
		return l, false, Refuse(over)
	case caller.Bears() && caller.Bearer.Link == l.ID:
		return l, true, nil
	case !l.Claimed.IsZero():
		return l, false, Refuse("link-taken")
	case caller.SignedIn() || caller.OnTablet():
		return l, false, Refuse("link-not-here")
	}
	return l, false, nil
}

// ClaimLink binds a link to the browser that asks, and returns the secret for
// its cookie and how long that is good at most. Of two at once one is let in.
func (s *Service) ClaimLink(ctx context.Context, caller Caller, from, token string) (secret string, life time.Duration, err error) {
	l, claimed, err := s.OpenLink(ctx, caller, from, token)
	if err != nil || claimed {
		return "", 0, err
	}
	secret, sha, err := s.newToken()
	if err != nil {
		return "", 0, err
	}
	err = s.Store.ClaimSiteLink(ctx, l.ID, sha, s.Clock())
	switch {
	case errors.Is(err, ErrNotFound):
		return "", 0, Refuse("link-taken")
	case err != nil:
		return "", 0, fmt.Errorf("claim a link: %w", err)
	}
	return secret, l.Ends().Sub(s.Clock()), nil
}
