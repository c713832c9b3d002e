package history_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/history"
	"tagalong/web/webtest"
)

var caller = app.Caller{Person: "P03", Name: "Ilse Marrable", Roles: []core.Role{core.Quality}}

// pallet is a valid code, made from fixed bytes.
func pallet(t *testing.T) core.PalletCode {
	c, err := code.New(code.Pallet, strings.NewReader(strings.Repeat("Tagalong", 20)))
	if err != nil {
		t.Fatal(err)
	}
	return core.PalletCode(c)
}

// store tells of one pallet of wall panels, with a reading, a correction and a
// refusal.
func store(t *testing.T) (*apptest.Store, core.PalletCode) {
	f, p := apptest.New(t), pallet(t)
	f.Pallet(p, "COAT-TABLE-1")
	owner := core.Owner{Order: "O-4105", Line: 1}
	id := f.Lot(p, "WP-2400", owner, 2, "pack")
	f.ChangeLot(id, func(l *core.Lot) {
		l.Heats, l.Sheets, l.Nest, l.Batches = []string{"H-55210"}, []string{"SH-118"}, "N-7005", []string{"PW-2291"}
	})
	lots := []core.LotCount{{Lot: id, Item: f.Item("WP-2400"), Owner: owner, Good: 2}}
	mean, low := 62.4, 41.0
	at := func(h, m int) time.Time { return time.Date(2026, 11, 24, h, m, 9, 0, time.UTC) }
	sign := func(p core.PersonID, m core.Meaning) []core.Signature {
		return []core.Signature{{Person: p, Meaning: m, PrintSeen: 1}}
	}
	events := []core.Event{
		{ID: "E1", Kind: core.EvAssembled, Stage: "weld", Step: 10, Ref: "U4K7M2QX", Station: "WELD-2", Lots: lots, Pallets: []core.PalletCode{p}, Happened: at(7, 31), Signed: sign("P12", core.MeantMade), Inputs: []core.Batch{{Kind: "filler", Batch: "5356-118"}}},
		{ID: "E2", Kind: core.EvPrinted, Note: "1", Station: "WELD-2", Pallets: []core.PalletCode{p}, Happened: at(7, 33), Signed: sign("P12", core.MeantMade)},
		{ID: "E3", Kind: core.EvSigned, Stage: "weld-inspect", Step: 30, Station: "INSPECT-1", Lots: lots, Pallets: []core.PalletCode{p}, Happened: at(9, 2), Signed: sign("P18", core.MeantReleased)},
		{ID: "E4", Kind: core.EvSigned, Stage: "fold", Step: 40, Station: "BRAKE-1", Lots: lots, Happened: at(9, 40), Signed: sign("P12", core.MeantMade)},
		{ID: "E5", Kind: core.EvCorrected, Corrects: "E4", Lots: lots, Note: "=wrong pallet scanned", Happened: at(9, 44), Signed: sign("P03", core.MeantApproved)},
		{ID: "E6", Kind: core.EvSigned, Stage: "coat-inspect", Step: 140, Station: "COAT-TABLE-1", Lots: lots, Pallets: []core.PalletCode{p}, Happened: at(15, 12), Signed: sign("P19", core.MeantInspected),
			Inputs: []core.Batch{{Kind: "powder", Batch: "PW-2291", Colour: "basalt"}},
			Checks: []core.Reading{
				{Lot: id, Characteristic: "film-outside", Met: true, Value: &mean, Unit: "µm", Instrument: "TG-2"},
				{Lot: id, Characteristic: "film-inside", Met: false, Value: &low, Unit: "µm", Instrument: "TG-2"},
				{Lot: id, Characteristic: "cover", Met: true}}},
	}
	s := &apptest.Store{Floor: f}
	for i, e := range events {
		r := app.Recorded{Seq: int64(100 + i), Recorded: e.Happened.Add(time.Second), Command: "c", Event: e}
		if e.ID == "E6" {
			r.Device.Offline, r.Recorded = true, e.Happened.Add(26*time.Minute)
		}
		s.Events = append(s.Events, r)
	}
	s.Said = []app.RefusalRow{{At: at(8, 50), Command: "r1", Kind: "sign-off", Station: "BOOTH-1", Person: "P21",
		Refusal: core.Refusal{Code: "hold-point", Params: map[string]string{"pallet": string(p)}, Lots: []core.LotID{id}}}}
	return s, p
}

