package app

import (
	"context"
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// Qualified is one qualification of somebody who is here.
type Qualified struct {
	Person core.Person
	core.Qualification
}

// Last is the last day it counts: of its two clocks the one that stops first.
func (q Qualified) Last() core.Date {
	if q.ConfirmBy != "" && (q.ConfirmBy.Before(q.ValidTo) || q.ValidTo == "") {
		return q.ConfirmBy
	}
	return q.ValidTo
}

// Key names it in a form: all of it, so that one that was changed meanwhile is
// not taken for what it was.
func (q Qualified) Key() string {
	text, _ := json.Marshal(q.Qualification) // plain values always encode
	return string(text)
}

// Qualifications lists those of everybody here by the last day they count.
func (s *Service) Qualifications(ctx context.Context, by Caller) (Lapsing[Qualified], error) {
	if err := onlyAdmin(by); err != nil {
		return Lapsing[Qualified]{}, err
	}
	book, today, err := s.bookToday(ctx)
	if err != nil {
		return Lapsing[Qualified]{}, err
	}
	var all []Qualified
	for _, p := range book.People {
		for _, q := range p.Qualifications {
			if !p.Left {
				all = append(all, Qualified{p, q})
			}
		}
	}
	return lapsing(all, today, Qualified.Last, func(q Qualified) string { return q.Person.Name + q.Key() }), nil
}

// Processes are those that a stage or a step asks a qualification for, or that
// somebody has one of.
func Processes(b *core.Book) []string {
	var out []string
	for _, st := range b.Table.Stages {
		out = append(out, st.Qualification)
	}
	for _, r := range b.Routes {
		for _, x := range r.Steps {
			out = append(out, x.Qualification)
		}
	}
	for _, p := range b.People {
		for _, q := range p.Qualifications {
			out = append(out, q.Process)
		}
	}
	slices.Sort(out)
	return slices.DeleteFunc(slices.Compact(out), func(x string) bool { return x == "" })
}

// TypedQualification is one as it was typed.
type TypedQualification struct {
	Person                                                      core.PersonID
	Process, Metal, MaxThickness, Positions, ValidTo, ConfirmBy string
}

func (t TypedQualification) fields() map[string]string {
	return map[string]string{"person": string(t.Person), "process": t.Process, "metal": t.Metal, "max_thickness_mm": t.MaxThickness,
		"positions": strings.ToUpper(t.Positions), "valid_to": t.ValidTo, "confirm_by": t.ConfirmBy}
}

func qualificationFields(p core.PersonID, q core.Qualification) map[string]string {
	thickness := ""
	if q.MaxThickness != 0 {
		thickness = strconv.FormatFloat(q.MaxThickness, 'f', -1, 64)
	}
	return TypedQualification{p, q.Process, string(q.Metal), thickness, strings.Join(q.Positions, " "), string(q.ValidTo), string(q.ConfirmBy)}.fields()
}

// AddQualification gives somebody another one. A slip of it stands at row 0.
func (s *Service) AddQualification(ctx context.Context, by Caller, t TypedQualification) (Slips, error) {
	return s.changeQualifications(ctx, by, t.Person, func(has []map[string]string, _ core.Date) ([]map[string]string, int) {
		return append(has, t.fields()), len(has)
	})
}

// ConfirmQualification moves the day by which one has to be confirmed again.
func (s *Service) ConfirmQualification(ctx context.Context, by Caller, person core.PersonID, key, until string) (Slips, error) {
	return s.changeOne(ctx, by, person, key, func(q map[string]string, _ core.Date) { q["confirm_by"] = until })
}

// EndQualification ends one: from today nothing is signed on it.
func (s *Service) EndQualification(ctx context.Context, by Caller, person core.PersonID, key string) (Slips, error) {
	return s.changeOne(ctx, by, person, key, func(q map[string]string, today core.Date) { q["valid_to"] = string(dayBefore(today)) })
}

func (s *Service) changeOne(ctx context.Context, by Caller, person core.PersonID, key string, change func(map[string]string, core.Date)) (Slips, error) {
	return s.changeQualifications(ctx, by, person, func(has []map[string]string, today core.Date) ([]map[string]string, int) {
		at := slices.IndexFunc(has, func(q map[string]string) bool { return q[keyField] == key })
		if at >= 0 {
			change(has[at], today)
		}
		return has, at
	})
}

// keyField carries a qualification's key beside its fields while it is looked for.
const keyField = "key"

// changeQualifications stores all of somebody's qualifications anew, in their
// order: a folder says all of a person's, or none. change says which of them
// was changed, whose slips are told at row 0; -1: there is none such.
func (s *Service) changeQualifications(ctx context.Context, by Caller, id core.PersonID,
	change func([]map[string]string, core.Date) ([]map[string]string, int)) (Slips, error) {
	if err := onlyAdmin(by); err != nil {
		return nil, err
	}
	book, today, err := s.bookToday(ctx)
	if err != nil {
		return nil, err
	}
	p, there := book.People[id]
	if !there || p.Left {
		return Slips{typedSlip("qualifications.csv", 0, "person", strconv.Quote(string(id))+", who is not here", "somebody of the list")}, nil
	}
	var has []map[string]string
	for _, q := range p.Qualifications {
		fields := qualificationFields(p.ID, q)
		fields[keyField] = Qualified{p, q}.Key()
		has = append(has, fields)
	}
	rows, at := change(has, today)
	if at < 0 {
		return Slips{typedSlip("qualifications.csv", 0, "confirm_by", "a qualification that was changed meanwhile", "one of the list as it is now")}, nil
	}
	for _, fields := range rows {
		delete(fields, keyField)
	}
	var roles []string
	for _, r := range p.Roles {
		roles = append(roles, string(r))
	}
	slips, err := s.storeTyped(ctx, by, "qualifications page", intake.Typed{
		"people.csv":         {{"person": string(p.ID), "name": p.Name, "roles": strings.Join(roles, " "), "left": onlyYes(p.Left)}},
		"qualifications.csv": rows,
	})
	for i := range slips {
		if slips[i].File == "qualifications.csv" && slips[i].Row == at {
			slips[i].Row = 0
		}
	}
	return slips, err
}
