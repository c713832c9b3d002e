package quality

import (
	"cmp"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// registerDays is the period shown where none is asked for.
const registerDays = 90

type registerView struct {
	head ui.OfficeHead
	app.Register
}

func register(o Overseer) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		got, err := readRegister(o, r)
		if err != nil {
			return err
		}
		p := endpoint.PageOf(r)
		return endpoint.Render(w, r, registerPage(registerView{Register: got, head: ui.OfficeHead{
			Title: "Register of problems", Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Nav: ui.OfficeNav("/quality"),
		}}))
	}
}

func registerFile(o Overseer) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		got, err := readRegister(o, r)
		if err != nil {
			return err
		}
		rows := [][]string{registerColumns}
		for _, x := range got.Rows {
			rows = append(rows, registerLine(x))
		}
		return endpoint.CSV(w, "register-"+got.Query.From.Format(time.DateOnly)+".csv", rows)
	}
}

// readRegister reads what the address asks for; without days, the last ninety.
func readRegister(o Overseer, r *http.Request) (app.Register, error) {
	now := endpoint.PageOf(r).Now
	q := app.RegisterQuery{Arose: core.StageName(r.FormValue("arose")), Open: r.FormValue("open") == "yes"}
	var err error
	if q.From, err = dayOf(r, "from", now.AddDate(0, 0, -registerDays)); err != nil {
		return app.Register{}, err
	}
	if q.To, err = dayOf(r, "to", now); err != nil {
		return app.Register{}, err
	}
	q.To = q.To.AddDate(0, 0, 1) // the last day counts
	return o.Register(r.Context(), q)
}

// dayOf reads a day of the shop's calendar, and gives its first moment.
func dayOf(r *http.Request, field string, otherwise time.Time) (time.Time, error) {
	text := cmp.Or(r.FormValue(field), otherwise.Format(time.DateOnly))
	t, err := time.ParseInLocation(time.DateOnly, text, otherwise.Location())
	if err != nil {
		return t, app.Refuse("bad-value", "field", field, "problem", "it is not a day written as 2026-12-03")
	}
	return t, nil
}

var registerColumns = []string{
	"problem", "found", "found_at_stage", "station", "reported_by", "item", "revision", "name", "order", "line", "parts",
	"nonconformity", "came_about_at", "action", "why", "concession", "decided_by", "decided", "hours", "wanted_by", "lot", "photos",
}

func registerLine(r app.RegisterRow) []string {
	concession, decided, line := "", "", ""
	if r.Concession {
		concession = "yes"
	}
	if !r.Open() {
		decided = r.Closed.Format(time.RFC3339)
	}
	if r.Owner.Line > 0 {
		line = strconv.Itoa(r.Owner.Line)
	}
	return []string{
		string(r.ID), r.At.Format(time.RFC3339), string(r.Stage), string(r.Station), r.Reporter, string(r.Item.Item), r.Item.Rev, r.Name,
		r.Owner.Order, line, strconv.Itoa(r.Qty), r.What, r.CameFrom, r.Decision, r.Reason, concession, strings.Join(r.Deciders, "; "), decided,
		hours(r.Hours), string(r.Wanted), string(r.Lot), strings.Join(r.Photos, "; "),
	}
}

// decision says what was decided and, of a remake, how far it has come.
func decision(r app.RegisterRow) string {
	if r.Stands == "" {
		return r.Decision
	}
	return r.Decision + ": " + r.Stands
}

// hours writes hours as people do; nothing where nobody has said.
func hours(h float64) string {
	if h == 0 {
		return ""
	}
	return strconv.FormatFloat(h, 'f', -1, 64)
}

func (v registerView) from() string { return v.Query.From.Format(time.DateOnly) }

func (v registerView) to() string { return v.Query.To.AddDate(0, 0, -1).Format(time.DateOnly) }

func (v registerView) csv() string {
	q := url.Values{"from": {v.from()}, "to": {v.to()}, "arose": {string(v.Query.Arose)}}
	if v.Query.Open {
		q.Set("open", "yes")
	}
	return "/quality/register.csv?" + q.Encode()
}

// summary says what is listed: "12 problems with 31 parts, 3 open, 18.5 hours".
func (v registerView) summary() string {
	open, parts, cost := 0, 0, 0.0
	for _, r := range v.Rows {
		parts += r.Qty
		cost += r.Hours
		if r.Open() {
			open++
		}
	}
	text := ui.Count(len(v.Rows), "problem") + " with " + ui.Count(parts, "part") + ", " + strconv.Itoa(open) + " open"
	if cost > 0 {
		text += ", " + hours(cost) + " hours of work"
	}
	if v.More {
		text = "The latest of many: " + text + "; choose fewer days for the rest"
	}
	return text
}
