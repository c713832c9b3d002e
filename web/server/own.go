package server

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/assets"
	"tagalong/web/endpoint"
)

// commandsPath is where commands are sent to, by kind.
const commandsPath = "/api/commands/"

// AuthorityPath is where tablets get the certificate of the shop's own
// authority. It is the public half, which anybody may have.
const AuthorityPath = "/authority.cer"

// Own are the server's endpoints beside those of the screens.
func Own(s *app.Service) []endpoint.Endpoint {
	table := []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/", Access: endpoint.Everybody, Handler: start(s),
			Doc: "Goes to the first page of whoever asks."},
		{Method: http.MethodGet, Path: "/healthz", Access: endpoint.Everybody, Handler: health(s),
			Doc: "Whether the server and its database answer."},
		{Method: http.MethodGet, Path: assets.Root + "*", Access: endpoint.Everybody, Handler: files(),
			Doc: "Stylesheets, scripts, fonts and signs."},
		{Method: http.MethodGet, Path: AuthorityPath, Access: endpoint.Everybody, Handler: authority,
			Doc: "The certificate of the shop's own authority, for tablets to trust; only where the shop has one."},
		{Method: http.MethodGet, Path: "/api", Access: endpoint.Everybody, Handler: listCommands,
			Doc: "Every kind of command, who may send it and an example of its body."},
		{Method: http.MethodGet, Path: "/api/refusals", Access: endpoint.Everybody, Handler: listRefusals,
			Doc: "Every refusal by code: its sentence, why, and what to do."},
		{Method: http.MethodGet, Path: "/api/pallets", Access: endpoint.TabletOr(), Handler: pallets(s),
			Doc: "Live pallets as JSON; limit=1…500."},
		{Method: http.MethodGet, Path: "/api/pallets/{code}", Access: endpoint.TabletOr(), Handler: pallet(s),
			Doc: "One pallet as JSON, with its lots, holds and problems."},
		{Method: http.MethodGet, Path: "/api/find", Access: endpoint.TabletOr(), Handler: find(s),
			Doc: "Orders, customers, items, pallets and consignments that q= finds, as JSON."},
		{Method: http.MethodGet, Path: "/api/history/{code}", Access: endpoint.TabletOr(), Handler: history(s),
			Doc: "What happened to a pallet or, by its number, to an order, as JSON."},
	}
	for _, p := range app.Commands {
		table = append(table, endpoint.Endpoint{
			Method: http.MethodPost, Path: commandsPath + p.Kind(), Access: accessOf(p), Handler: command(s, p.Kind()),
			Doc: "Command: " + p.Doc, MaxBody: app.MaxRequest,
		})
	}
	return append(table, endpoint.Endpoint{
		Method: http.MethodPost, Path: commandsPath + "{kind}", Access: endpoint.Everybody, Handler: unknownCommand,
		Doc: "Any other kind of command: refused.",
	})
}

// accessOf is whom a command's endpoint admits. Where somebody signs, the
// signer's role counts and not that of the person signed in.
func accessOf(p app.Policy) endpoint.Access {
	roles := p.Roles
	if p.Signers > 0 {
		roles = nil
	}
	switch p.From {
	case app.FromTablet:
		return endpoint.Tablet
	case app.FromOffice:
		return endpoint.Office(roles...)
	}
	if p.Bearer {
		return endpoint.TabletOr(roles...).OrBearer()
	}
	return endpoint.TabletOr(roles...)
}

// start sends a tablet to its station and a person to the office. Whoever can
// set a new shop up is led on with that until its first traveller is printed.
func start(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		c := endpoint.CallerOf(r)
		if c.Is(core.Admin, core.Manager) {
			setup, err := s.Setup(r.Context())
			if err != nil {
				return err
			}
			if !setup.Finished() {
				return endpoint.SeeOther(w, r, "/setup")
			}
		}
		switch {
		case c.OnTablet():
			return endpoint.SeeOther(w, r, "/station")
		case c.SignedIn():
			return endpoint.SeeOther(w, r, "/office")
		case c.Bears():
			return endpoint.SeeOther(w, r, "/site/mine")
		}
		return endpoint.SeeOther(w, r, "/signin")
	}
}

// files serves what every page needs. The answers carry their own caching.
func files() endpoint.Handler {
	h := assets.Handler()
	return func(w http.ResponseWriter, r *http.Request) error {
		h.ServeHTTP(w, r)
		return nil
	}
}

// authority gives the certificate as DER, of the media type and file extension
// of RFC 2585, section 4.
func authority(w http.ResponseWriter, r *http.Request) error {
	a := endpoint.PageOf(r).Authority
	if a == nil {
		return app.Refuse("page-unknown")
	}
	w.Header().Set("Content-Type", "application/pkix-cert")
	w.Header().Set("Content-Disposition", `attachment; filename="tagalong-authority.cer"`)
	_, _ = w.Write(a.DER) // the browser has gone: nobody left to tell
	return nil
}

// health asks the database for one row.
func health(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		ctx, cancel := context.WithTimeout(r.Context(), 2*time.Second)
		defer cancel()
		if err := s.Answers(ctx); err != nil {
			return fmt.Errorf("%w: %w", app.Refuse("server-busy"), err)
		}
		return endpoint.JSON(w, map[string]string{"server": "answers", "database": "answers"})
	}
}
