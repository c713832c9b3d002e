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
}

func (v unitView) self() string { return unitLink(v.unit) }

func (v unitView) title() string {
	n := 1
	if v.unit.Build.Unit > 0 {
		n = v.unit.Build.Unit
	}
	return v.unit.Name + ", unit " + strconv.Itoa(n)
}

// asked is what is still to be built, this unit included.
func (v unitView) asked() string {
	return ui.Count(v.unit.ToBuild, "unit") + " of order " + v.unit.Owner.Order + " still to build"
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
