package lapsing

import (
	"net/http"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type pages struct{ s *app.Service }

// Endpoints of what lapses.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	p := pages{s}
	admin, office := endpoint.Office(core.Admin), endpoint.Office(core.Admin, core.Manager)
	get, post := http.MethodGet, http.MethodPost
	return []endpoint.Endpoint{
		{Method: get, Path: "/gauges", Access: office, Handler: p.showGauges, Doc: "Every gauge by the last day of its calibration."},
		{Method: post, Path: "/gauges", Access: office, Handler: p.actGauges, Doc: "Add a gauge, note that one was calibrated again, or withdraw one."},
		{Method: get, Path: "/batches", Access: office, Handler: p.showBatches, Doc: "Every batch of powder, filler and the like by its expiry."},
		{Method: post, Path: "/batches", Access: office, Handler: p.actBatches, Doc: "Add a batch, or withdraw one."},
		{Method: get, Path: "/qualifications", Access: admin, Handler: p.showQualifications, Doc: "Everybody's qualifications by the last day they count."},
		{Method: post, Path: "/qualifications", Access: admin, Handler: p.actQualifications, Doc: "Give somebody a qualification, confirm one, or end one."},
	}
}

// frame is what the three pages share.
type frame struct {
	page  endpoint.Page
	today core.Date
	kept  string // what was stored, in words
	slips app.Slips
	row   string // the row of the list that was meant; empty: the form for a new one
}

func newFrame(r *http.Request, kept map[string]string) frame {
	return frame{page: endpoint.PageOf(r), kept: kept[r.URL.Query().Get("kept")]}
}

// head is the page's; what is done here belongs to the office.
func (f frame) head(title string) ui.OfficeHead {
	return ui.OfficeHead{Title: title, Shop: f.page.Shop, Person: f.page.Caller.Name, Nav: ui.OfficeNav("/office"), Demo: f.page.Demo}
}

// adding is what is wrong with a field of the form for a new one.
func (f frame) adding(file, field string) string {
	if f.row != "" {
		return ""
	}
	return f.slips.At(file, 0, field)
}

// changing is what is wrong with a row of the list.
func (f frame) changing(file, row string) string {
	if f.row != row || row == "" {
		return ""
	}
	var out []string
	for _, s := range f.slips {
		if s.File == file || s.File == "" || s.File == "people.csv" {
			out = append(out, s.Text)
		}
	}
	return strings.Join(out, " ")
}

// apart are the slips that may have no field on the page: of a row that is not
// on it any more, or of what the page does not ask.
func (f frame) apart() []string {
	var out []string
	for _, s := range f.slips {
		if f.row != "" || s.Row != 0 || s.File == "people.csv" {
			out = append(out, s.Text)
		}
	}
	return out
}

// soonDays is how long before its last day a thing is said to lapse soon.
const soonDays = 30

// left says how long a thing still holds, where that is soon.
func (f frame) left(last core.Date) string {
	if last == "" {
		return ""
	}
	switch n := int(last.Time(time.UTC).Sub(f.today.Time(time.UTC)).Hours() / 24); {
	case n < 0:
		return ""
	case n == 0:
		return "today is its last day"
	case n <= soonDays:
		return "in " + ui.Count(n, "day")
	}
	return ""
}

// soon counts what lapses soon.
func soon[T any](f frame, all []T, last func(T) core.Date) int {
	n := 0
	for _, x := range all {
		if f.left(last(x)) != "" {
			n++
		}
	}
	return n
}

func (f frame) status() int {
	if len(f.slips) > 0 {
		return http.StatusUnprocessableEntity
	}
	return http.StatusOK
}

func value(r *http.Request, name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }

func unknownAct() error {
	return app.Refuse("bad-value", "field", "do", "problem", "it is none of the buttons of this page")
}
