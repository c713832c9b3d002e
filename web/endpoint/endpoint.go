// Package endpoint is what a screen needs to answer HTTP: the type of one
// endpoint, who may call it, and helpers that read requests and write pages.
// Screens import it and never the server that serves them.
package endpoint

import (
	"net/http"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Handler answers one request. A returned error becomes a page or a problem
// document, with the status its kind asks for: see [app.Refused], [app.ErrNotFound].
// A handler that returns an error must have written nothing.
type Handler func(w http.ResponseWriter, r *http.Request) error

// Endpoint is one HTTP address and who may call it.
type Endpoint struct {
	Method  string // GET, POST, PUT or DELETE
	Path    string // of chi: "/pallets/{code}"
	Access  Access
	Handler Handler
	Doc     string // one line, for the list of endpoints

	MaxBody int64 // most bytes of a request's body; 0: DefaultMaxBody
	Stream  bool  // never ends by itself (server-sent events): no time-out, not compressed
}

// DefaultMaxBody is the most bytes a body may have where an endpoint says nothing.
const DefaultMaxBody = app.MaxRequest

// Access is who may call an endpoint. The zero Access admits nobody.
type Access struct {
	public, tablet, office, demo, bearer bool
	roles                                []core.Role
}

// Everybody may call, enrolled, signed in or not.
var Everybody = Access{public: true}

// Tablet admits enrolled tablets.
var Tablet = Access{tablet: true}

// DemoOnly admits everybody in a demo shop and nobody in any other.
var DemoOnly = Access{demo: true}

// Office admits people signed in who have one of the roles; any, if none is named.
func Office(roles ...core.Role) Access { return Access{office: true, roles: roles} }

// TabletOr admits enrolled tablets, and people signed in as Office does.
func TabletOr(roles ...core.Role) Access {
	return Access{tablet: true, office: true, roles: roles}
}

// Bearer admits the bearers of consignments' links.
var Bearer = Access{bearer: true}

// OrBearer admits the bearers of consignments' links as well.
func (a Access) OrBearer() Access { a.bearer = true; return a }

// Verdict is what Access makes of a caller.
type Verdict int

// The verdicts. Unknown asks the caller to sign in or enrol; Forbidden doesn't.
const (
	Allowed Verdict = iota
	Unknown
	Forbidden
	Absent // as if there were no such endpoint
)

// Judge says whether the caller may, in a demo shop or a real one.
func (a Access) Judge(c app.Caller, demo bool) Verdict {
	switch {
	case a.public, a.demo && demo:
		return Allowed
	case a.demo:
		return Absent
	case a.tablet && c.OnTablet(), a.bearer && c.Bears():
		return Allowed
	case a.office && c.SignedIn() && (len(a.roles) == 0 || c.Is(a.roles...)):
		return Allowed
	case c.SignedIn(), c.Bears(), c.OnTablet() && !a.tablet && !a.office:
		return Forbidden
	}
	return Unknown
}

// OffersSignIn reports whether a person could get in by signing in.
func (a Access) OffersSignIn() bool { return a.office }

// OffersTablet reports whether an enrolled tablet gets in.
func (a Access) OffersTablet() bool { return a.tablet }

// OffersBearer reports whether the bearer of a link gets in.
func (a Access) OffersBearer() bool { return a.bearer }

// Denial is what a caller the access forbids is told about the thing asked for.
func (a Access) Denial(c app.Caller, what string) *app.Refused {
	switch {
	case c.Bears():
		return app.Refuse("bearer-may-not", "kind", what)
	case !a.tablet && !a.office:
		return app.Refuse("link-needed")
	}
	if a.tablet && len(a.roles) == 0 || !c.SignedIn() {
		return app.Refuse("needs-tablet", "kind", what)
	}
	names := make([]string, len(a.roles))
	for i, r := range a.roles {
		names[i] = string(r)
	}
	return app.Refuse("role-lacking", "person", c.Name, "roles", strings.Join(names, " or "))
}

// String names who may call: "everybody", "tablet, manager, quality", "office".
func (a Access) String() string {
	var who []string
	switch {
	case a.public:
		return "everybody"
	case a.demo:
		return "everybody, in a demo shop only"
	}
	if a.tablet {
		who = append(who, "tablet")
	}
	if a.bearer {
		who = append(who, "bearer of a link")
	}
	if a.office && len(a.roles) == 0 {
		who = append(who, "anybody signed in")
	}
	for _, r := range a.roles {
		who = append(who, string(r))
	}
	return strings.Join(who, ", ")
}
