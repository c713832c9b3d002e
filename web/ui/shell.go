package ui

import "time"

// Link is a place to go. Current marks the page one is on.
type Link struct {
	Text, Href string
	Current    bool
}

// StationHead is what the title block of a station's page says.
type StationHead struct {
	Title   string // of the page, before the station's name in the window's title
	Station string
	Sub     string // mounted belt, and the like
	Now     time.Time
	Demo    bool
	Scripts []string // modules beside page.js
	Keeper  string   // the device that keeps what waits to be sent; empty: none does beyond its tab
}

// OfficeHead is what the title block of an office page says.
type OfficeHead struct {
	Title   string
	Shop    string
	Person  string // signed in; empty: nobody
	Nav     []Link // empty: OfficeNav
	Find    string // what was looked for, in the find box
	Demo    bool
	Scripts []string
}

// OfficeNav is the usual row of links, with the one whose address is current marked.
func OfficeNav(current string) []Link {
	links := []Link{
		{Text: "Orders", Href: "/orders"},
		{Text: "Held", Href: "/quality"},
		{Text: "Dock", Href: "/dock"},
		{Text: "Wall", Href: "/wall"},
		{Text: "Office", Href: "/office"},
	}
	for i := range links {
		links[i].Current = links[i].Href == current
	}
	return links
}

func (h OfficeHead) nav() []Link {
	if h.Nav == nil {
		return OfficeNav("")
	}
	return h.Nav
}

// At is the distance and surface a page is read at; the sizes follow it.
type At string

const (
	AtStation At = "station" // 10-inch tablet, 60 cm, gloves
	AtOffice  At = "office"
	AtHand    At = "hand" // a phone
	AtWall    At = "wall"
)

// pageScripts are those of every page, then its own; in a demo shop also the one
// that puts a visitor's badge in the signing panel.
func pageScripts(demo bool, own []string) []string {
	out := append([]string{"page.js"}, own...)
	if demo {
		out = append(out, "demo-hand.js")
	}
	return out
}