func TestHistoryPage(t *testing.T) {
	s, p := store(t)
	site := webtest.Serve(t, caller, apptest.Now, history.Endpoints(s.Service(t))...)
	status, text, _ := site.Get(t, "/history/"+strings.ToLower(string(p)))
	for _, want := range []string{
		"Inspected the coat of 2 wall panels 2400.", "Rafe Tolliver, released", "film-inside: 41 µm not met, gauge TG-2", "powder PW-2291 (basalt)",
		"Taken back", "Refused", "/pallets/" + string(p) + "/traveller.html?back=%2Fhistory%2F", "H-55210", "N-7005", "recorded out of touch", "15:12, recorded 15:38:09", "Tuesday 24 November 2026",
		`data-command="correct"`, `value="E3"`, `data-sign="2"`, "6 entries and 1 refusal",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if status != 200 || strings.Contains(text, `name="event" value="E4"`) {
		t.Errorf("status %d, or what was taken back may be taken back again", status)
	}
	for path, want := range map[string]int{
		"/history/not-a-code": 404, "/history/order/O-4105": 200, "/history/lot/8f14e45f-ceea-467f-8a6c-0d1d2b3c4d5e/1": 200, "/history/" + string(p) + ".json": 200,
	} {
		if status, _, _ := site.Get(t, path); status != want {
			t.Errorf("%s: status %d, want %d", path, status, want)
		}
	}
}

// TestHistoryPageShowsTheLatest: a page of many events shows the latest, and all
// of them where it is asked; a file has all of them.
func TestHistoryPageShowsTheLatest(t *testing.T) {
	s, p := store(t)
	for i := range 120 {
		e := core.Event{ID: core.EventID(fmt.Sprintf("N%d", i)), Kind: core.EvPrinted, Note: strconv.Itoa(i + 2), Pallets: []core.PalletCode{p},
			Happened: time.Date(2026, 11, 25, 6, 0, i, 0, time.UTC)}
		s.Events = append(s.Events, app.Recorded{Seq: int64(200 + i), Recorded: e.Happened, Command: "c", Event: e})
	}
	site := webtest.Serve(t, caller, apptest.Now, history.Endpoints(s.Service(t))...)
	path := "/history/" + string(p)
	_, text, _ := site.Get(t, path)
	if !strings.Contains(text, "the latest 100 entries") || !strings.Contains(text, path+"?all=1") || strings.Contains(text, "Inspected the coat") {
		t.Errorf("the page of 126 events:\n%s", text)
	}
	for _, all := range []string{path + "?all=1", path + ".json"} {
		if _, text, _ := site.Get(t, all); !strings.Contains(text, "Inspected the coat") || strings.Contains(text, "the latest 100") {
			t.Errorf("%s doesn't tell all", all)
		}
	}
}

// TestHistoryPageShowsTheLatestRefusals: so it does where refusals are many.
func TestHistoryPageShowsTheLatestRefusals(t *testing.T) {
	s, p := store(t)
	for i := range 120 {
		s.Said = append(s.Said, app.RefusalRow{At: apptest.Now.Add(time.Duration(i) * time.Second), Command: core.CommandID(fmt.Sprintf("n%d", i)),
			Refusal: core.Refusal{Code: "hold-point", Params: map[string]string{"pallet": string(p)}}})
	}
	site := webtest.Serve(t, caller, apptest.Now, history.Endpoints(s.Service(t))...)
	path := "/history/" + string(p)
	_, text, _ := site.Get(t, path)
	if !strings.Contains(text, "These are the latest 100 refusals.") || !strings.Contains(text, path+"?all=1") || !strings.Contains(text, "6 entries and 100 refusals") {
		t.Errorf("the page of 121 refusals:\n%s", text)
	}
	_, text, _ = site.Get(t, path+".json")
	var h app.HistoryPage
	if err := json.Unmarshal([]byte(text), &h); err != nil || len(h.Refusals) != 121 || h.MoreRefusals {
		t.Errorf("the file tells of %d refusals, %v: %v", len(h.Refusals), h.MoreRefusals, err)
	}
}

// A lot's number has a slash in it.
func TestHistoryOfLot(t *testing.T) {
	s, _ := store(t)
	site := webtest.Serve(t, caller, apptest.Now, history.Endpoints(s.Service(t))...)
	_, text, _ := site.Get(t, "/history/lot/8f14e45f-ceea-467f-8a6c-0d1d2b3c4d5e/2.json")
	var h app.HistoryPage
	if err := json.Unmarshal([]byte(text), &h); err != nil || h.Of.Lot != "8f14e45f-ceea-467f-8a6c-0d1d2b3c4d5e/2" {
		t.Errorf("asked for another lot: %v, %+v", err, h.Of)
	}
}

func TestHistoryForScripts(t *testing.T) {
	s, p := store(t)
	site := webtest.Serve(t, caller, apptest.Now, history.Endpoints(s.Service(t))...)
	_, text, header := site.Get(t, "/history/"+string(p)+".json")
	var h app.HistoryPage
	if err := json.Unmarshal([]byte(text), &h); err != nil || len(h.Events) != 6 || h.Of.Pallet != p {
		t.Errorf("JSON: %v, %s", err, text)
	}
	if header.Get("Content-Type") != "application/json" {
		t.Errorf("JSON's type: %s", header.Get("Content-Type"))
	}
	_, text, header = site.Get(t, "/history/"+string(p)+".csv")
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) != 8 { // the names, six events, one refusal
		t.Fatalf("CSV: %v, %d rows", err, len(rows))
	}
	if got := rows[5][19]; got != "'=wrong pallet scanned" { // would run as a formula in a spreadsheet
		t.Errorf("a note that begins with = is written %q", got)
	}
	if !strings.HasPrefix(header.Get("Content-Type"), "text/csv") || !strings.Contains(header.Get("Content-Disposition"), "history-pallet-") {
		t.Errorf("CSV's headers: %v", header)
	}
	if !strings.Contains(text, "\r\n") { // RFC 4180, 2.1
		t.Error("lines do not end with CR LF")
	}
}

