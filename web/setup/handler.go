package setup

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type pages struct{ s *app.Service }

// Endpoints of setting a shop up.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	p := pages{s}
	admin, office := endpoint.Office(core.Admin), endpoint.Office(core.Admin, core.Manager)
	get, post := http.MethodGet, http.MethodPost
	return []endpoint.Endpoint{
		{Method: get, Path: "/setup", Access: office, Handler: p.overview, Doc: "What a new shop still needs before its first printed traveller."},
		{Method: get, Path: "/setup/shop", Access: admin, Handler: p.showShop, Doc: "The page of the shop's name and time zone."},
		{Method: post, Path: "/setup/shop", Access: admin, Handler: p.setShop, Doc: "Set the shop's name and time zone."},
		{Method: get, Path: "/setup/stations", Access: admin, Handler: p.showStations, Doc: "The page of the stations: how many of each kind, then their names."},
		{Method: post, Path: "/setup/stations", Access: admin, Handler: p.setStations, Doc: "Store new stations, and other names of known ones."},
		{Method: get, Path: "/setup/person", Access: admin, Handler: p.showPerson, Doc: "The page of somebody who signs at the stations."},
		{Method: post, Path: "/setup/person", Access: admin, Handler: p.addPerson, Doc: "Take somebody on; the answer shows a one-time code for the PIN, once."},
		{Method: get, Path: "/setup/tablet", Access: admin, Handler: p.showTablet, Doc: "The page that makes this device the tablet of a station."},
		{Method: post, Path: "/setup/tablet", Access: admin, Handler: p.enrolHere, Doc: "Enrol this device to a station, or move it to another."},
		{Method: get, Path: "/setup/item", Access: office, Handler: p.showItem, Doc: "The page to type an item with its route."},
		{Method: post, Path: "/setup/item", Access: office, Handler: p.addItem, Doc: "Store a typed item once its route was walked by the rules."},
		{Method: post, Path: "/setup/item/route", Access: office, Handler: p.walkItem, Doc: "How a typed item's route is drawn and what the rules say of it; stores nothing."},
		{Method: get, Path: "/setup/order", Access: office, Handler: p.showOrder, Doc: "The page to type an order."},
		{Method: post, Path: "/setup/order", Access: office, Handler: p.addOrder, Doc: "Store a typed order."},
		{Method: get, Path: "/setup/sheet", Access: office, Handler: p.showSheet, Doc: "The page to receive a sheet."},
		{Method: post, Path: "/setup/sheet", Access: office, Handler: p.receiveSheet, Doc: "Receive a sheet with its heat, and its material where that is new."},
		{Method: get, Path: "/setup/nest", Access: office, Handler: p.showNest, Doc: "The page to type the nest of a sheet."},
		{Method: post, Path: "/setup/nest", Access: office, Handler: p.addNest, Doc: "Store a typed nest."},
		{Method: get, Path: "/setup/make", Access: office, Handler: p.showMake, Doc: "The one thing to do now on the way from a nest to a printed traveller."},
	}
}

// step is a line of the list: what it is called, where it is done, who may.
type step struct {
	is         app.SetupStep
	name, soft string
	href       string
	adminOnly  bool
}

var steps = []step{
	{app.SetupShop, "Name and time zone", "what stands on every traveller", "/setup/shop", true},
	{app.SetupStations, "Stations", "the places where work is done", "/setup/stations", true},
	{app.SetupPerson, "Somebody who signs", "with a badge and a PIN", "/setup/person", true},
	{app.SetupTablet, "A tablet", "this device will do", "/setup/tablet", true},
	{app.SetupItem, "An item", "and the steps of its route", "/setup/item", false},
	{app.SetupOrder, "An order", "for whom, how many, by when", "/setup/order", false},
	{app.SetupSheet, "A sheet", "with its heat number", "/setup/sheet", false},
	{app.SetupNest, "Its nest", "what is cut from it", "/setup/nest", false},
	{app.SetupCut, "Cut it", "signed at the laser", "/setup/make", false},
	{app.SetupBreakOut, "Break it out", "the parts on a pallet", "/setup/make", false},
	{app.SetupPrint, "Print the traveller", "the pallet's own ticket", "/setup/make", false},
}

