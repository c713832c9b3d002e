// Package quality is the quality manager's page: problems to be disposed of,
// holds to be placed and lifted, and what was refused lately.
package quality

import (
	"context"
	"net/http"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

// Overseer reads what waits for a decision.
type Overseer interface {
	Quality(ctx context.Context) (app.QualityPage, error)
	Register(ctx context.Context, q app.RegisterQuery) (app.Register, error)
}

// Endpoints are this screen's.
func Endpoints(o Overseer) []endpoint.Endpoint {
	who := endpoint.TabletOr(core.Quality, core.Inspector, core.Manager, core.Admin)
	return []endpoint.Endpoint{{
		Method: http.MethodGet, Path: "/quality/register", Access: who,
		Handler: register(o), Doc: "every problem of some days: what, where it came about, what was decided and by whom",
	}, {
		Method: http.MethodGet, Path: "/quality/register.csv", Access: who,
		Handler: registerFile(o), Doc: "the same as a file",
	}, {
		Method: http.MethodGet, Path: "/quality", Access: who,
		Handler: show(o), Doc: "open problems and their disposition, open holds, the latest refusals",
	}, {
		Method: http.MethodGet, Path: "/held", Access: who,
		Handler: func(w http.ResponseWriter, r *http.Request) error { return endpoint.SeeOther(w, r, "/quality") },
		Doc:     "goes on to /quality",
	}}
}

func show(o Overseer) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		q, err := o.Quality(r.Context())
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, page(newView(endpoint.PageOf(r), q)))
	}
}
