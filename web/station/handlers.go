package station

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/sign"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type pages struct{ s *app.Service }

// onPage is how many pallets fit the resting page without scrolling.
const onPage = 5

func (p pages) rest(w http.ResponseWriter, r *http.Request) error {
	from, _ := strconv.Atoi(r.URL.Query().Get("from"))
	from = max(from, 0)
	st, err := p.s.StationPage(r.Context(), endpoint.CallerOf(r), app.Part{From: from, Most: onPage + 1})
	if err == nil && from > 0 && len(st.Here) == 0 { // the list has grown shorter
		from = 0
		st, err = p.s.StationPage(r.Context(), endpoint.CallerOf(r), app.Part{Most: onPage + 1})
	}
	if err != nil {
		return err
	}
	if st.Station.Site { // a fitting site receives consignments; it works on no pallets
		http.Redirect(w, r, "/site", http.StatusSeeOther)
		return nil
	}
	v := restView{head: headOf(r, st.Station, "At rest"), page: st, now: endpoint.PageOf(r).Now, from: from}
	// Whoever sets a new shop up does it all on one device, and finds back from here.
	if c := endpoint.CallerOf(r); c.Is(core.Admin, core.Manager) {
		setup, err := p.s.Setup(r.Context())
		if err != nil {
			return err
		}
		v.setupLeft = !setup.Finished()
	}
	return endpoint.Render(w, r, rest(v))
}

// scan reads what the scan field holds and goes to what it names. It is posted,
// so that no scanned secret ends up in an address or a log.
func (p pages) scan(w http.ResponseWriter, r *http.Request) error {
	if err := endpoint.Form(r); err != nil {
		return err
	}
	text := r.PostForm.Get("text")
	if sign.IsBadge(text) {
		return p.refuse(w, r, http.StatusUnprocessableEntity, words.Text{
			Title:  "That is a badge, and nothing here waits for a signature.",
			Remedy: "Scan a pallet first. The badge is asked for at the moment of signing.",
		})
	}
	scan, err := code.ParseScan(text)
	if err == nil && scan.Code.Kind() != code.Station {
		return endpoint.SeeOther(w, r, addressOf(scan))
	}
	place, found, wrong := p.s.ReadPlace(r.Context(), endpoint.CallerOf(r).Station, text)
	switch {
	case wrong != nil:
		return p.refuseSign(w, r, wrong)
	case found:
		return endpoint.SeeOther(w, r, placeAfter(r, place))
	case err == nil:
		return p.refuseSign(w, r, app.Refuse("sign-unknown", "sign", scan.Code.Spaced()))
	}
	return p.refuseCode(w, r, err)
}

// addressOf is the page of what a scan names.
func addressOf(s code.Scan) string {
	switch s.Code.Kind() {
	case code.Unit:
		return "/station/units?unit=" + string(s.Code)
	case code.Consignment:
		return "/dock?truck=" + string(s.Code)
	}
	a := "/station/pallets/" + string(s.Code)
	if s.Print > 0 {
		a += "?print=" + strconv.Itoa(s.Print)
	}
	return a
}

// printed is where the addresses in QR symbols lead: a tablet to its own page,
// a person at a desk to what can be found of the code.
func (p pages) printed(w http.ResponseWriter, r *http.Request) error {
	scan, err := code.ParseScan(r.URL.Path)
	if err != nil {
		return p.refuseCode(w, r, err)
	}
	switch by := endpoint.CallerOf(r); {
	case by.OnTablet():
		return endpoint.SeeOther(w, r, addressOf(scan))
	case by.Bears(): // the label of a box, read by a phone's own camera
		return endpoint.SeeOther(w, r, "/site/mine?box="+url.QueryEscape(string(scan.Code)))
	}
	return endpoint.SeeOther(w, r, "/find?q="+url.QueryEscape(string(scan.Code)))
}

func (p pages) pallet(w http.ResponseWriter, r *http.Request) error {
	v, found, err := p.scanned(w, r)
	if !found {
		return err
	}
	if v.to.ID != "" && v.pallet.Here {
		if v.stop, err = p.s.HandOver(r.Context(), endpoint.CallerOf(r), v.pallet.Pallet.Code, v.to.ID); err != nil {
			return err
		}
	}
	if t, ok := v.pallet.Task(""); ok && v.pallet.Here && t.Stage.Name == "separate" && v.to.ID == "" {
		return endpoint.SeeOther(w, r, "/separate/"+v.code())
	}
	if v.state() == isWork && v.task.Stage.Name == "join-late" {
		return endpoint.SeeOther(w, r, v.lateLink(v.task.Lots[0].Lot.ID))
	}
	return endpoint.Render(w, r, palletPage(v))
}

// carrierAsked is the carrier that an address names, of one of some kinds, and
// the number of the print that was scanned; 0: none is named.
func carrierAsked(r *http.Request, kinds ...code.Kind) (code.Scan, int, error) {
	scan, err := code.ParseScan(chi.URLParam(r, "code"))
	if err == nil {
		err = scan.Code.Require(kinds...)
	}
	print, _ := strconv.Atoi(r.URL.Query().Get("print"))
	return scan, max(print, 0), err
}

