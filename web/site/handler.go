// Package site is the fitting site. On a phone without an account: the link of a
// consignment, made by the dispatcher and claimed by whoever stands there, and
// the pages it opens, which receive, report, fit out and accept. And the page of
// the fitters who sign by badge and PIN, which does the same with the same parts.
package site

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"time"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

// Endpoints are this screen's.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	maker := endpoint.Office(app.LinkMakers...)
	there := endpoint.TabletOr(core.Fitter, core.Dispatcher, core.Manager, core.Admin)
	tells := endpoint.TabletOr(core.Fitter, core.Dispatcher, core.Quality, core.Inspector, core.Manager, core.Admin)
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/dock/{code}/links", Access: maker, Handler: list(s),
			Doc: "The links of a consignment: for whom, claimed when, until when."},
		{Method: http.MethodPost, Path: "/dock/{code}/links", Access: maker, Handler: makeLink(s),
			Doc: "Make a link for a consignment; its token is shown once, as a QR symbol and as text."},
		{Method: http.MethodPost, Path: "/dock/{code}/links/{id}/revoke", Access: maker, Handler: change(s.RevokeLink),
			Doc: "End a link at once."},
		{Method: http.MethodPost, Path: "/dock/{code}/links/{id}/blank", Access: maker, Handler: change(s.BlankLink),
			Doc: "Take the note off a link."},
		{Method: http.MethodGet, Path: "/L/{token}", Access: endpoint.Everybody, Handler: opened(s),
			Doc: "A consignment's link: says what it is for. Opening it claims nothing."},
		{Method: http.MethodPost, Path: "/L/{token}", Access: endpoint.Everybody, Handler: claim(s),
			Doc: "Claim a link for this browser."},
		{Method: http.MethodGet, Path: "/site/mine", Access: endpoint.Bearer, Handler: mine(s),
			Doc: "The consignment of the bearer's link; box=CODE counts a box, do=STAGE works on what came"},
		{Method: http.MethodGet, Path: "/site/mine/snags", Access: endpoint.Bearer, Handler: snags(s),
			Doc: "What was found on the consignment of the bearer's link, and what becomes of it; lot=LOT reports something on parts, about=ORDER or about=LOT what is wrong otherwise"},
		{Method: http.MethodGet, Path: "/site/snags/{code}", Access: tells, Handler: snagsOf(s),
			Doc: "What was found on a consignment at its site, and what becomes of it."},
		{Method: http.MethodGet, Path: "/site/order/{no}/snags", Access: endpoint.TabletOr(), Handler: snagsOfOrder(s),
			Doc: "The snags of an order, of parts and otherwise: to report one, and to close one by name."},
		{Method: http.MethodGet, Path: "/site", Access: there, Handler: atSite(s),
			Doc: "What is on its way to the fitting sites and what is there; truck=CODE shows a consignment, to be received, and box=CODE counts a box of it; order=NO&at=SITE an order, to be worked on; do=STAGE chooses the work"},
	}
}

// truckOf is the consignment an address names.
func truckOf(r *http.Request) (core.ConsignmentCode, error) {
	c, err := app.ReadCode(chi.URLParam(r, "code"), code.Consignment)
	if err != nil {
		return "", app.ErrNotFound
	}
	return core.ConsignmentCode(c), nil
}

func list(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		c, err := truckOf(r)
		if err != nil {
			return err
		}
		page, err := s.LinksOf(r.Context(), endpoint.CallerOf(r), c)
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, linksPage(linksView{LinksPage: page, page: endpoint.PageOf(r)}))
	}
}

func makeLink(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		c, err := truckOf(r)
		if err != nil {
			return err
		}
		if err := endpoint.Form(r); err != nil {
			return err
		}
		by := endpoint.CallerOf(r)
		token, made, err := s.MakeLink(r.Context(), by, c, r.PostForm.Get("order"), r.PostForm.Get("note"))
		if err != nil {
			return err
		}
		page, err := s.LinksOf(r.Context(), by, c)
		if err != nil {
			return err
		}
		shop, err := s.Shop(r.Context())
		if err != nil {
			return err
		}
		v := linksView{LinksPage: page, page: endpoint.PageOf(r)}
		v.made = &madeLink{SiteLink: made, address: endpoint.LinkAddress(r, shop.Address, token)}
		symbol, err := code.SecretQR(v.made.address)
		if err != nil {
			return err
		}
		v.made.symbol = symbol.SVG()
		return endpoint.Render(w, r, linksPage(v))
	}
}

func change(do func(context.Context, app.Caller, core.PersonID) error) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		c, err := truckOf(r)
		if err != nil {
			return err
		}
		if err := do(r.Context(), endpoint.CallerOf(r), core.PersonID(chi.URLParam(r, "id"))); err != nil {
			return err
		}
		return endpoint.SeeOther(w, r, "/dock/"+string(c)+"/links")
	}
}

