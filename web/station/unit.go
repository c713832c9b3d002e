package station

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"tagalong/internal/app"
	"tagalong/web/ui"
)

type unitView struct {
	head ui.StationHead
	page app.StationPage
	unit app.BuildView
	now  time.Time
	// lines is which page of a kit's lines is shown.
	lines int
}

func (v unitView) self() string { return unitLink(v.unit) }

func (v unitView) title() string {
	n := 1
	if v.unit.Build.Unit > 0 {
		n = v.unit.Build.Unit
	}
	if v.unit.Kit() && n == 1 && v.unit.ToBuild == 1 {
		return v.unit.Name
	}
	return v.unit.Name + ", unit " + strconv.Itoa(n)
}

// asked is what is still to be built, this unit included.
func (v unitView) asked() string {
	if v.unit.Kit() {
		return ui.Count(v.unit.ToBuild, "kit") + " of order " + v.unit.Owner.Order + " still to make up"
	}
	return ui.Count(v.unit.ToBuild, "unit") + " of order " + v.unit.Owner.Order + " still to build"
}

// startedText says since when the bench works on the unit.
func (v unitView) startedText() string {
	if v.unit.Build.Begun.IsZero() {
		return ""
	}
	return ", started " + ui.Moment(v.unit.Build.Begun, v.now)
}

// word is what the unit is called.
func (v unitView) word() string {
	if v.unit.Kit() {
		return "kit"
	}
	return "unit"
}

// means is what the signature says of the unit.
func (v unitView) means() string {
	did := "made " + v.title()
	if v.unit.Kit() {
		did = "checked " + v.title() + ", every line there and in date"
	}
	return "Your signature says that you " + did + ", for " + v.unit.Customer + ", order " + v.unit.Owner.Order + "."
}

// shortText says how much is missing.
func (v unitView) shortText() string {
	if v.unit.Kit() {
		return ui.Count(v.unit.Short(), "piece") + " missing: see where they are."
	}
	return ui.Count(v.unit.Short(), "part") + " missing: see where they are."
}

// checkText is the button that leads to the signature.
func (v unitView) checkText() string {
	if v.unit.Kit() {
		return "Check and sign"
	}
	return v.unit.Stage.Title + ": check and sign"
}

// gatherText is the button that gathers what is here.
func (v unitView) gatherText() string {
	what := "part"
	if v.unit.Kit() {
		what = "piece"
	}
	return "Gather " + ui.Count(v.unit.Fits(), what) + " for this " + v.word()
}

// againText says what is asked to be cut again, and since when.
func againText(a app.Again, now time.Time) string {
	out := strconv.Itoa(a.Qty) + " to be cut again"
	if a.Cut {
		out = "remake, " + strconv.Itoa(a.Qty) + " to be broken out, asked for"
	}
	if !a.Since.IsZero() {
		out += " since " + ui.Moment(a.Since, now)
	}
	return out + ui.Usually(a.Usual)
}

// whereabouts says, in two lines at most, where the missing parts of a line are.
func whereabouts(l app.BuildLine, now time.Time) []string {
	var out []string
	for _, s := range l.Not {
		out = append(out, ui.SpotText(s, now))
	}
	for _, a := range l.Again {
		out = append(out, againText(a, now))
	}
	for _, in := range l.Cut {
		out = append(out, in.Text+ui.Usually(in.Usual))
	}
	if len(out) == 0 {
		return []string{"not made, and on no nest"}
	}
	return out[:min(2, len(out))]
}

// billRow is a line of a bench's bill with where what it lacks is.
type billRow struct {
	app.BuildLine
	where []string
}

// A page of a bill holds so many rows; a sentence of where parts are takes one
// for each so many characters.
const (
	billRoom  = 11
	rowLetter = 68
)

// billPages are the lines of a unit's bill, what is short first, on as few pages
// as they fit.
func (v unitView) billPages() [][]billRow {
	lines := slices.Clone(v.unit.Lines)
	slices.SortStableFunc(lines, func(a, b app.BuildLine) int { return cmp.Compare(urgent(b), urgent(a)) })
	var pages [][]billRow
	room := 0
	for _, l := range lines {
		row, takes := billRow{BuildLine: l}, 1
		if l.Short() > 0 {
			row.where = whereabouts(l, v.now)
			for _, text := range row.where {
				takes += (len(text) + rowLetter - 1) / rowLetter
			}
		}
		if takes > room {
			pages, room = append(pages, nil), billRoom
		}
		room -= takes
		last := len(pages) - 1
		pages[last] = append(pages[last], row)
	}
	return pages
}

// billPage is the page of lines that is shown, and the number of the next one.
func (v unitView) billPage() (rows []billRow, next int) {
	pages := v.billPages()
	if len(pages) == 0 {
		return nil, 0
	}
	at := v.lines % len(pages)
	return pages[at], (at + 1) % len(pages)
}

// mayStart reports whether the bench may say that it starts on the unit: the
// whole set is gathered and nothing keeps it.
func (v unitView) mayStart() bool {
	return !v.unit.Kit() && v.unit.Ready() && v.unit.Build.Begun.IsZero() && v.unit.Start == nil
}

// startsShort reports whether only a concession lets the bench start on the unit.
func (v unitView) startsShort() bool {
	return v.unit.Start != nil && !v.unit.Start.Absolute && !v.unit.Ready()
}

// shortOf says what of the set is neither gathered nor here.
func shortOf(b app.BuildView) string {
	var out []string
	for _, l := range b.Lines {
		if n := l.Short(); n > 0 {
			out = append(out, strconv.Itoa(n)+" × "+l.Name)
		}
	}
	if n := len(out) - 2; n > 0 {
		out = append(out[:2], ui.Count(n, "other line"))
	}
	return ui.List(out...)
}

// standing says how far a unit is: begun, whole and to be started, or short.
func standing(b app.BuildView) string {
	switch {
	case b.Kit() && b.Ready():
		return "whole set gathered, to be checked"
	case b.Kit():
		return "whole set here"
	case !b.Build.Begun.IsZero():
		return "started, whole set here"
	}
	return "whole set here, may be started"
}
