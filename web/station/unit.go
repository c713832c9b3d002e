package station

import (
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

// spotText says where parts that are not here are, and what keeps them.
func spotText(s app.Spot) string {
	out := strconv.Itoa(s.Qty)
	if s.Pallet != "" {
		out += " on " + ui.Spaced(string(s.Pallet))
	}
	if s.Place != "" {
		out += " " + s.Place
	}
	switch {
	case s.Held:
		out += ", held: " + s.Why
	case s.Stage != "":
		out += ", waits for " + s.Stage
	}
	return out
}

// whereabouts says, in two lines at most, where the missing parts of a line are.
func whereabouts(l app.BuildLine) []string {
	var out []string
	for _, s := range l.Not {
		out = append(out, spotText(s))
	}
	out = append(out, l.Cut...)
	if len(out) == 0 {
		return []string{"not made, and on no nest"}
	}
	return out[:min(2, len(out))]
}
