package server

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

// Problem is a problem document (RFC 9457) of ours. Its title is the sentence
// with its parameters put in, since that is what people are shown; what stays
// the same from one occurrence to the next, as that text asks, is the type.
type Problem struct {
	Type     string            `json:"type"`
	Title    string            `json:"title"`
	Status   int               `json:"status"`
	Detail   string            `json:"detail"` // title and remedy in one
	Instance string            `json:"instance,omitempty"`
	Code     string            `json:"code"`
	Params   map[string]string `json:"params,omitempty"`
	Why      string            `json:"why,omitempty"`
	Remedy   string            `json:"remedy"`
	Who      string            `json:"who,omitempty"`
	Absolute bool              `json:"absolute,omitempty"`
	Ask      bool              `json:"ask,omitempty"`
	Lots     []core.LotID      `json:"lots,omitempty"`
	Others   []core.LotID      `json:"others,omitempty"`
	After    int               `json:"after,omitempty"` // seconds to wait before another try
}

// stops reports whether somebody was told no: not a wrong address, and not a
// fault of the server, after which it isn't certain what was recorded.
func (p Problem) stops() bool {
	return p.Status < http.StatusInternalServerError && p.Status != http.StatusNotFound && p.Status != http.StatusMethodNotAllowed
}

func (p Problem) headline() string {
	if p.stops() {
		return "Refused"
	}
	return "Not found or not working"
}

// number is the request's, as people can tell it the office.
func (p Problem) number() string { return strings.TrimPrefix(p.Instance, requests) }

// requests is where the number of a request stands as a name for one problem.
const requests = "/requests/"

// problemOf is the document of a refusal.
func problemOf(refused *app.Refused) Problem {
	x := refused.Refusal
	text := words.Refusal(x.Code, x.Params)
	return Problem{
		Type: "/api/refusals#" + x.Code, Title: text.Title, Status: endpoint.StatusOf(x.Code), Detail: text.Title + " " + text.Remedy,
		Code: x.Code, Params: x.Params, Why: text.Why, Remedy: text.Remedy, Who: text.Who,
		Absolute: x.Absolute, Ask: x.Ask, Lots: x.Lots, Others: x.Others, After: int(refused.After / time.Second),
	}
}

// refusedFor makes of any error what may be shown: what is no refusal is told
// in general words, and its text goes to the log only.
func refusedFor(err error, number string) *app.Refused {
	if refused, ok := errors.AsType[*app.Refused](err); ok {
		return refused
	}
	if large, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return app.Refuse("too-large", "most", strconv.FormatInt(large.Limit/1024, 10)+" KiB")
	}
	switch {
	case errors.Is(err, app.ErrNotFound):
		return app.Refuse("page-unknown")
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return app.Refuse("server-busy")
	}
	return app.Refuse("internal", "number", number)
}

// fail is the one place where an error becomes an answer.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	t := traceOf(r)
	refused := refusedFor(err, t.number)
	p := problemOf(refused)
	p.Instance = requests + t.number
	if p.Status >= http.StatusInternalServerError {
		t.err = err
	}
	endpoint.RetryAfter(w, refused)
	w.Header().Set("Cache-Control", "no-store")
	if wantsJSON(r) {
		writeProblem(w, p)
		return
	}
	if renderErr := endpoint.RenderStatus(w, r, p.Status, errorPage(endpoint.PageOf(r), p)); renderErr != nil {
		t.err = errors.Join(err, renderErr)
		http.Error(w, p.Detail, p.Status)
	}
}

func writeProblem(w http.ResponseWriter, p Problem) {
	text, err := json.Marshal(p)
	if err != nil { // only texts and numbers are in it
		http.Error(w, p.Detail, p.Status)
		return
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(p.Status)
	_, _ = w.Write(append(text, '\n'))
}

// wantsJSON reports whether the request came from a program: to /api/, or with
// an Accept that asks for JSON.
func wantsJSON(r *http.Request) bool {
	accept := r.Header.Get("Accept")
	if strings.Contains(accept, "text/html") {
		return false
	}
	return r.URL.Path == "/api" || strings.HasPrefix(r.URL.Path, "/api/") || strings.Contains(accept, "json")
}

// byLink reports whether a page is for whoever came by a consignment's link.
func byLink(p endpoint.Page) bool {
	known := p.Caller.SignedIn() || p.Caller.OnTablet()
	return !known && (p.Caller.Bears() || p.Caller.LinkOver != "" || strings.HasPrefix(p.Path, "/L/") || strings.HasPrefix(p.Path, "/site/mine"))
}