// unsaid keeps the address, which holds the token, from being told to any other
// page. Where it came from is still said, without the path: the server's own
// forms are known by it.
func unsaid(w http.ResponseWriter) {
	w.Header().Set("Referrer-Policy", "strict-origin")
	w.Header().Set("X-Robots-Tag", "noindex")
}

func opened(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		unsaid(w)
		l, claimed, err := s.OpenLink(r.Context(), endpoint.CallerOf(r), endpoint.PageOf(r).From, chi.URLParam(r, "token"))
		switch {
		case err != nil:
			return err
		case claimed:
			return endpoint.SeeOther(w, r, "/site/mine")
		}
		b, err := s.Book(r.Context())
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, openPage(newOpenView(endpoint.PageOf(r), b, l)))
	}
}

func claim(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		unsaid(w)
		secret, life, err := s.ClaimLink(r.Context(), endpoint.CallerOf(r), endpoint.PageOf(r).From, chi.URLParam(r, "token"))
		if err != nil {
			return err
		}
		if secret != "" {
			endpoint.SetBearer(w, r, secret, life+linkRemembered)
		}
		return endpoint.SeeOther(w, r, "/site/mine")
	}
}

// linkRemembered is how long a browser keeps a link that has ended, to be told
// so.
const linkRemembered = 90 * 24 * time.Hour

func mine(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		m, err := s.Mine(r.Context(), endpoint.CallerOf(r))
		if err != nil {
			return err
		}
		b, err := s.Book(r.Context())
		if err != nil {
			return err
		}
		v := newMineView(endpoint.PageOf(r), b, m)
		if text := r.FormValue("box"); text != "" {
			if v.box, v.wrong, err = boxOf(m, text); err != nil {
				return err
			}
		}
		if do := core.StageName(r.FormValue("do")); do != "" {
			v.work, _ = workOf(b, m, do, r.FormValue("order"))
			if do == "fit-out" {
				if v.sets, err = s.SetsOf(r.Context(), m); err != nil {
					return err
				}
			}
		}
		if c, err := app.ReadCode(r.FormValue("back"), code.Pallet); err == nil {
			v.back = string(c)
		}
		return endpoint.Render(w, r, minePage(v))
	}
}

// boxOf finds the box a text names. What is wrong with it is said on the page,
// beside the field it was scanned into.
func boxOf(m app.Mine, text string) (*app.MineBox, string, error) {
	c, err := app.ReadCode(text, code.Pallet)
	refused := new(app.Refused)
	switch {
	case errors.As(err, &refused):
		return nil, said(refused), nil
	case err != nil:
		return nil, "", err
	}
	b, ok := m.Box(core.PalletCode(c))
	switch {
	case !ok:
		return nil, "Box " + c.Spaced() + " is not on this consignment’s list. Put it aside and call the shop.", nil
	case b.State == app.BoxCame:
		return nil, "Box " + c.Spaced() + " has been counted already. Scan the next one.", nil
	}
	return &b, "", nil
}

func snags(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		m, err := s.Mine(r.Context(), endpoint.CallerOf(r))
		if err != nil {
			return err
		}
		b, err := s.Book(r.Context())
		if err != nil {
			return err
		}
		v := newMineView(endpoint.PageOf(r), b, m)
		if id := core.LotID(r.FormValue("lot")); id != "" {
			if v.found, err = lotOf(m, id); err != nil {
				return err
			}
		}
		if about := r.FormValue("about"); about != "" {
			v.about = aboutOf(m, about)
		}
		return endpoint.Render(w, r, snagsPage(v))
	}
}

// aboutOf is what a snag is about that is no fault of parts: a unit at the site,
// or else an order.
func aboutOf(m app.Mine, text string) *snagAbout {
	if l, err := lotOf(m, core.LotID(text)); err == nil {
		return &snagAbout{order: l.Owner.Order, unit: l}
	}
	return &snagAbout{order: text}
}

func lotOf(m app.Mine, id core.LotID) (*app.SiteLot, error) {
	for _, o := range m.Orders {
		for _, t := range o.Trucks {
			if i := slices.IndexFunc(t.Lots, func(l app.SiteLot) bool { return l.ID == id }); i >= 0 {
				return &t.Lots[i], nil
			}
		}
	}
	return nil, app.ErrNotFound
}

func snagsOf(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		c, err := truckOf(r)
		if err != nil {
			return err
		}
		m, err := s.Brought(r.Context(), c, "")
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, officeSnagsPage(endpoint.PageOf(r), m))
	}
}

func snagsOfOrder(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		o, err := s.SnagsOfOrder(r.Context(), chi.URLParam(r, "no"))
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, orderSnagsPage(newOrderSnagsView(endpoint.PageOf(r), o)))
	}
}
