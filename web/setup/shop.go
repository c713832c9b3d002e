package setup

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type shopForm struct {
	frame
	name, zone string
	refused    words.Text
}

func (p pages) showShop(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, app.SetupShop)
	if err != nil {
		return err
	}
	return endpoint.Render(w, r, shopPage(shopForm{frame: f, name: f.setup.Shop.Name, zone: f.setup.Shop.Zone}))
}

func (p pages) setShop(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, app.SetupShop)
	if err != nil {
		return err
	}
	if err := endpoint.Form(r); err != nil {
		return err
	}
	row := f.setup.Shop // keeps the address of printed codes
	row.Name, row.Zone = strings.Join(strings.Fields(value(r, "name")), " "), value(r, "zone")
	err = p.s.SetShop(r.Context(), f.page.Caller, row)
	if refused, ok := errors.AsType[*app.Refused](err); ok {
		return endpoint.RenderStatus(w, r, endpoint.StatusOf(refused.Refusal.Code), shopPage(shopForm{
			frame: f, name: row.Name, zone: row.Zone, refused: words.Refusal(refused.Refusal.Code, refused.Refusal.Params)}))
	}
	if err != nil {
		return err
	}
	return p.on(w, r, "shop")
}

// stationsForm is the page of stations: the counts first, then the names.
type stationsForm struct {
	frame
	counts   map[string]int
	metal    core.Metal
	named    bool // the counts are chosen: names come next
	stations []app.TypedStation
	fresh    int // how many of them are new, at the end
}

var metals = []core.Metal{core.Aluminium, core.Stainless, core.Steel}

// readCounts reads how many of each kind; false where the form was not sent.
func readCounts(get func(string) string) (counts map[string]int, sent bool) {
	counts = map[string]int{}
	for _, k := range app.StationKinds {
		n, err := strconv.Atoi(strings.TrimSpace(get(k.Key)))
		sent = sent || err == nil
		counts[k.Key] = min(max(n, 0), app.MostStations)
	}
	return counts, sent
}

func (p pages) showStations(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, app.SetupStations)
	if err != nil {
		return err
	}
	v := newStations(f, r.URL.Query().Get)
	if !v.named {
		for _, k := range app.StationKinds {
			if len(f.setup.Book.Stations) == 0 {
				v.counts[k.Key] = k.Usual
			}
		}
	}
	return endpoint.Render(w, r, stationsPage(v))
}

func newStations(f frame, get func(string) string) stationsForm {
	v := stationsForm{frame: f, metal: core.Metal(or(get("belts"), string(core.Aluminium)))}
	v.counts, v.named = readCounts(get)
	fresh := app.ProposeStations(f.setup.Book, v.counts, v.metal)
	for _, st := range append(app.StationsOf(f.setup.Book), fresh...) {
		v.stations = append(v.stations, app.NewTypedStation(st))
	}
	v.fresh = len(fresh)
	return v
}

func (p pages) setStations(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, app.SetupStations)
	if err != nil {
		return err
	}
	if err := endpoint.Form(r); err != nil {
		return err
	}
	v := newStations(f, r.PostForm.Get)
	v.named = true
	for i := range v.stations {
		st := &v.stations[i]
		if name, sent := r.PostForm["name."+string(st.ID)]; sent {
			st.Name = strings.Join(strings.Fields(name[0]), " ")
		}
		if metal := value(r, "metal."+string(st.ID)); metal != "" && st.Abrasive != "" {
			st.Metal = core.Metal(metal)
		}
		if km, sent := r.PostForm["km."+string(st.ID)]; sent && st.Site {
			st.Distance, st.Abroad = strings.TrimSpace(km[0]), value(r, "abroad."+string(st.ID)) != ""
		}
	}
	if v.slips, err = p.s.SetStations(r.Context(), f.page.Caller, v.stations); err != nil {
		return err
	}
	if len(v.slips) > 0 {
		return endpoint.RenderStatus(w, r, statusOf(v.slips), stationsPage(v))
	}
	return p.on(w, r, "stations")
}

// isFresh reports whether the station at i of the list is yet to be stored.
func (v stationsForm) isFresh(i int) bool { return i >= len(v.stations)-v.fresh }

// does says in words what a station does.
func (v stationsForm) does(st app.TypedStation) string {
	var out []string
	for _, n := range st.Stages {
		if stage, ok := v.setup.Book.Table.Stage(n); ok {
			out = append(out, stage.Title)
		}
	}
	if len(out) > 3 {
		out = append(out[:3], strconv.Itoa(len(out)-3)+" more")
	}
	return strings.ToLower(strings.Join(out, ", "))
}

// hasSites reports whether some station of the list is a fitting site.
func (v stationsForm) hasSites() bool {
	return slices.ContainsFunc(v.stations, func(st app.TypedStation) bool { return st.Site })
}

// asksOf is what the way to a site, as it is stored, asks a load of coated parts
// to be packed in.
func asksOf(st app.TypedStation) string {
	b := &core.Book{Stations: map[core.StationID]core.Station{st.ID: st.Station}}
	j := core.JourneyOf(b, core.Order{Site: string(st.ID)})
	if j.Haul == core.NoHaul {
		return "Nothing is asked until the distance is known."
	}
	var out []core.Packing
	for _, p := range core.Packings() {
		if j.Haul >= p.From && (j.Abroad || !p.Abroad) {
			out = append(out, p)
		}
	}
	return ui.Capital(j.Text()) + ": " + core.PackingText(out)
}
