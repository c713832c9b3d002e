package server

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

// mostRows is the most a list of the API holds.
const mostRows = 500

// Answer is what a recorded command is answered with.
type Answer struct {
	Command core.CommandID `json:"command"`
	Again   bool           `json:"again,omitempty"` // the first answer, given once more
	Events  []event        `json:"events,omitempty"`
	Notices []Notice       `json:"notices,omitempty"`
}

// Notice is said beside success and stops nothing.
type Notice struct {
	Code   string            `json:"code"`
	Params map[string]string `json:"params,omitempty"`
	Title  string            `json:"title"`
	Why    string            `json:"why,omitempty"`
	Remedy string            `json:"remedy,omitempty"`
}

// command reads a request, does it and answers what was recorded.
func command(s *app.Service, kind string) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		req, err := app.DecodeRequest(r.Body)
		if err != nil {
			return s.NoteDenied(r.Context(), endpoint.CallerOf(r), kind, err)
		}
		answer, err := s.Do(r.Context(), endpoint.CallerOf(r), kind, req)
		if err != nil {
			return err
		}
		return endpoint.JSON(w, answerOf(answer))
	}
}

func answerOf(a app.Answer) Answer {
	out := Answer{Command: a.Command, Again: a.Again, Events: withoutEffects(a.Events)}
	for _, n := range a.Notices {
		text := words.Refusal(n.Code, n.Params)
		out.Notices = append(out.Notices, Notice{n.Code, n.Params, text.Title, text.Why, text.Remedy})
	}
	return out
}

// event is a recorded event without its effects, which are the server's own
// book-keeping: the field here hides the one inside.
type event struct {
	app.Recorded
	Effects *struct{} `json:"effects,omitempty"`
}

func withoutEffects(events []app.Recorded) []event {
	out := make([]event, len(events))
	for i, e := range events {
		out[i].Recorded = e
	}
	return out
}

func unknownCommand(w http.ResponseWriter, r *http.Request) error {
	return app.Refuse("kind-unknown", "kind", app.Shorten(chi.URLParam(r, "kind"), 40))
}

func pallets(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		limit, err := limitOf(r)
		if err != nil {
			return err
		}
		cards, err := s.Store.Pallets(r.Context(), limit)
		if err != nil {
			return err
		}
		return endpoint.JSON(w, rows(cards))
	}
}

// list gives a list a name, so that more can stand beside it one day.
type list[T any] struct {
	Rows []T `json:"rows"`
}

func rows[T any](of []T) list[T] {
	if of == nil {
		of = []T{} // [] in JSON, not null
	}
	return list[T]{of}
}

// palletFacts is a pallet as it stands in the record.
type palletFacts struct {
	Pallet   core.PalletRow `json:"pallet"`
	Lots     []core.Lot     `json:"lots"`
	Holds    []core.Hold    `json:"holds"`
	Problems []core.Problem `json:"problems"`
}

func pallet(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		c, err := app.ReadCode(chi.URLParam(r, "code"), code.Pallet, code.Sheet)
		if err != nil {
			return err
		}
		name := core.PalletCode(c)
		world, err := s.World(r.Context(), core.Names{Pallets: []core.PalletCode{name}}, endpoint.CallerOf(r).Station)
		if err != nil {
			return err
		}
		row, ok := world.State.Pallets[name]
		if !ok {
			return app.Refuse("code-unknown", "code", c.Spaced())
		}
		return endpoint.JSON(w, factsOf(world.State, row))
	}
}

func factsOf(state *core.State, row core.PalletRow) palletFacts {
	out := palletFacts{Pallet: row, Lots: state.LotsAt(core.On(row.Code)), Holds: []core.Hold{}, Problems: []core.Problem{}}
	if out.Lots == nil {
		out.Lots = []core.Lot{}
	}
	for _, l := range out.Lots {
		for _, p := range state.Problems {
			if p.Lot == l.ID && p.Open() {
				out.Problems = append(out.Problems, p)
			}
		}
		if h, held := core.HeldBy(state, l); held && !slices.ContainsFunc(out.Holds, func(o core.Hold) bool { return o.ID == h.ID }) {
			out.Holds = append(out.Holds, h)
		}
	}
	slices.SortFunc(out.Problems, func(a, b core.Problem) int { return a.At.Compare(b.At) })
	return out
}

func find(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		q := r.URL.Query().Get("q")
		if q == "" || len(q) > 200 {
			return app.Refuse("bad-value", "field", "q", "problem", "it has 1 to 200 bytes")
		}
		hits, err := s.Store.Search(r.Context(), q, 50)
		if err != nil {
			return err
		}
		return endpoint.JSON(w, rows(hits))
	}
}

func history(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		name := chi.URLParam(r, "code")
		limit, err := limitOf(r)
		if err != nil {
			return err
		}
		query := app.HistoryQuery{Order: name, Limit: limit}
		if c, err := app.ReadCode(name, code.Pallet, code.Sheet); err == nil {
			query = app.HistoryQuery{Pallet: core.PalletCode(c), Limit: limit}
		}
		events, err := s.Store.History(r.Context(), query)
		if err != nil {
			return err
		}
		return endpoint.JSON(w, rows(withoutEffects(events)))
	}
}

func limitOf(r *http.Request) (int, error) {
	text := r.URL.Query().Get("limit")
	if text == "" {
		return mostRows, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > mostRows {
		return 0, app.Refuse("bad-value", "field", "limit", "problem", "it is a number from 1 to "+strconv.Itoa(mostRows))
	}
	return n, nil
}
