package setup

import (
	"net/http"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// makeView is the one thing to do now with the first sheet.
type makeView struct {
	frame
	title, why string
	move       core.Station // this device must stand there first; zero: it does
	href, act  string
}

func (p pages) showMake(w http.ResponseWriter, r *http.Request) error {
	f, err := p.frame(r, app.SetupCut)
	if err != nil {
		return err
	}
	next := app.SetupPrint
	switch {
	case f.setup.Done(app.SetupBreakOut):
	case f.setup.Sheet.Code == "":
		return endpoint.SeeOther(w, r, "/setup") // there is nothing to cut yet
	case f.setup.Sheet.Cut:
		next = app.SetupBreakOut
	default:
		next = app.SetupCut
	}
	f.at = next
	f.head.Title = stepOf(next).name
	return endpoint.Render(w, r, makePage(newMake(f)))
}

func newMake(f frame) makeView {
	v := makeView{frame: f}
	sheet := or(f.setup.Sheet.Label, ui.Spaced(string(f.setup.Sheet.Code)))
	pallet := "/station/pallets/" + string(f.setup.Sheet.Code)
	switch {
	case f.setup.Finished():
		v.title = "The first traveller is printed"
		v.why = "It goes with the pallet, and every station scans it."
		return v
	case f.at == app.SetupCut:
		v.title = "Cut sheet " + sheet
		v.why = "At the laser, take the sheet in; when it is cut, sign that it is, with badge and PIN. Then go on here, from the station's first page."
		v.move, v.href, v.act = v.mustStand("cut"), pallet, "Go to the sheet"
	case f.at == app.SetupBreakOut:
		v.title = "Break out sheet " + sheet
		v.why = "At the bench, take the sheet in, tick its parts off and put them on one pallet; sign with badge and PIN. The page after it prints the traveller."
		v.move, v.href, v.act = v.mustStand("separate"), pallet, "Go to the sheet"
	default:
		v.title = "Print the traveller of " + ui.Spaced(string(f.setup.Pallet))
		v.why = "Each print has a number, so that a ticket that is out of date is known by it."
		v.href, v.act = "/separate/printed?pallets="+string(f.setup.Pallet), "Go to the print"
		if !f.page.Caller.OnTablet() {
			v.move = v.mustStand("separate")
		}
	}
	return v
}

// mustStand is where this device has to stand for a stage; the zero Station
// where it stands right. The station that has the sheet goes first.
func (v makeView) mustStand(stage core.StageName) core.Station {
	all := v.setup.Book.Stations
	if all[v.page.Caller.Station].Does(stage) {
		return core.Station{}
	}
	if at := all[v.setup.At]; at.Does(stage) {
		return at
	}
	for _, st := range app.StationsOf(v.setup.Book) {
		if st.Does(stage) {
			return st
		}
	}
	return core.Station{}
}

// stands says where this device is.
func (v makeView) stands() string {
	if st, ok := v.setup.Book.Stations[v.page.Caller.Station]; ok {
		return "This device stands at the station “" + st.Name + "”."
	}
	return "This device is no station's tablet."
}
