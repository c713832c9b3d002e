package station

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// placeAfter is where a sign leads that was scanned on the page the request
// came from: after a pallet, a slot of this store takes it in there, and
// another station's sign offers to hand it over to that station. At rest a sign
// says what it is and what stands there.
func placeAfter(r *http.Request, p app.Place) string {
	pallet, print := palletBefore(r)
	here := p.Station.ID == endpoint.CallerOf(r).Station
	if pallet == "" || here && p.Slot == "" {
		return placeLink(p, core.PalletCode(pallet))
	}
	q := url.Values{}
	if print > 0 {
		q.Set("print", strconv.Itoa(print))
	}
	if here {
		q.Set("slot", p.Slot)
	} else {
		q.Set("to", string(p.Station.ID))
	}
	return "/station/pallets/" + string(pallet) + "?" + q.Encode()
}

// palletBefore is the pallet on whose page something was scanned, with the print
// in hand; empty where it was none.
func palletBefore(r *http.Request) (code.Code, int) {
	c, err := code.Parse(r.PostForm.Get("pallet"))
	if err != nil || c.Require(code.Pallet, code.Sheet) != nil {
		return "", 0
	}
	print, _ := strconv.Atoi(r.PostForm.Get("print"))
	return c, max(print, 0)
}

func placeLink(p app.Place, pallet core.PalletCode) string {
	q := url.Values{"of": {string(p.Station.ID)}}
	if p.Slot != "" {
		q.Set("slot", p.Slot)
	}
	if pallet != "" {
		q.Set("pallet", string(pallet))
	}
	return "/station/place?" + q.Encode()
}

// placeView is what a sign says on a tablet.
type placeView struct {
	head  ui.StationHead
	place app.PlacePage
	at    core.Station    // the tablet's
	after core.PalletCode // the pallet whose page the sign was scanned on
	rest  restView        // for its lists
}

func (v placeView) here() bool { return v.place.Station.ID == v.at.ID }

// onSign is how many pallets fit the page of a sign.
const onSign = 4

func (v placeView) listed() []app.PalletCard {
	return v.place.Here[:min(onSign, len(v.place.Here))]
}

func (p pages) place(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	place, err := p.s.PlacePage(r.Context(), core.StationID(q.Get("of")), q.Get("slot"))
	if errors.Is(err, app.ErrNotFound) {
		return p.refuseSign(w, r, app.Refuse("sign-unknown", "sign", app.Shorten(q.Get("of"), 40)))
	}
	if err != nil {
		return err
	}
	at := place.Book.Stations[endpoint.CallerOf(r).Station]
	v := placeView{head: headOf(r, at, "Sign"), place: place, at: at}
	v.rest = restView{page: app.StationPage{Station: place.Station, Book: place.Book}, now: endpoint.PageOf(r).Now}
	if after, err := code.Parse(q.Get("pallet")); err == nil {
		v.after = core.PalletCode(after)
	}
	return endpoint.Render(w, r, placePage(v))
}

// signed is where the address in a sign's QR symbol leads: a tablet to what the
// sign says, a person at a desk or with a phone to what stands there.
func (p pages) signed(w http.ResponseWriter, r *http.Request) error {
	caller := endpoint.CallerOf(r)
	place, found, err := p.s.ReadPlace(r.Context(), caller.Station, r.URL.EscapedPath())
	if err == nil && !found {
		err = app.Refuse("sign-unknown", "sign", app.Shorten(r.URL.Path, 40))
	}
	if caller.OnTablet() {
		if err != nil {
			return p.refuseSign(w, r, err)
		}
		return endpoint.SeeOther(w, r, placeLink(place, ""))
	}
	if err != nil {
		return err
	}
	link := "/stations/" + url.PathEscape(string(place.Station.ID))
	if place.Slot != "" {
		link += "?slot=" + url.QueryEscape(place.Slot)
	}
	return endpoint.SeeOther(w, r, link)
}

// refuseSign shows why a sign leads nowhere.
func (p pages) refuseSign(w http.ResponseWriter, r *http.Request, err error) error {
	refused, ok := errors.AsType[*app.Refused](err)
	if !ok {
		return err
	}
	return p.refuse(w, r, http.StatusUnprocessableEntity, words.Refusal(refused.Refusal.Code, refused.Refusal.Params))
}

// standing lists what stands at a station, for people signed in and for phones.
func (p pages) standing(w http.ResponseWriter, r *http.Request) error {
	id, err := url.PathUnescape(chi.URLParam(r, "station"))
	if err != nil {
		return app.ErrNotFound
	}
	place, err := p.s.PlacePage(r.Context(), core.StationID(id), r.URL.Query().Get("slot"))
	if err != nil {
		return err
	}
	page := endpoint.PageOf(r)
	return endpoint.Render(w, r, standingPage(standingView{
		head:  ui.OfficeHead{Title: ui.Capital(strings.TrimPrefix(place.Named(), "the ")), Shop: page.Shop, Person: page.Caller.Name, Demo: page.Demo, Nav: ui.OfficeNav("")},
		place: place, now: page.Now,
	}))
}

// title says what the sign stands for.
func (v placeView) title() string {
	return "This is " + v.place.Named() + "."
}

// says is what the sign means on this tablet.
func (v placeView) says() string {
	switch {
	case v.place.Slot != "" && v.here():
		return "Scan a pallet, then this sign, to put it here."
	case v.here():
		return "This is the place: the tablet belongs here."
	}
	return "This tablet belongs to " + app.Place{Station: v.at}.Named() + ". Scan a pallet, then this sign, to hand it over to " + app.Place{Station: v.place.Station}.Named() + "."
}

func (v placeView) listTitle() string {
	switch n := len(v.place.Here); {
	case n == 0 && v.place.Slot != "":
		return "Nothing stands in it."
	case n == 0:
		return "Nothing stands there."
	case n > 1:
		return "There, oldest promise first"
	}
	return "There"
}

func (v standingView) summary() string {
	out := ui.Count(len(v.place.Here), "pallet") + " here"
	if v.place.Slot == "" {
		out += ", " + strconv.Itoa(len(v.place.Coming)) + " on the way"
	}
	return out + ", as of " + v.now.Format("15:04") + "."
}

func (v standingView) nothing() string {
	if v.place.Slot != "" {
		return "Nothing stands in this slot."
	}
	return "Nothing is here, and nothing is on its way."
}
