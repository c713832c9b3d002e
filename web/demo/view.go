package demo

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

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
	crew     *shopgen.Status
	now      time.Time
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
	{"Dock", "/dock", false}, {"History of an order", "/history/order/O-4096", false}, {"Office", "/office", false}, {"For scripts", "/api", true},
}

// try is one thing worth trying, as the page shows it.
type try struct {
	shopgen.Try
	station, person string
	badge, pin      string // to sign with
	office          bool
}

// action is what its button says.
func (t try) action() string {
	switch {
	case t.office:
		return "Be " + t.person
	case t.person != "":
		return "Be " + t.person + " at " + t.station
	}
	return "Be at " + t.station
}

// station is a place whose tablet the browser may become.
type station struct {
	id           core.StationID
	name         string
	here, coming int
	current      bool
	usual        *person // who is there at this hour
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

func newView(ctx context.Context, s *app.Service, p endpoint.Page, visitor string) (view, error) {
	v := view{head: ui.OfficeHead{Title: "Demo", Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Scripts: []string{"demo.js"}}, now: p.Now}
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
	if crew := shopgen.CrewOf(s.Store); crew != nil {
		status := crew.Status()
		v.crew = &status
	}
	if v.people, err = people(ctx, s, core.DateOf(p.Now)); err != nil {
		return v, err
	}
	v.stations = stations(book, cards, p.Caller.Station, v.people, p.Now.Hour())
	if v.tries, err = tries(ctx, s, book, visitor, v.people); err != nil {
		return v, err
	}
	v.loser = app.PersonName(book, shopgen.Lost)
	v.lost, err = shopgen.LostBadge()
	return v, err
}

// tries are those of the shop as it stands, without what another visitor is at.
func tries(ctx context.Context, s *app.Service, b *core.Book, visitor string, roster []person) ([]try, error) {
	var busy func(core.PalletCode) bool
	if all := shopgen.VisitorsOf(s.Store); all != nil {
		busy = func(c core.PalletCode) bool { return all.Busy(c, visitor) }
	}
	list, err := shopgen.Tries(ctx, s, busy)
	if err != nil {
		return nil, err
	}
	var out []try
	for _, t := range list {
		x := try{Try: t, station: b.Stations[t.At].Name, office: t.At == "", badge: t.Badge, pin: t.PIN}
		if t.By != "" {
			x.person = app.PersonName(b, t.By)
		}
		if h := byID(roster, t.By); h != nil {
			x.badge, x.pin = cmp.Or(x.badge, h.Badge), cmp.Or(x.pin, h.PIN)
		}
		out = append(out, x)
	}
	return out, nil
}

func byID(roster []person, id core.PersonID) *person {
	i := slices.IndexFunc(roster, func(p person) bool { return p.ID == id })
	if i < 0 {
		return nil
	}
	return &roster[i]
}

func people(ctx context.Context, s *app.Service, today core.Date) ([]person, error) {
	roster, err := shopgen.Roster(ctx, s)
	if err != nil {
		return nil, err
	}
	var out []person
	for _, h := range roster {
		symbol, err := code.QR(h.Badge)
		if err != nil {
			return nil, err
		}
		out = append(out, person{h, viewBox(symbol), symbol.Path(), today})
	}
	return out, nil
}

func viewBox(s *code.Symbol) string {
	side := ui.Number(float64(s.Size()))
	return "0 0 " + side + " " + side
}

func stations(b *core.Book, cards []app.PalletCard, current core.StationID, roster []person, hour int) []station {
	var all []core.Station
	for _, st := range b.Stations {
		all = append(all, st)
	}
	slices.SortFunc(all, func(a, b core.Station) int {
		return cmp.Or(a.Order-b.Order, strings.Compare(string(a.ID), string(b.ID)))
	})
	var out []station
	for _, st := range all {
		x := station{id: st.ID, name: st.Name, current: st.ID == current, usual: byID(roster, shopgen.Usual(st.ID, hour))}
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

// every says how often the simulated people do something.
func every() string { return ui.Count(int(shopgen.Pace.Seconds()), "second", "seconds") }