func TestHistoryInTheBrowser(t *testing.T) {
	s, p := store(t)
	site := webtest.Serve(t, caller, apptest.Now, history.Endpoints(s.Service(t))...)
	browser := browsertest.Shared(t)
	for name, size := range map[string]browsertest.Size{"history": browsertest.Desk, "history-phone": browsertest.Phone} {
		ctx := browser.Open(t, size)
		browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/history/"+string(p)), chromedp.WaitVisible(".entries"))
		browsertest.Axe(t, ctx)
		browsertest.FullScreenshot(t, ctx, name)
		if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > innerWidth`)) {
			t.Errorf("%s: the page is wider than the window", name)
		}
		browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`localStorage.setItem("light", "night")`), chromedp.Reload(), chromedp.WaitVisible(".entries"))
		browsertest.Axe(t, ctx)
		browsertest.Screenshot(t, ctx, name+"-night")
	}
	ctx := browser.Open(t, browsertest.Desk)
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/history/"+string(p)), chromedp.WaitVisible(".entries"),
		chromedp.Click("#E3 summary"), chromedp.SendKeys("#E3 [name=reason]", "inspected the wrong pallet"), chromedp.Click("#E3 button"),
		chromedp.WaitVisible("#sign"))
	if got := browsertest.Text(t, ctx, "#sign [data-part=which]"); got != "First signature" {
		t.Errorf("a release is taken back by %q, not by two people", got)
	}
	browsertest.Screenshot(t, ctx, "history-take-back")
}
