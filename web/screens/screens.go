// Package screens is the one list of every screen's endpoints. What the server
// routes, what `tagalong endpoints` prints and what the test of roles walks are
// all made from it.
package screens

import (
	"net/http"
	"slices"

	"tagalong/internal/app"
	"tagalong/web/demo"
	"tagalong/web/dock"
	"tagalong/web/endpoint"
	"tagalong/web/find"
	"tagalong/web/history"
	"tagalong/web/importing"
	"tagalong/web/lapsing"
	"tagalong/web/people"
	"tagalong/web/photos"
	"tagalong/web/print"
	"tagalong/web/quality"
	"tagalong/web/separate"
	"tagalong/web/setup"
	"tagalong/web/signin"
	"tagalong/web/site"
	"tagalong/web/station"
	"tagalong/web/wall"
)

// Endpoints are those of every screen. They may be listed without a database:
// nothing is asked of s before a request comes.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	return slices.Concat(
		signin.Endpoints(s),
		station.Endpoints(s),
		separate.Endpoints(s),
		dock.Endpoints(s),
		site.Endpoints(s),
		wall.EndpointsOf(s),
		find.Endpoints(s),
		history.Endpoints(s),
		quality.Endpoints(s),
		photos.Endpoints(s),
		people.Endpoints(s),
		setup.Endpoints(s),
		lapsing.Endpoints(s),
		importing.Endpoints(s),
		print.Endpoints(s),
		demo.Endpoints(s),
		[]endpoint.Endpoint{{
			Method: http.MethodGet, Path: print.StylesheetHref, Access: endpoint.Everybody, Handler: printSheet,
			Doc: "How a traveller printed from a page looks.",
		}},
	)
}

func printSheet(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	_, _ = w.Write(print.Stylesheet)
	return nil
}
