package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"image"
	"image/jpeg"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/shopgen"
	"tagalong/internal/sign"
	"tagalong/web/screens"
	"tagalong/web/server"
)

// visit is a browser at the demo shop, an admin signed in, without a network.
type visit struct {
	b       *testing.B
	svc     *app.Service
	handler http.Handler
	jar     *cookiejar.Jar // of who asks: the desk or the bearer of a link
	desk    *cookiejar.Jar
	bearer  *cookiejar.Jar
	home    *url.URL
}

func newVisit(b *testing.B) *visit { return newVisitOn(b, pgtest.New(b)) }

func newVisitOn(b *testing.B, db *pgtest.DB) *visit {
	v := &visit{b: b, home: &url.URL{Scheme: "http", Host: "shop.example", Path: "/"}}
	v.handler, v.svc = demoHandler(b, db, time.Now(), nil)
	var err error
	v.jar, err = cookiejar.New(nil)
	must(b, err)
	v.desk = v.jar
	v.post("/demo/office", url.Values{"person": {"P01"}})
	return v
}

func (v *visit) ask(method, path, kind string, body io.Reader) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://"+v.home.Host+path, body)
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	for _, c := range v.jar.Cookies(v.home) {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	v.handler.ServeHTTP(w, r)
	v.jar.SetCookies(v.home, w.Result().Cookies())
	return w
}

func (v *visit) get(path string) *httptest.ResponseRecorder {
	return v.ask(http.MethodGet, path, "", nil)
}

// post sends a form, which is to lead on to another page.
func (v *visit) post(path string, form url.Values) {
	v.b.Helper()
	if w := v.ask(http.MethodPost, path, "application/x-www-form-urlencoded", strings.NewReader(form.Encode())); w.Code != http.StatusSeeOther {
		v.b.Fatalf("%s %v: %d %s", path, form, w.Code, w.Body)
	}
}

// theBearer is whoever has claimed a consignment's link.
const theBearer = "the bearer of a link"

// become makes the browser the tablet of a station, or a bearer's; of no
// station, what it was.
func (v *visit) become(station string) {
	if station == theBearer {
		v.jar = v.bearer
		return
	}
	v.jar = v.desk
	if station != "" { // else whatever tablet it was: the page is for who is signed in
		v.post("/demo/tablet", url.Values{"station": {station}})
	}
}

// link makes a consignment's link, which the bearer claims, and another that
// nobody has, whose address it returns.
func (v *visit) link(c core.ConsignmentCode) string {
	by := app.Caller{Person: "P01", Roles: []core.Role{core.Admin}}
	claimed, _, err := v.svc.MakeLink(v.b.Context(), by, c, "", "fitters")
	must(v.b, err)
	free, _, err := v.svc.MakeLink(v.b.Context(), by, c, "", "")
	must(v.b, err)
	v.bearer, err = cookiejar.New(nil)
	must(v.b, err)
	v.jar = v.bearer
	v.post("/L/"+claimed, nil)
	v.jar = v.desk
	return "/L/" + free
}

// upload sends every sample file to be looked at, waits until they are read,
// and returns the page that tells what they would change.
func (v *visit) upload() string {
	names, err := filepath.Glob("../../testdata/samples/*.csv")
	must(v.b, err)
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for _, n := range names {
		data, err := os.ReadFile(n)
		must(v.b, err)
		part, err := form.CreateFormFile("files", filepath.Base(n))
		must(v.b, err)
		_, err = part.Write(data)
		must(v.b, err)
	}
	must(v.b, form.Close())
	w := v.ask(http.MethodPost, "/import", form.FormDataContentType(), &body)
	at := w.Result().Header.Get("Location")
	if w.Code != http.StatusSeeOther || !strings.HasPrefix(at, "/import/") {
		v.b.Fatalf("upload %d files: %d %s", len(names), w.Code, w.Body)
	}
	for until := time.Now().Add(time.Minute); ; {
		if page := v.get(at).Body.String(); strings.Contains(page, "/files.zip") {
			return at
		} else if time.Now().After(until) {
			v.b.Fatalf("the samples are not read yet: %s", page)
		}
	}
}

// photo takes in a picture as large as tablets send, and returns its address.
func (v *visit) photo() string {
	picture := image.NewRGBA(image.Rect(0, 0, 1600, 1200))
	for i := range picture.Pix {
		picture.Pix[i] = byte(i * i >> 7)
	}
	var sent bytes.Buffer
	must(v.b, jpeg.Encode(&sent, picture, nil))
	var taken app.PhotoTaken
	w := v.ask(http.MethodPost, "/photos", "image/jpeg", &sent)
	if w.Code != http.StatusOK {
		v.b.Fatalf("take a photo in: %d %s", w.Code, w.Body)
	}
	must(v.b, json.Unmarshal(w.Body.Bytes(), &taken))
	return "/photos/" + taken.Hash
}

