package station

import (
	"net/url"
	"slices"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// needs says what a pallet waits for.
func needs(p app.StationPage, c app.PalletCard) string {
	b := p.Book
	switch {
	case c.NextStage == "" && p.Builder:
		return "Ready to gather"
	case c.NextStage == "":
		return "Done, to be passed on"
	}
	if st, ok := b.Table.Stage(c.NextStage); ok && st.Title != "" {
		return st.Title
	}
	return string(c.NextStage)
}

// How many pallets the list beside a page has.
const (
	sideHere   = 5
	sideComing = 2
)

// beside is the part of a station's pallets that the list beside a pallet's page
// is made of: the first, and that pallet.
func beside(current core.PalletCode) app.Part { return app.Part{Most: sideHere, With: current} }

// sideCards is the first n cards, with the one looked at among them.
func sideCards(all []app.PalletCard, current string, n int) []app.PalletCard {
	if len(all) <= n {
		return all
	}
	i := slices.IndexFunc(all, func(c app.PalletCard) bool { return c.Code == core.PalletCode(current) })
	if i < n {
		return all[:n]
	}
	return append(slices.Clone(all[:n-1]), all[i])
}

func unitLink(b app.BuildView) string { return "/station/units?unit=" + url.QueryEscape(b.Key()) }
