package main

import (
	"cmp"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/shopgen"
	"tagalong/internal/sign"
	"tagalong/web/screens"
	"tagalong/web/server"
)

// BenchmarkDemoPages asks a demo shop of three weeks for every page, in the
// process itself, and reports the 95th percentile of each beside the mean. A
// page is to take 50 ms at most.
func BenchmarkDemoPages(b *testing.B) {
	handler, svc := demoHandler(b, time.Now(), nil)
	jar, err := cookiejar.New(nil)
	must(b, err)
	home := &url.URL{Scheme: "http", Host: "shop.example", Path: "/"}
	ask := func(method, path string, form url.Values) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, home.String()[:len(home.String())-1]+path, strings.NewReader(form.Encode()))
		if method == http.MethodPost {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		for _, c := range jar.Cookies(home) {
			r.AddCookie(c)
		}
		w := httptest.NewRecorder()
		handler.ServeHTTP(w, r)
		jar.SetCookies(home, w.Result().Cookies())
		return w
	}
	become := func(station string) {
		if w := ask(http.MethodPost, "/demo/tablet", url.Values{"station": {station}}); w.Code != http.StatusSeeOther {
			b.Fatalf("become %s: %d %s", station, w.Code, w.Body)
		}
	}
	if w := ask(http.MethodPost, "/demo/office", url.Values{"person": {"P01"}}); w.Code != http.StatusSeeOther {
		b.Fatalf("sign in: %d %s", w.Code, w.Body)
	}
	paths := pathsOf(b, svc)
	for _, e := range table() {
		if e.Method != http.MethodGet || e.Stream || strings.HasPrefix(e.Path, "/assets/") || unasked[e.Path] {
			continue
		}
		path, known := paths[e.Path]
		if !known {
			path = page{at: "DOCK-1", path: e.Path}
		}
		if strings.Contains(path.path, "{") {
			b.Errorf("nobody says what %s is to be asked for", e.Path)
			continue
		}
		b.Run("GET"+strings.ReplaceAll(e.Path, "/", "_"), func(b *testing.B) {
			become(path.at)
			var took []time.Duration
			spent := spentCPU(b)
			for b.Loop() {
				began := time.Now()
				w := ask(http.MethodGet, path.path, nil)
				took = append(took, time.Since(began))
				if w.Code >= 400 {
					b.Fatalf("%s: %d %s", path.path, w.Code, w.Body)
				}
			}
			spent = spentCPU(b) - spent
			slices.Sort(took)
			b.ReportMetric(float64(spent.Microseconds())/1000/float64(len(took)), "cpu-ms")
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}

// spentCPU is the processor time this process has used, the database's not
// counted: on a machine that others use too it says more than the clock.
func spentCPU(b *testing.B) time.Duration {
	var u syscall.Rusage
	must(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// unasked are endpoints that answer only to what a demo shop has none of: an
// upload that is being looked at, a photo, a sign of a station, a component that comes
// late.
var unasked = map[string]bool{"/import/{upload}": true, "/import/{upload}/files.zip": true, "/import/{upload}/state": true,
	"/photos/{hash}": true, "/photos/{hash}/thumb": true,
	"/T/{code}": true, "/station/late/{code}": true}

// page is an address and the station at whose tablet it is asked for.
type page struct{ at, path string }

// pathsOf says what the endpoints that name something are asked for: the
// fullest pallet, the longest history.
func pathsOf(b *testing.B, svc *app.Service) map[string]page {
	cards, err := svc.Store.Pallets(b.Context(), 500)
	must(b, err)
	most := func(kind core.CarrierKind) app.PalletCard {
		return slices.MaxFunc(cards, func(x, y app.PalletCard) int {
			if (x.Kind == kind) != (y.Kind == kind) {
				return map[bool]int{true: 1, false: -1}[x.Kind == kind]
			}
			return cmp.Compare(x.Lots, y.Lots)
		})
	}
	pallet, sheet := most(core.PalletCarrier), most(core.SheetCarrier)
	builds, err := svc.Store.OpenBuilds(b.Context(), "WELD-2")
	must(b, err)
	trucks, err := svc.Store.Consignments(b.Context(), 1)
	must(b, err)
	order, err := svc.Store.LoadOrder(b.Context(), "O-4101")
	must(b, err)
	lot := ""
	for id := range order.State.Lots {
		lot = max(lot, string(id))
	}
	at, code := string(pallet.Station), string(pallet.Code)
	return map[string]page{
		"/api/pallets/{code}":            {at, "/api/pallets/" + code},
		"/api/history/{code}":            {at, "/api/history/O-4101"},
		"/api/find":                      {at, "/api/find?q=O-4101"},
		"/station":                       {"DOCK-1", "/station"},
		"/station/pallets/{code}":        {at, "/station/pallets/" + code},
		"/station/units":                 {"WELD-2", "/station/units?unit=" + string(builds[0].Code)},
		"/station/goods":                 {"GOODS-1", "/station/goods"},
		"/P/{code}":                      {at, "/P/" + code},
		"/P/{code}/{print}":              {at, "/P/" + code + "/1"},
		"/S/{code}":                      {"GOODS-1", "/S/" + string(sheet.Code)},
		"/S/{code}/{print}":              {"GOODS-1", "/S/" + string(sheet.Code) + "/1"},
		"/U/{code}":                      {"WELD-2", "/U/" + string(builds[0].Code)},
		"/C/{code}":                      {"DOCK-1", "/C/" + string(trucks[0].Code)},
		"/find":                          {"DOCK-1", "/find?q=O-4101"},
		"/history/{code}":                {at, "/history/" + code},
		"/history/lot/{command}/{n}":     {at, "/history/lot/" + strings.TrimPrefix(lot, "L-")},
		"/history/order/{no}":            {at, "/history/order/O-4101"},
		"/separate":                      {"BENCH-1", "/separate"},
		"/separate/{sheet}":              {"BENCH-1", "/separate/" + string(sheet.Code)},
		"/separate/printed":              {"BENCH-1", "/separate/printed?pallet=" + code},
		"/dock/{code}/packing-list.pdf":  {"DOCK-1", "/dock/" + string(trucks[0].Code) + "/packing-list.pdf"},
		"/site":                          {"SITE-LARKFIELD", "/site"},
		"/pallets/{code}/traveller":      {at, "/pallets/" + code + "/traveller"},
		"/pallets/{code}/traveller.html": {at, "/pallets/" + code + "/traveller.html"},
		"/pallets/{code}/traveller.pdf":  {at, "/pallets/" + code + "/traveller.pdf"},
		"/pallets/{code}/container.pdf":  {at, "/pallets/" + code + "/container.pdf"},
		"/orders/{no}/travellers":        {at, "/orders/O-4101/travellers"},
		"/orders/{no}/travellers.pdf":    {at, "/orders/O-4101/travellers.pdf"},
		"/dock/{code}/labels.pdf":        {"DOCK-1", "/dock/" + string(trucks[0].Code) + "/labels.pdf"},
		"/signs/slots.pdf":               {at, "/signs/slots.pdf?slots=A1-A24"},
		"/people/{id}":                   {at, "/people/P01"},
	}
}

// demoHandler makes the demo shop as it is at now and serves it, without its
// people at work. It tells the time by clock, nil for the real one.
func demoHandler(t testing.TB, now time.Time, clock func() time.Time) (http.Handler, *app.Service) {
	db := pgtest.New(t)
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