// paper is a pallet at a station that could be signed for from paper there.
func (v *visit) paper(cards []app.PalletCard) page {
	for _, c := range cards {
		if c.Station == "" || c.Bound != "" {
			continue
		}
		p := page{string(c.Station), "/station/paper/" + string(c.Code)}
		v.become(p.at)
		if v.get(p.path).Code == http.StatusOK {
			return p
		}
	}
	v.b.Fatal("no pallet of the demo shop waits for a step at its station")
	return page{}
}

// late is a unit at a weld bench that is to get a late component: one that
// quality sends over that rework.
func (v *visit) late(cards []app.PalletCard) page {
	for _, c := range cards {
		w, err := v.svc.World(v.b.Context(), core.Names{Pallets: []core.PalletCode{c.Code}}, "")
		must(v.b, err)
		at := core.StationID(cmp.Or(string(c.Bound), string(c.Station)))
		for _, l := range w.State.Lots {
			steps := w.Book.Routes[l.Route].Steps
			dress := slices.IndexFunc(steps, func(s core.Step) bool { return s.Stage == "weld-dress" })
			if l.Unit == "" || dress < 0 || at == "" || l.Place != core.On(c.Code) || l.Rework != nil || l.Started != nil {
				continue
			}
			v.become(string(at))
			if c.Bound != "" {
				v.do(core.TakeIn{Pallet: c.Code})
			}
			problem, ok := v.do(core.ReportProblem{Pallet: c.Code, Lot: l.ID, Qty: l.Qty, What: "stiffener of the wrong gauge", Stay: true}, "P18")
			if !ok {
				continue
			}
			v.do(core.Dispose{Problem: core.ProblemID(problem), Disposition: core.DisposeRework, Reason: "change the stiffener",
				Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: steps[dress].No}, "P03")
			for _, bench := range []string{"WELD-1", "WELD-2", "WELD-3", "WELD-4", "WELD-5", "WELD-6"} {
				p := page{bench, "/station/late/" + string(c.Code)}
				v.become(bench)
				v.do(core.TakeIn{Pallet: c.Code})
				if v.get(p.path).Code == http.StatusOK {
					return p
				}
			}
		}
	}
	v.b.Fatal("no unit of the demo shop could be sent for a late component")
	return page{}
}

// do sends a command as the tablet does, and returns what its event is about,
// unless it was refused.
func (v *visit) do(body core.Body, by ...core.PersonID) (ref string, done bool) {
	v.b.Helper()
	var roster []shopgen.Holder
	if len(by) > 0 {
		var err error
		roster, err = shopgen.Roster(v.b.Context(), v.svc)
		must(v.b, err)
	}
	text, err := json.Marshal(body)
	must(v.b, err)
	request := app.Request{ID: core.CommandID(uuid.NewString()), Happened: time.Now(), Body: text}
	for _, p := range by {
		i := slices.IndexFunc(roster, func(h shopgen.Holder) bool { return h.ID == p })
		request.Sign = append(request.Sign, app.Sign{Badge: roster[i].Badge, PIN: roster[i].PIN})
	}
	sent, err := json.Marshal(request)
	must(v.b, err)
	w := v.ask(http.MethodPost, "/api/commands/"+body.Kind(), "application/json", bytes.NewReader(sent))
	var answer app.Answer
	if w.Code != http.StatusOK || json.Unmarshal(w.Body.Bytes(), &answer) != nil || len(answer.Events) == 0 {
		v.b.Logf("%s: %d %s", body.Kind(), w.Code, w.Body)
		return "", false
	}
	return answer.Events[0].Ref, true
}

// demoHandler makes the demo shop as it is at now and serves it, without its
// people at work. It tells the time by clock, nil for the real one.
func demoHandler(t testing.TB, db *pgtest.DB, now time.Time, clock func() time.Time) (http.Handler, *app.Service) {
	story, err := shopgen.NewClock(now)
	must(t, err)
	key, err := sign.NewKey(slices.Repeat([]byte{7}, sign.KeyBytes))
	must(t, err)
	serve := func(o postgres.Options) (*app.Service, *postgres.Store) {
		store, err := postgres.Open(t.Context(), db.AppURL, o)
		must(t, err)
		svc, err := app.New(store, sign.NewKeyring(key))
		must(t, err)
		return svc, store
	}
	maker, store := serve(postgres.Options{Clock: story.Now, Random: shopgen.Random("codes"), MaxConns: 4})
	_, err = shopgen.Demo(t.Context(), maker, story)
	must(t, err)
	store.Close()
	svc, store := serve(postgres.Options{Clock: clock})
	t.Cleanup(store.Close)
	if clock != nil {
		svc.Clock = clock
	}
	site, err := server.New(server.Options{App: svc, Endpoints: screens.Endpoints(svc), Log: slog.New(slog.DiscardHandler)})
	must(t, err)
	return site.Handler(), svc
}
