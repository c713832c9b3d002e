package app

import (
	"slices"

	"tagalong/internal/core"
)

// Caller is who asks: an enrolled tablet, a person signed in to the office
// pages, both, the bearer of a consignment's link, or (the zero Caller) nobody
// known.
type Caller struct {
	Tablet  core.TabletID
	Station core.StationID // the tablet's, or the site of a bearer's consignment
	// Revoked says the tablet was enrolled once and is no longer; Tablet and
	// Station are then empty.
	Revoked bool

	Person core.PersonID
	Name   string
	Roles  []core.Role

	Bearer Bearer // see Bears
	// LinkOver is the refusal's code of a link that this browser claimed and that
	// is good no longer; Bearer is then empty.
	LinkOver string

	machine bool
}

// Machine is whoever works on the server's own machine, at its command line:
// an admin whom no badge names. No request is ever from there.
func Machine() Caller { return Caller{machine: true} }

// OnTablet reports whether the caller is an enrolled tablet.
func (c Caller) OnTablet() bool { return c.Tablet != "" }

// SignedIn reports whether a person is signed in to the office pages.
func (c Caller) SignedIn() bool { return c.Person != "" }

// Is reports whether the person signed in has one of the roles.
func (c Caller) Is(roles ...core.Role) bool {
	return slices.ContainsFunc(roles, func(r core.Role) bool { return slices.Contains(c.Roles, r) })
}
