package people

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

func head(p endpoint.Page, title string) ui.OfficeHead {
	return ui.OfficeHead{Title: title, Shop: p.Shop, Person: p.Caller.Name, Nav: ui.OfficeNav("/office"), Demo: p.Demo}
}

func stationsOf(b *core.Book) []core.Station {
	var out []core.Station
	for _, s := range b.Stations {
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b core.Station) int {
		return cmp.Or(cmp.Compare(a.Order, b.Order), cmp.Compare(a.ID, b.ID))
	})
	return out
}

func stationName(all []core.Station, id core.StationID) string {
	for _, s := range all {
		if s.ID == id {
			return s.Name
		}
	}
	return string(id)
}

func roleList(roles []core.Role) string {
	var out []string
	for _, r := range roles {
		out = append(out, string(r))
	}
	return strings.Join(out, ", ")
}

// nobodySigns reports that there is nobody here yet who cuts or breaks out.
func nobodySigns(rows []app.PersonRow) bool {
	return !slices.ContainsFunc(rows, func(r app.PersonRow) bool { return !r.Left && r.Is(core.Separator, core.Operator) })
}

// badgeState says how a person's badge stands.
func badgeState(r app.PersonRow, now time.Time) string {
	if !r.HasBadge() {
		return "no badge in force"
	}
	return "badge of " + ui.Moment(r.Badge, now)
}

func pinState(r app.PersonRow) string {
	if r.HasPIN() {
		return "PIN set"
	}
	return "no PIN yet"
}

// processName is a process as people say it: its id is one word to a program.
func processName(q core.Qualification) string { return strings.ReplaceAll(q.Process, "-", " ") }

// lastDay says to what day a qualification holds, and until when it must be confirmed where that comes first.
func lastDay(q core.Qualification, now time.Time) string {
	if q.ConfirmBy != "" && q.ConfirmBy.Before(q.ValidTo) {
		return "to " + ui.Day(q.ValidTo, now) + " if confirmed by " + ui.Day(q.ConfirmBy, now)
	}
	return "to " + ui.Day(q.ValidTo, now)
}

// stands says whether a qualification holds on a day: both of its clocks count.
func stands(q core.Qualification, now time.Time) (word string, holds bool) {
	today := core.DateOf(now)
	switch {
	case q.ValidTo.Before(today):
		return "ran out", false
	case q.ConfirmBy != "" && q.ConfirmBy.Before(today):
		return "not confirmed in time", false
	}
	return "holds", true
}
