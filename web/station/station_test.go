package station_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

// scanned posts what a scanner typed and returns the status and where it leads.
func scanned(t *testing.T, s *webtest.LiveSite, at core.StationID, text string) (int, string) {
	t.Helper()
	return scannedAfter(t, s, at, text, "")
}

// scannedAfter is the same on the page of a pallet.
func scannedAfter(t *testing.T, s *webtest.LiveSite, at core.StationID, text, pallet string) (int, string) {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, s.URL+"/station/scan", strings.NewReader(url.Values{"text": {text}, "pallet": {pallet}}.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.AddCookie(&http.Cookie{Name: "tagalong-tablet", Value: s.Live.Tablet(t, at)})
	stay := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := stay.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	return answer.StatusCode, answer.Header.Get("Location")
}

func TestScanLeadsTo(t *testing.T) {
	s := webtest.Live(t, floor(t), station.Endpoints)
	code := string(mixed)
	for text, want := range map[string]string{
		code:                                           "/station/pallets/" + code,
		strings.ToLower(code):                          "/station/pallets/" + code,
		code[:4] + " " + code[4:]:                      "/station/pallets/" + code,
		"HTTPS://SHOP.EXAMPLE/P/" + code + "/2":        "/station/pallets/" + code + "?print=2",
		"https://old.example/p/" + code:                "/station/pallets/" + code,
		"]Q3HTTPS://SHOP.EXAMPLE/P/" + code + "/1\r\n": "/station/pallets/" + code + "?print=1",
	} {
		if status, to := scanned(t, s, "ROUND-AL", text); status != http.StatusSeeOther || to != want {
			t.Errorf("%q leads to %d %s, want %s", text, status, to, want)
		}
	}
	wrong := code[:7] + map[bool]string{true: "3", false: "2"}[code[7] == '2']
	for text, why := range map[string]string{
		"":                         "nothing was read",
		wrong:                      "its check character is wrong",
		"4006381333931":            "it is an article number",
		"https://example.com/menu": "it is another address",
		s.Badge(t, operator):       "it is a badge",
		strings.Repeat("X", 5000):  "it is too long",
	} {
		if status, to := scanned(t, s, "ROUND-AL", text); status < 400 || status >= 500 || to != "" {
			t.Errorf("%.30q was taken (%d %s) though %s", text, status, to, why)
		}
	}
}

// The addresses printed in QR symbols lead a tablet to its own page.
func TestPrintedAddresses(t *testing.T) {
	s := webtest.Live(t, floor(t), station.Endpoints)
	status, page := s.Get(t, "ROUND-AL", "/P/"+string(changed)+"/1")
	if status != http.StatusOK || !strings.Contains(page, "out of date") {
		t.Errorf("%d: the stale print's own address doesn't say that it is stale", status)
	}
}

func TestPages(t *testing.T) {
	s := webtest.Live(t, floor(t), station.Endpoints)
	noted(s.Live)
	for _, c := range []struct {
		name   string
		at     core.StationID
		path   string
		status int
		has    []string
		hasNot []string
	}{
		{"at rest", "ROUND-AL", "/station", 200, []string{"data-scan", string(mixed), "On their way", "BELT-AL-1"}, []string{string(folded)}},
		{"work", "ROUND-AL", at(mixed) + "?print=1", 200,
			[]string{`data-command="sign-off"`, `data-print="1"`, "roof tray 2400", `aria-current="step"`, "Brackenmoor Hospital Estates", "Caution"},
			[]string{"<style", "style=", "onclick"}},
		{"elsewhere", "ROUND-AL", at(outside), 200, []string{"It is here: take in", "pallet store"}, []string{`data-command="sign-off"`}},
		{"wrong station", "BRAKE-1", at(mixed), 200,
			[]string{"Press brake 1 has nothing to do for pallet", "it waits for “Round the edges”.", "It belongs to: edge rounding line, aluminium belts.", "The pallet is at the edge rounding line"},
			[]string{`data-command="sign-off"`, `data-command="take-in"`}},
		{"wrong station with a hold point on the way", "PRETREAT-1", at(framed), 200,
			[]string{"1 base frame 2400 waits for a release: nobody may pass this hold point before an inspector has released it.", "A weld inspector who made none of it"},
			[]string{`data-command="take-in"`}},
		{"done here", "ROUND-AL", at(sent), 200,
			[]string{"“Round the edges” is done already for 6 wall skins 1200; next is “Fold”.", "Signed 13:17 by Petra Sallow, here.", "On its way to press brake 1."},
			[]string{`data-command="take-in"`}},
		{"noted", "BRAKE-1", at(sent), 200,
			[]string{"Note from edge rounding line, aluminium belts, 13:22, Petra Sallow: two skins have a scratch on the inside, fold those last", "Take it in here?"}, nil},
		{"here, and the release is missing", "PRETREAT-1", at(unreleased), 200,
			[]string{"1 wall panel 2400 waits for a release: nobody may pass this hold point before an inspector has released it.", "Call a weld inspector.", "No concession exists"},
			[]string{`data-command="sign-off"`, "Under concession"}},
		{"its own disc touched stainless", "WELD-3", at(touched), 200,
			[]string{"DISC-W3 has touched stainless; it may never touch aluminium.", "Another is mounted"}, []string{`data-command="sign-off"`, "Under concession"}},
		{"another disc is mounted", "WELD-3", at(touched) + "?abrasive=disc-w9", 200,
			[]string{`data-command="sign-off"`, `value="DISC-W9"`, "no metal on record yet", "abrasive=DISC-W9"}, []string{"has touched stainless"}},
		{"here beside others", "BOOTH-1", at(beside), 200,
			[]string{`data-command="sign-off"`, "Stopped on this pallet", "lot B is not signed", "1 wall panel 2400 waits for a release"}, nil},
		{"on its way", "ROUND-AL", at(coming), 200, []string{"Take it in here?"}, nil},
		{"held", "ROUND-AL", at(held), 200, []string{"rails mixed up with stiles", "Under concession"}, []string{`data-command="sign-off"`}},
		{"absolute", "BOOTH-1", at(sharp), 200, []string{`data-command="sign-off"`, "Stopped on this pallet"}, []string{"Under concession"}},
		{"unsure", "BOOTH-1", at(doubtful), 200, []string{"Settle it by looking", "No concession exists"}, []string{"Under concession"}},
		{"emptied", "ROUND-AL", at(emptied), 200, []string{"This pallet is empty", string(mixed)}, nil},
		{"unknown", "ROUND-AL", at(pallet(99)), 404, []string{"Nothing was recorded"}, nil},
		{"no code", "ROUND-AL", "/station/pallets/ABC", 422, []string{"Nothing was recorded"}, nil},
		{"inspector's conflict", "INSPECT-1", at(framed), 200, []string{"Not signed by Tilda Rooke", "Refuse", `data-word="Release"`}, nil},
		{"no such unit", "WELD-1", "/station/units?unit=UZZZZZZZ", 404, []string{"not to be built"}, nil},
		{"unit", "WELD-1", "/station/units?unit=BF-2400%40B%7CO-4101%2F1", 200, []string{" missing", `data-command="gather"`}, []string{`data-command="assemble"`}},
	} {
		status, page := s.Get(t, c.at, c.path)
		if status != c.status {
			t.Errorf("%s: status %d, want %d", c.name, status, c.status)
		}
		for _, x := range c.has {
			if !strings.Contains(page, x) {
				t.Errorf("%s: the page lacks %q", c.name, x)
			}
		}
		for _, x := range c.hasNot {
			if strings.Contains(page, x) {
				t.Errorf("%s: the page holds %q", c.name, x)
			}
		}
	}
}

// Nobody but an enrolled tablet sees a station.
func TestNeedsATablet(t *testing.T) {
	s := webtest.Live(t, floor(t), station.Endpoints)
	answer, err := http.Get(s.URL + "/station")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode < 400 {
		t.Errorf("a stranger got %d", answer.StatusCode)
	}
}
