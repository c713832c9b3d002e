package demo

import (
	"context"
	"slices"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/shopgen"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// view is what the page shows.
type view struct {
	head     ui.OfficeHead
	signedIn bool   // somebody is, in this browser
	manager  string // who is signed in where nobody is
	tablet   string // name of the station this browser is the tablet of
	tries    []try
	stations []station
	people   []person
	lost     string // text of the badge that was lost
	loser    string // whose it was
}

// manager may see every office page.
const manager core.PersonID = "P01"

// door is a page to look at.
type door struct {
	text, href string
	open       bool // to everybody
}

var doors = []door{
	{"The wall", "/wall", false}, {"Find", "/find?q=O-4101", false}, {"Orders", "/orders", false}, {"Held", "/quality", false},
	{"Dock", "/dock", false}, {"History of an order", "/history/order/O-4101", false}, {"Office", "/office", false}, {"For scripts", "/api", true},
}

// station is a place whose tablet the browser may become.
type station struct {
	id           core.StationID
	name         string
	here, coming int
	current      bool
}

// person is somebody to sign as.
type person struct {
	shopgen.Holder
	viewBox, path string // of the badge's QR symbol
	today         core.Date
}

// office reports whether the person has work at a desk.
func (p person) office() bool {
	return p.Is(core.Admin, core.Manager, core.Service, core.Quality, core.Dispatcher, core.Inspector)
}

func (p person) roles() string {
	var out []string
	for _, r := range p.Roles {
		out = append(out, string(r))
	}
	return strings.Join(out, ", ")
}

// qualified lists what the person may do by qualification, and until when.
func (p person) qualified() string {
	var out []string
	for _, q := range p.Qualifications {
		until := q.ValidTo
		if q.ConfirmBy.Before(until) {
			until = q.ConfirmBy
		}
		text := strings.ReplaceAll(q.Process, "-", " ")
		if q.Metal != "" {
			text += " " + string(q.Metal)
		}
		if until.Before(p.today) {
			text += ", ended"
		} else {
			text += " to"
		}
		out = append(out, text+" "+string(until))
	}
	return strings.Join(out, "; ")
}

func newView(ctx context.Context, s *app.Service, p endpoint.Page) (view, error) {
	v := view{head: ui.OfficeHead{Title: "Demo", Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Scripts: []string{"demo.js"}}}
	book, err := s.Book(ctx)
	if err != nil {
		return v, err
	}
	cards, err := s.Store.Pallets(ctx, 500)
	if err != nil {
		return v, err
	}
	v.signedIn, v.manager = p.Caller.SignedIn(), app.PersonName(book, manager)
	v.tablet = book.Stations[p.Caller.Station].Name
	v.stations = stations(book, cards, p.Caller.Station)
	v.tries = tries(book, cards)
	roster, err := shopgen.Roster(ctx, s)
	if err != nil {
		return v, err
	}
	for _, h := range roster {
		symbol, err := code.QR(h.Badge)
		if err != nil {
			return v, err
		}
		v.people = append(v.people, person{h, viewBox(symbol), symbol.Path(), core.DateOf(p.Now)})
	}
	v.loser = app.PersonName(book, shopgen.Lost)
	v.lost, err = shopgen.LostBadge()
	return v, err
}

func viewBox(s *code.Symbol) string {
	side := ui.Number(float64(s.Size()))
	return "0 0 " + side + " " + side
}

func stations(b *core.Book, cards []app.PalletCard, current core.StationID) []station {
	var all []core.Station
	for _, st := range b.Stations {
		all = append(all, st)
	}
	slices.SortFunc(all, func(a, b core.Station) int {
		if a.Order != b.Order {
			return a.Order - b.Order
		}
		return strings.Compare(string(a.ID), string(b.ID))
	})
	var out []station
	for _, st := range all {
		x := station{id: st.ID, name: st.Name, current: st.ID == current}
		for _, c := range cards {
			switch {
			case c.Bound == st.ID:
				x.coming++
			case c.Station == st.ID && c.Bound == "":
				x.here++
			}
		}
		out = append(out, x)
	}
	return out
}

// load says what is at a station: "3 here, 1 coming".
func (s station) load() string {
	var out []string
	if s.here > 0 {
		out = append(out, ui.Number(float64(s.here))+" here")
	}
	if s.coming > 0 {
		out = append(out, ui.Number(float64(s.coming))+" coming")
	}
	return strings.Join(out, ", ")
}
