package people

import (
	"bytes"
	"errors"
	"net/http"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/sign"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

var admin = endpoint.Office(core.Admin)

// Endpoints of the office's own pages.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/office", Access: endpoint.Office(), Handler: office(s),
			Doc: "The office's first page."},
		{Method: http.MethodGet, Path: "/people", Access: admin, Handler: listPeople(s),
			Doc: "Everybody with roles, badge and PIN."},
		{Method: http.MethodPost, Path: "/people", Access: admin, Handler: addPerson(s),
			Doc: "Take somebody on."},
		{Method: http.MethodGet, Path: "/people/{id}", Access: admin, Handler: showPerson(s),
			Doc: "One person: roles, qualifications, badge, PIN."},
		{Method: http.MethodPost, Path: "/people/{id}", Access: admin, Handler: changePerson(s),
			Doc: "Change a name or roles, or note that somebody left."},
		{Method: http.MethodPost, Path: "/people/{id}/badge", Access: admin, Handler: issueBadge(s),
			Doc: "Issue a badge, as a PDF to print; the one before ends."},
		{Method: http.MethodPost, Path: "/people/{id}/badge/end", Access: admin, Handler: endBadge(s),
			Doc: "End a badge, as when it is lost."},
		{Method: http.MethodPost, Path: "/people/{id}/pin-code", Access: admin, Handler: pinCode(s),
			Doc: "Make a one-time code to set a PIN; shown once."},
		{Method: http.MethodGet, Path: "/tablets", Access: admin, Handler: listTablets(s),
			Doc: "Every tablet with its station."},
		{Method: http.MethodPost, Path: "/tablets", Access: admin, Handler: tabletCode(s),
			Doc: "Make a one-time code to enrol a tablet; shown once."},
		{Method: http.MethodPost, Path: "/tablets/{id}/revoke", Access: admin, Handler: revokeTablet(s),
			Doc: "End a tablet's enrolment."},
	}
}

func office(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		page, left := endpoint.PageOf(r), false
		if page.Caller.Is(core.Admin, core.Manager) {
			setup, err := s.Setup(r.Context())
			if err != nil {
				return err
			}
			left = !setup.Finished()
		}
		return endpoint.Render(w, r, officePage(page, left))
	}
}

func listPeople(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		return peopleList(w, r, s, http.StatusOK, words.Text{}, personForm{})
	}
}

// personForm is what was typed, shown again where it was refused.
type personForm struct {
	name  string
	roles []core.Role
	left  bool
}

func readPerson(r *http.Request) (personForm, error) {
	if err := endpoint.Form(r); err != nil {
		return personForm{}, err
	}
	f := personForm{name: r.PostForm.Get("name"), left: r.PostForm.Get("left") == "yes"}
	for _, x := range r.PostForm["role"] {
		f.roles = append(f.roles, core.Role(x))
	}
	return f, nil
}

func peopleList(w http.ResponseWriter, r *http.Request, s *app.Service, status int, said words.Text, f personForm) error {
	rows, err := s.People(r.Context(), endpoint.CallerOf(r))
	if err != nil {
		return err
	}
	return endpoint.RenderStatus(w, r, status, peoplePage(endpoint.PageOf(r), rows, said, f))
}

func addPerson(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		f, err := readPerson(r)
		if err != nil {
			return err
		}
		p, err := s.AddPerson(r.Context(), endpoint.CallerOf(r), f.name, f.roles)
		if refused, ok := errors.AsType[*app.Refused](err); ok {
			return peopleList(w, r, s, endpoint.StatusOf(refused.Refusal.Code), textOf(refused), f)
		}
		if err != nil {
			return err
		}
		return endpoint.SeeOther(w, r, "/people/"+string(p.ID))
	}
}

func textOf(x *app.Refused) words.Text { return words.Refusal(x.Refusal.Code, x.Refusal.Params) }

func idOf(r *http.Request) core.PersonID { return core.PersonID(chi.URLParam(r, "id")) }

func showPerson(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		row, err := find(r, s)
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, personPage(endpoint.PageOf(r), row, words.Text{}))
	}
}

