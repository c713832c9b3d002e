package lapsing

import (
	"net/http"
	"slices"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

type qualificationsPage struct {
	frame
	app.Lapsing[app.Qualified]
	typed     app.TypedQualification
	until     string
	people    []core.Person
	processes []string
}

var qualificationsKept = map[string]string{"add": "The qualification is stored.", "until": "The confirmation is stored.",
	"end": "The qualification has ended: from today nothing is signed on it."}

func (p pages) qualifications(r *http.Request) (qualificationsPage, error) {
	all, err := p.s.Qualifications(r.Context(), endpoint.CallerOf(r))
	if err != nil {
		return qualificationsPage{}, err
	}
	book, err := p.s.Book(r.Context())
	if err != nil {
		return qualificationsPage{}, err
	}
	v := qualificationsPage{frame: newFrame(r, qualificationsKept), Lapsing: all, processes: app.Processes(book)}
	v.today = all.Today
	for _, x := range book.People {
		if !x.Left {
			v.people = append(v.people, x)
		}
	}
	slices.SortFunc(v.people, func(a, b core.Person) int { return strings.Compare(a.Name+string(a.ID), b.Name+string(b.ID)) })
	return v, nil
}

func (p pages) showQualifications(w http.ResponseWriter, r *http.Request) error {
	v, err := p.qualifications(r)
	if err != nil {
		return err
	}
	v.typed.Person = core.PersonID(r.URL.Query().Get("person"))
	return endpoint.Render(w, r, qualificationsView(v))
}

func (p pages) actQualifications(w http.ResponseWriter, r *http.Request) error {
	if err := endpoint.Form(r); err != nil {
		return err
	}
	by, do, key, person := endpoint.CallerOf(r), value(r, "do"), value(r, "of"), core.PersonID(value(r, "person"))
	typed := app.TypedQualification{Person: person, Process: value(r, "process"), Metal: value(r, "metal"), MaxThickness: value(r, "max_thickness_mm"),
		Positions: value(r, "positions"), ValidTo: value(r, "valid_to"), ConfirmBy: value(r, "confirm_by")}
	row := string(person) + key
	var slips app.Slips
	var err error
	switch do {
	case "add":
		row = ""
		slips, err = p.s.AddQualification(r.Context(), by, typed)
	case "until":
		slips, err = p.s.ConfirmQualification(r.Context(), by, person, key, value(r, "until"))
	case "end":
		slips, err = p.s.EndQualification(r.Context(), by, person, key)
	default:
		err = unknownAct()
	}
	if err != nil {
		return err
	}
	if len(slips) == 0 {
		return endpoint.SeeOther(w, r, "/qualifications?kept="+do)
	}
	v, err := p.qualifications(r)
	if err != nil {
		return err
	}
	v.slips, v.row, v.typed, v.until = slips, row, typed, value(r, "until")
	return endpoint.RenderStatus(w, r, v.status(), qualificationsView(v))
}

func rowOf(q app.Qualified) string { return string(q.Person.ID) + q.Key() }