// carrierPage answers for a page about a carrier: read reads what the page
// shows, for the caller, of the carrier that the address names, one of some kinds,
// by the print that was scanned. Where it is app.ErrNotFound none says why. Given
// back are the station's lists that stand beside it; without them (shown is
// false) another page was shown in its place, or err says what failed.
func (p pages) carrierPage(w http.ResponseWriter, r *http.Request, read func(c app.Caller, pallet core.PalletCode, print int) error,
	none func(pallet string) words.Text, kinds ...code.Kind) (st app.StationPage, shown bool, err error) {
	scan, print, err := carrierAsked(r, kinds...)
	if err != nil {
		return st, false, p.refuseCode(w, r, err)
	}
	caller, pallet := endpoint.CallerOf(r), core.PalletCode(scan.Code)
	switch err := read(caller, pallet, print); {
	case errors.Is(err, app.ErrNotFound):
		return st, false, p.refuse(w, r, http.StatusNotFound, none(scan.Code.Spaced()))
	case err != nil:
		return st, false, err
	}
	st, err = p.s.StationPage(r.Context(), caller, beside(pallet))
	return st, err == nil, err
}

// scanned reads the pallet or sheet that an address names, as it stands at the
// caller's station. Where there is none it was told so already.
func (p pages) scanned(w http.ResponseWriter, r *http.Request) (v palletView, found bool, err error) {
	var pallet app.PalletPage
	st, found, err := p.carrierPage(w, r, func(c app.Caller, code core.PalletCode, print int) (err error) {
		pallet, err = p.s.PalletPage(r.Context(), c, code, print, abrasiveOf(r.URL.Query().Get("abrasive")))
		return err
	}, func(pallet string) words.Text {
		return words.Refusal("pallet-unknown", map[string]string{"pallet": pallet})
	}, code.Pallet, code.Sheet)
	if !found {
		return v, false, err
	}
	return newPalletView(r, st, pallet), true, nil
}

func (p pages) unit(w http.ResponseWriter, r *http.Request) error {
	key := r.URL.Query().Get("unit")
	caller := endpoint.CallerOf(r)
	st, err := p.s.StationPage(r.Context(), caller, beside(""))
	if err != nil {
		return err
	}
	if key == "" {
		return p.units(w, r, st)
	}
	unit, err := p.s.BuildPage(r.Context(), caller, key)
	if errors.Is(err, app.ErrNotFound) {
		return p.refuse(w, r, http.StatusNotFound, words.Text{
			Title:  "That unit is not to be built at this station now.",
			Why:    "It may be built already, or none of its parts are here.",
			Remedy: "Go back and pick a unit from the list.",
		})
	}
	if err != nil {
		return err
	}
	lines, _ := strconv.Atoi(r.URL.Query().Get("lines"))
	return endpoint.Render(w, r, unitPage(unitView{
		head: headOf(r, st.Station, unit.Name, "station.js"), page: st, unit: unit, now: endpoint.PageOf(r).Now, lines: max(lines, 0),
	}))
}

// refuse shows a refusal in the place of a page.
func (p pages) refuse(w http.ResponseWriter, r *http.Request, status int, t words.Text) error {
	st, err := p.s.StationPage(r.Context(), endpoint.CallerOf(r), beside(""))
	if err != nil {
		return err
	}
	back := ui.Link{Text: "Back to the station", Href: "/station"}
	pallet, print := palletBefore(r)
	if pallet != "" {
		back = ui.Link{Text: "Back to " + pallet.Spaced(), Href: addressOf(code.Scan{Code: pallet, Print: print})}
	}
	return endpoint.RenderStatus(w, r, status, refusedPage(headOf(r, st.Station, "Refused"), ui.Refusal{
		Title: t.Title, Why: t.Why, Remedy: t.Remedy, Who: t.Who, Back: back,
	}, string(pallet), print))
}

// refuseCode shows why a text is not a code of ours.
func (p pages) refuseCode(w http.ResponseWriter, r *http.Request, err error) error {
	_, refused := app.ReadCode(r.PostForm.Get("text"))
	if _, bad := errors.AsType[*code.Error](err); !bad {
		return err
	}
	t := words.Text{Title: "That can't be read as one of our codes.", Remedy: err.Error()}
	if x, ok := errors.AsType[*app.Refused](refused); ok && words.Has(x.Refusal.Code) {
		t = words.Refusal(x.Refusal.Code, x.Refusal.Params)
	}
	return p.refuse(w, r, http.StatusUnprocessableEntity, t)
}

// headOf is the title block of a station's page.
func headOf(r *http.Request, st core.Station, title string, scripts ...string) ui.StationHead {
	page := endpoint.PageOf(r)
	h := ui.StationHead{Title: title, Station: ui.Capital(st.Name), Now: page.Now, Demo: page.Demo, Keeper: string(page.Caller.Tablet), Scripts: append([]string{"panels.js", "pad.js", "scan.js"}, scripts...)}
	h.Sub = st.Abrasive
	if st.Abrasive == "" && st.Metal != "" {
		h.Sub = string(st.Metal) + " only"
	}
	return h
}
