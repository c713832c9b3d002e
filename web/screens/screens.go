// Package screens is the one list of every screen's endpoints. What the server
// routes, what `tagalong endpoints` prints and what the test of roles walks are
// all made from it.
package screens

import (
	"slices"

	"tagalong/internal/app"
	"tagalong/web/endpoint"
	"tagalong/web/find"
	"tagalong/web/history"
	"tagalong/web/people"
	"tagalong/web/signin"
	"tagalong/web/station"
)

// Endpoints are those of every screen. They may be listed without a database:
// nothing is asked of s before a request comes.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	return slices.Concat(
		signin.Endpoints(s),
		station.Endpoints(s),
		find.Endpoints(s),
		history.Endpoints(s),
		people.Endpoints(s),
	)
}
