package station

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// unsure lists the lot's facts that are neither yes nor no, in order.
func unsure(l app.LotView, now time.Time) []core.Fact {
	var out []core.Fact
	for f := range l.Lot.Facts {
		if l.Lot.Facts.At(f, now) == core.Unsure {
			out = append(out, f)
		}
	}
	slices.SortFunc(out, func(a, b core.Fact) int { return strings.Compare(a.String(), b.String()) })
	return out
}

// factWords is a fact as people say it: "edges rounded", "coated, outside".
func factWords(f core.Fact) string {
	out := strings.ReplaceAll(f.Name, "-", " ")
	if f.Of != "" {
		out += ", " + f.Of
	}
	return out
}

// otherStations lists where the pallet may be sent: first those that do what
// its lots wait for, then those that come later on their routes, then the rest.
func (v palletView) otherStations() []app.StationChoice {
	out := slices.Clone(v.pallet.Next)
	var rest []core.Station
	for _, st := range v.page.Book.Stations {
		if st.ID == v.page.Station.ID || st.Site || slices.ContainsFunc(out, func(c app.StationChoice) bool { return c.ID == st.ID }) {
			continue
		}
		rest = append(rest, st)
	}
	slices.SortFunc(rest, func(a, b core.Station) int {
		return cmp.Or(cmp.Compare(v.use(b), v.use(a)), cmp.Compare(a.Order, b.Order), cmp.Compare(a.ID, b.ID))
	})
	for _, st := range rest {
		out = append(out, app.StationChoice{ID: st.ID, Name: st.Name})
	}
	return out
}

// use is how likely a pallet is to be sent to a station: one that does a later
// step of a lot on it, a plain store, any other.
func (v palletView) use(st core.Station) int {
	if len(st.Stages) == 0 {
		return 1
	}
	for _, l := range v.pallet.Lots {
		for _, m := range l.Strip {
			if !m.Done && st.Does(m.Stage) {
				return 2
			}
		}
	}
	return 0
}
