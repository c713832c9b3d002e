package setup

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

type personForm struct {
	frame
	name    string
	roles   []core.Role
	refused words.Text
}

// signers are the roles of whoever cuts and breaks out, which a first person is given.
var signers = []core.Role{core.Separator, core.Operator}

func (p pages) showPerson(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, app.SetupPerson)
	if err != nil {
		return err
	}
	return endpoint.Render(w, r, personPage(personForm{frame: f, roles: signers}))
}

// addPerson takes somebody on and shows the code with which they set their PIN:
// it is shown this once, as on the page People.
func (p pages) addPerson(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, app.SetupPerson)
	if err != nil {
		return err
	}
	if err := endpoint.Form(r); err != nil {
		return err
	}
	v := personForm{frame: f, name: value(r, "name")}
	for _, x := range r.PostForm["role"] {
		v.roles = append(v.roles, core.Role(x))
	}
	person, err := p.s.AddPerson(r.Context(), f.page.Caller, v.name, v.roles)
	if refused, ok := errors.AsType[*app.Refused](err); ok {
		v.refused = words.Refusal(refused.Refusal.Code, refused.Refusal.Params)
		return endpoint.RenderStatus(w, r, endpoint.StatusOf(refused.Refusal.Code), personPage(v))
	}
	if err != nil {
		return err
	}
	code, _, err := p.s.PINCode(r.Context(), f.page.Caller, person.ID)
	if err != nil {
		return err
	}
	return endpoint.Render(w, r, takenOnPage(f, person, code.Text()))
}

type tabletForm struct {
	frame
	stations []core.Station
	chosen   core.StationID
}

func (p pages) showTablet(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, app.SetupTablet)
	if err != nil {
		return err
	}
	v := tabletForm{frame: f, stations: app.StationsOf(f.setup.Book), chosen: f.page.Caller.Station}
	for _, st := range v.stations {
		if v.chosen == "" && st.Does("cut") {
			v.chosen = st.ID
		}
	}
	return endpoint.Render(w, r, tabletPage(v))
}

func (p pages) enrolHere(w http.ResponseWriter, r *http.Request) error {
	if err := endpoint.Form(r); err != nil {
		return err
	}
	secret, err := p.s.EnrolHere(r.Context(), endpoint.CallerOf(r), core.StationID(value(r, "station")))
	if err != nil {
		return err
	}
	endpoint.SetTablet(w, r, secret)
	if next := value(r, "next"); ownPage(next) {
		return endpoint.SeeOther(w, r, next)
	}
	return p.on(w, r, "tablet")
}

// ownPage reports whether a form may lead on to an address: a page of the
// tablet's, and no other.
func ownPage(next string) bool {
	u, err := url.Parse(next)
	return err == nil && u.Scheme == "" && u.Host == "" && !strings.Contains(next, `\`) &&
		(strings.HasPrefix(next, "/station/") || strings.HasPrefix(next, "/separate/"))
}