func stepOf(is app.SetupStep) step {
	for _, s := range steps {
		if s.is == is {
			return s
		}
	}
	return step{}
}

// frame is what stands on every page of setting up.
type frame struct {
	head  ui.OfficeHead
	page  endpoint.Page
	setup app.Setup
	at    app.SetupStep // of this page; empty: the overview
	kept  string        // what the page before stored, in words
	slips app.Slips
}

func (p pages) frame(r *http.Request, at app.SetupStep) (frame, error) {
	page := endpoint.PageOf(r)
	setup, err := p.s.Setup(r.Context())
	if err != nil {
		return frame{}, err
	}
	f := frame{page: page, setup: setup, at: at, kept: keptWords[r.URL.Query().Get("kept")]}
	title := "Set the shop up"
	if at != "" {
		title = stepOf(at).name
	}
	f.head = ui.OfficeHead{Title: title, Shop: or(setup.Shop.Name, page.Shop), Person: page.Caller.Name,
		Nav: ui.OfficeNav("/office"), Demo: page.Demo, Scripts: []string{"setup.js"}}
	return f, nil
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// keptWords is what a page says of what the one before stored. The words are
// here and not in the address, which anybody could write.
var keptWords = map[string]string{
	"shop": "The shop's name is stored.", "stations": "The stations are stored.", "tablet": "This device is a tablet of the shop now.",
	"item": "The item and its route are stored.", "order": "The order is stored.", "sheet": "The sheet is received.", "nest": "The nest is stored.",
}

// wrong says how many fields want another look.
func (f frame) wrong() string {
	return ui.Count(len(f.slips), "thing wants", "things want") + " another look"
}

// beside are the columns whose slips a page shows beside their fields.
var beside = map[string][]string{
	"stations.csv": {"name"},
	"items.csv":    {"name", "item", "rev", "metal", "grade", "thickness_mm", "length_mm", "width_mm", "hand", "mass_kg", "max_bakes", "route"},
	"routes.csv":   {"step", "place"},
	"checks.csv":   {"step", "text", "nominal", "tolerance", "lower", "upper", "unit", "instrument", "source"},
	"sampling.csv": {"step", "up_to", "size", "accept"},
	"bills.csv":    {"component", "qty"},
	"finishes.csv": {"colour", "face"},
	"orders.csv":   {"order", "customer", "promised", "reference"},
	"lines.csv":    {"item", "rev", "qty"},
	"sheets.csv":   {"sheet", "heat", "slot", "certificate", "identified", "material"},
	"nests.csv":    {"nest", "qty", "item", "material"},
}

// apart are the slips that no field stands for: they are told at the top.
func (f frame) apart() app.Slips {
	return slices.DeleteFunc(slices.Clone(f.slips), func(s app.Slip) bool { return slices.Contains(beside[s.File], s.Field) })
}

// mayGo reports whether the person signed in may do a step.
func (f frame) mayGo(s step) bool { return !s.adminOnly || f.page.Caller.Is(core.Admin) }

// next is the first step left.
func (f frame) next() (step, bool) {
	is, left := f.setup.Next()
	return stepOf(is), left
}

// on goes to the next thing left, and says what was stored.
func (p pages) on(w http.ResponseWriter, r *http.Request, kept string) error {
	f, err := p.frame(r, "")
	if err != nil {
		return err
	}
	to := "/setup"
	if s, left := f.next(); left && f.mayGo(s) {
		to = s.href
	}
	return endpoint.SeeOther(w, r, to+"?kept="+url.QueryEscape(kept))
}

func (p pages) overview(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, "")
	if err != nil {
		return err
	}
	return endpoint.Render(w, r, overviewPage(f))
}

// statusOf is the status of a page that shows a form, again or for the first time.
func statusOf(s app.Slips) int {
	if len(s) > 0 {
		return http.StatusUnprocessableEntity
	}
	return http.StatusOK
}

// values reads fields of a form without the blanks around them.
func value(r *http.Request, name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
