package main

import (
	"cmp"
	"net/http"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/server"
)

// BenchmarkDemoPages asks a demo shop of three weeks for every page, in the
// process itself, and reports the 95th percentile of each beside the mean. A
// page is to take 50 ms at most.
func BenchmarkDemoPages(b *testing.B) {
	v := newVisit(b)
	paths := v.pathsOf()
	for _, e := range table() {
		if e.Method != http.MethodGet || e.Stream || strings.HasPrefix(e.Path, "/assets/") || e.Path == server.AuthorityPath {
			continue // no page, or one that only a shop with its own authority has
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
			v.become(path.at)
			var took []time.Duration
			spent := spentCPU(b)
			for b.Loop() {
				began := time.Now()
				w := v.get(path.path)
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

// page is an address and the station at whose tablet it is asked for.
type page struct{ at, path string }

// pathsOf says what the endpoints that name something are asked for: the
// fullest pallet, the longest history, every sample file.
func (v *visit) pathsOf() map[string]page {
	b, svc := v.b, v.svc
	cards, err := svc.Store.Pallets(b.Context(), 500)
	must(b, err)
	// One on its way is at no station whose tablet could ask for it.
	most := func(kind core.CarrierKind) app.PalletCard {
		asked := func(c app.PalletCard) int {
			switch {
			case c.Kind != kind:
				return -1
			case c.Station == "":
				return 0
			}
			return 1 + c.Lots
		}
		return slices.MaxFunc(cards, func(x, y app.PalletCard) int { return cmp.Compare(asked(x), asked(y)) })
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
	upload, photo, link, late := v.upload(), v.photo(), v.link(trucks[0].Code), v.late(cards)
	return map[string]page{
		"/api/pallets/{code}":            {at, "/api/pallets/" + code},
		"/api/history/{code}":            {at, "/api/history/O-4101"},
		"/api/find":                      {at, "/api/find?q=O-4101"},
		"/station":                       {"DOCK-1", "/station"},
		"/station/pallets/{code}":        {at, "/station/pallets/" + code},
		"/station/late/{code}":           late,
		"/station/apart/{code}":          {late.at, strings.Replace(late.path, "/late/", "/apart/", 1)},
		"/station/paper/{code}":          v.paper(cards),
		"/import/{upload}":               {at, upload},
		"/import/{upload}/state":         {at, upload + "/state"},
		"/import/{upload}/files.zip":     {at, upload + "/files.zip"},
		"/L/{token}":                     {theBearer, link},
		"/site/mine":                     {theBearer, "/site/mine"},
		"/site/mine/snags":               {theBearer, "/site/mine/snags"},
		"/dock/{code}/links":             {"DOCK-1", "/dock/" + string(trucks[0].Code) + "/links"},
		"/site/order/{no}/snags":         {"DOCK-1", "/site/order/O-4101/snags"},
		"/site/snags/{code}":             {"DOCK-1", "/site/snags/" + string(trucks[0].Code)},
		"/photos/{hash}":                 {at, photo},
		"/photos/{hash}/thumb":           {at, photo + "/thumb"},
		"/photos/{hash}/ringed/{box}":    {at, photo + "/ringed/20,30,25,10"},
		"/station/place":                 {at, "/station/place?of=STORE-1"},
		"/stations/{station}":            {"", "/stations/STORE-1"},
		"/station/units":                 {"WELD-2", "/station/units?unit=" + string(builds[0].Code)},
		"/station/goods":                 {"GOODS-1", "/station/goods"},
		"/P/{code}":                      {at, "/P/" + code},
		"/T/{station}":                   {at, "/T/WELD-1"},
		"/T/{station}/{slot}":            {at, "/T/STORE-1/C4"},
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
		"/pallets/travellers.html":       {at, "/pallets/travellers.html?pallets=" + code},
		"/pallets/travellers.pdf":        {at, "/pallets/travellers.pdf?pallets=" + code},
		"/station/lend/{code}":           {at, "/station/lend/" + code},
		"/station/prints":                {at, "/station/prints?pallets=" + code},
		"/orders/{no}/labels.pdf":        {"DOCK-1", "/orders/" + v.packed() + "/labels.pdf"},
		"/orders/{no}/travellers":        {at, "/orders/O-4101/travellers"},
		"/orders/{no}/travellers.pdf":    {at, "/orders/O-4101/travellers.pdf"},
		"/dock/{code}/labels.pdf":        {"DOCK-1", "/dock/" + string(trucks[0].Code) + "/labels.pdf"},
		"/signs/slots.pdf":               {at, "/signs/slots.pdf?slots=A1-A24"},
		"/people/{id}":                   {at, "/people/P01"},
	}
}

// packed is the order with the most packed carriers that have not left.
func (v *visit) packed() string {
	v.b.Helper()
	cards, err := v.svc.Store.Docket(v.b.Context(), 500)
	must(v.b, err)
	no, most := "", 0
	for _, c := range cards {
		o, err := v.svc.DockOrder(v.b.Context(), c.No)
		must(v.b, err)
		if n := len(o.Ready) + len(o.Loaded); n > most {
			no, most = c.No, n
		}
	}
	if no == "" {
		v.b.Fatal("no order is packed")
	}
	return no
}