func find(r *http.Request, s *app.Service) (app.PersonRow, error) {
	rows, err := s.People(r.Context(), endpoint.CallerOf(r))
	if err != nil {
		return app.PersonRow{}, err
	}
	for _, row := range rows {
		if row.ID == idOf(r) {
			return row, nil
		}
	}
	return app.PersonRow{}, app.Refuse("person-unknown")
}

func changePerson(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		f, err := readPerson(r)
		if err != nil {
			return err
		}
		_, err = s.ChangePerson(r.Context(), endpoint.CallerOf(r), idOf(r), f.name, f.roles, f.left)
		if refused, ok := errors.AsType[*app.Refused](err); ok {
			row, findErr := find(r, s)
			if findErr != nil {
				return findErr
			}
			row.Name, row.Roles, row.Left = f.name, f.roles, f.left
			return endpoint.RenderStatus(w, r, endpoint.StatusOf(refused.Refusal.Code), personPage(endpoint.PageOf(r), row, textOf(refused)))
		}
		if err != nil {
			return err
		}
		return endpoint.SeeOther(w, r, "/people")
	}
}

// issueBadge answers with the card to print. Its token is nowhere else: a page
// that is closed unprinted means another badge.
func issueBadge(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		badge, p, err := s.IssueBadge(r.Context(), endpoint.CallerOf(r), idOf(r))
		if err != nil {
			return err
		}
		page := endpoint.PageOf(r)
		var pdf bytes.Buffer
		if err := paper.WriteBadges(&pdf, []paper.Badge{cardOf(page, p, badge)}, page.Now); err != nil {
			return err
		}
		h := w.Header()
		h.Set("Content-Type", "application/pdf")
		h.Set("Content-Disposition", `inline; filename="badge.pdf"`)
		h.Set("Content-Security-Policy", "frame-ancestors 'none'") // the browser's own reader counts as an object
		_, _ = pdf.WriteTo(w)
		return nil
	}
}

func cardOf(page endpoint.Page, p core.Person, badge sign.Badge) paper.Badge {
	card := paper.Badge{Shop: page.Shop, Name: p.Name, Number: string(p.ID), Token: badge.Text()}
	if len(p.Roles) > 0 {
		card.Role = string(p.Roles[0])
	}
	if page.Demo {
		card.Notice = "Invented demo data"
	}
	return card
}

func endBadge(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := s.RevokeBadge(r.Context(), endpoint.CallerOf(r), idOf(r)); err != nil {
			return err
		}
		return endpoint.SeeOther(w, r, "/people/"+string(idOf(r)))
	}
}

func pinCode(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		one, p, err := s.PINCode(r.Context(), endpoint.CallerOf(r), idOf(r))
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, oncePage(endpoint.PageOf(r), once{
			title: "A code for " + p.Name, code: one.Text(), back: "/people/" + string(p.ID),
			todo: "Give it to " + p.Name + ", who types it on the page Set PIN with their own badge and chooses a PIN there.",
			href: "/set-pin",
		}))
	}
}

// once is a page that shows a one-time code.
type once struct {
	title, code, todo, href, back string
}

func listTablets(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		all, err := s.Tablets(r.Context(), endpoint.CallerOf(r))
		if err != nil {
			return err
		}
		book, err := s.Book(r.Context())
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, tabletsPage(endpoint.PageOf(r), all, stationsOf(book)))
	}
}

func tabletCode(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		station := core.StationID(r.PostForm.Get("station"))
		one, err := s.EnrolmentCode(r.Context(), endpoint.CallerOf(r), station)
		if err != nil {
			return err
		}
		book, err := s.Book(r.Context())
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, oncePage(endpoint.PageOf(r), once{
			title: "A code for the station " + stationName(stationsOf(book), station), code: one.Text(), back: "/tablets",
			todo: "Type it on the tablet itself, on the page Enrol.", href: "/enrol",
		}))
	}
}

func revokeTablet(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := s.RevokeTablet(r.Context(), endpoint.CallerOf(r), core.TabletID(chi.URLParam(r, "id"))); err != nil {
			return err
		}
		return endpoint.SeeOther(w, r, "/tablets")
	}
}
