package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// posted posts a form that must be stored.
func (b *browser) posted(path string, form url.Values) {
	b.t.Helper()
	if got := b.form(path, form); got.StatusCode != http.StatusSeeOther || !strings.Contains(got.Header.Get("Location"), "kept=") {
		b.t.Fatalf("%s %v: %d %s", path, form, got.StatusCode, got.body)
	}
}

// TestWhatLapsesIsKeptByPage: gauges, batches and qualifications are added,
// renewed and ended by their pages, wrongly typed ones come back with a
// sentence, and the rules count what the pages stored.
func TestWhatLapsesIsKeptByPage(t *testing.T) {
	s := newShop(t)
	b := s.signedIn("P01")
	for _, c := range []struct {
		name, path, says string
		form             url.Values
	}{
		{"a gauge the shop has", "/gauges", "Found gauge CA-01, which the shop has", url.Values{"do": {"add"}, "instrument": {"CA-01"}, "kind": {"caliper"}, "name": {"one more"}, "due_by": {"2027-01-01"}}},
		{"a lapsed gauge", "/gauges", "Found a calibration that has lapsed", url.Values{"do": {"add"}, "instrument": {"CA-9"}, "kind": {"caliper"}, "name": {"old one"}, "due_by": {"2026-11-24"}}},
		{"no such day", "/gauges", "2026-02-30", url.Values{"do": {"add"}, "instrument": {"CA-9"}, "kind": {"caliper"}, "name": {"new one"}, "due_by": {"2026-02-30"}}},
		{"a gauge there is not", "/gauges", "which the shop has not got", url.Values{"do": {"until"}, "gauge": {"XX-1"}, "until": {"2027-01-01"}}},
		{"calibrated until some day", "/gauges", "some day", url.Values{"do": {"until"}, "gauge": {"CA-01"}, "until": {"some day"}}},
		{"a powder of no colour", "/batches", "Found a powder without its colour", url.Values{"do": {"add"}, "batch": {"PX-1"}, "kind": {"powder"}}},
		{"a batch the shop has", "/batches", "Found batch PB-2610, which the shop has", url.Values{"do": {"add"}, "batch": {"PB-2610"}, "kind": {"powder"}, "colour": {"basalt"}}},
		{"an expired batch", "/batches", "Found a batch that has expired", url.Values{"do": {"add"}, "batch": {"PX-1"}, "kind": {"bath"}, "expires": {"2026-11-01"}}},
		{"no such position", "/qualifications", "positions of ISO 6947", url.Values{"do": {"add"}, "person": {"P10"}, "process": {"weld"}, "valid_to": {"2028-01-01"}, "positions": {"PZ"}}},
		{"no end", "/qualifications", "Found nothing", url.Values{"do": {"add"}, "person": {"P10"}, "process": {"weld"}}},
		{"somebody who is not here", "/qualifications", "who is not here", url.Values{"do": {"add"}, "person": {"P99"}, "process": {"weld"}, "valid_to": {"2028-01-01"}}},
		{"one changed meanwhile", "/qualifications", "changed meanwhile", url.Values{"do": {"end"}, "person": {"P10"}, "of": {"{}"}}},
	} {
		got := b.form(c.path, c.form)
		if got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, c.says) {
			_, page, _ := strings.Cut(got.body, "<main")
			t.Errorf("%s: %d, and not %q:\n%s", c.name, got.StatusCode, c.says, page)
		}
	}
	if got := b.form("/gauges", url.Values{"do": {"melt"}}); got.StatusCode != http.StatusUnprocessableEntity && got.StatusCode != http.StatusBadRequest {
		t.Errorf("a button there is not: %d", got.StatusCode)
	}

	// The soonest lapses first, what has lapsed stands last.
	body := b.get("/gauges").body
	soon, later, lapsed := strings.Index(body, ">TG-01<"), strings.Index(body, ">TG-02<"), strings.Index(body, ">CA-03<")
	if soon < 0 || soon > later || later > lapsed || !strings.Contains(body, "in 3 days") || !strings.Contains(body, "has lapsed") {
		t.Errorf("gauges stand at %d, %d, %d", soon, later, lapsed)
	}

	b.posted("/gauges", url.Values{"do": {"add"}, "instrument": {" HG-1 "}, "kind": {"height gauge"}, "name": {"height gauge, surface plate"}, "due_by": {"2027-11-25"}})
	b.posted("/gauges", url.Values{"do": {"until"}, "gauge": {"CA-03"}, "until": {"2027-11-15"}})
	b.posted("/gauges", url.Values{"do": {"withdraw"}, "gauge": {"AG-02"}})
	b.posted("/batches", url.Values{"do": {"add"}, "batch": {"PM-1"}, "kind": {"powder"}, "colour": {"moss"}, "expires": {"2027-05-01"}})
	b.posted("/batches", url.Values{"do": {"add"}, "batch": {"FM-2"}, "kind": {"foil"}})
	b.posted("/batches", url.Values{"do": {"withdraw"}, "of": {"FA-118"}})
	book, err := s.app.Book(t.Context())
	must(t, err)
	before := book.People["P13"]
	of := app.Qualified{Person: before, Qualification: before.Qualifications[0]}.Key()
	b.posted("/qualifications", url.Values{"do": {"until"}, "person": {"P13"}, "of": {of}, "until": {"2027-08-04"}})
	b.posted("/qualifications", url.Values{"do": {"add"}, "person": {"P13"}, "process": {"weld"}, "metal": {"steel"}, "max_thickness_mm": {"8"}, "positions": {"pa pb"}, "valid_to": {"2028-11-25"}})
	of = app.Qualified{Person: before, Qualification: before.Qualifications[1]}.Key()
	b.posted("/qualifications", url.Values{"do": {"end"}, "person": {"P13"}, "of": {of}})

	book, err = s.app.Book(t.Context())
	must(t, err)
	for id, due := range map[string]core.Date{"HG-1": "2027-11-25", "CA-03": "2027-11-15", "AG-02": "2026-11-24"} {
		if book.Instruments[id].DueBy != due {
			t.Errorf("gauge %s is %+v, want %s", id, book.Instruments[id], due)
		}
	}
	if book.Batches["PM-1"] != (core.Batch{Kind: "powder", Batch: "PM-1", Colour: "moss", Expires: "2027-05-01"}) || book.Batches["FA-118"].Expires != "2026-11-24" {
		t.Errorf("batches are %+v and %+v", book.Batches["PM-1"], book.Batches["FA-118"])
	}
	q := book.People["P13"].Qualifications
	if len(q) != 3 || q[0].ConfirmBy != "2027-08-04" || q[1].ValidTo != "2026-11-24" || q[2].Metal != "steel" || strings.Join(q[2].Positions, " ") != "PA PB" {
		t.Errorf("qualifications are %+v", q)
	}
	if p := book.People["P13"]; p.Name != before.Name || len(p.Roles) != len(before.Roles) {
		t.Errorf("the person became %+v", p)
	}

	manager := s.signedIn("P02")
	for path, want := range map[string]int{"/gauges": 200, "/batches": 200, "/qualifications": 403} {
		if got := manager.get(path); got.StatusCode != want {
			t.Errorf("a manager at %s: %d, want %d", path, got.StatusCode, want)
		}
	}
}

// TestTypedIsExportedAsImported: what was typed, a drawing with its checks and
// what lapses among it, comes out in files; another shop that reads them gives
// the same bytes again, and this one has all of it already.
func TestTypedIsExportedAsImported(t *testing.T) {
	one := newShop(t)
	b := one.signedIn("P01")
	b.posted("/setup/item", panel())
	b.posted("/gauges", url.Values{"do": {"add"}, "instrument": {"HG-1"}, "kind": {"height gauge"}, "name": {"=height, \"surface plate\""}, "due_by": {"2027-11-25"}})
	b.posted("/gauges", url.Values{"do": {"withdraw"}, "gauge": {"AG-02"}})
	b.posted("/batches", url.Values{"do": {"add"}, "batch": {"PM-1"}, "kind": {"powder"}, "colour": {"moss"}})
	b.posted("/qualifications", url.Values{"do": {"add"}, "person": {"P13"}, "process": {"weld"}, "metal": {"steel"}, "max_thickness_mm": {"8.5"}, "positions": {"PA PB"}, "valid_to": {"2028-11-25"}, "confirm_by": {"2027-05-25"}})
	b.posted("/setup/order", url.Values{"order": {"Q-9"}, "customer": {"Moor Street School"}, "promised": {"2026-12-09"}, "qty.0": {"3"}, "item.0": {"Q-2|A"}})
	out := unpacked(t, b.get("/export.zip").body)
	for file, want := range map[string]string{"checks.csv": "outside-flange", "sampling.csv": "Q-2,1,", "finishes.csv": "Q-2,A,outside,basalt,yes", "routes.csv": "earth point",
		"instruments.csv": "AG-02,angle gauge,\"digital angle gauge, spare\",2026-11-24", "batches.csv": "PM-1,powder,moss,", "qualifications.csv": "P13,weld,steel,8.5,2028-11-25,2027-05-25,PA PB"} {
		if !strings.Contains(out[file], want) {
			t.Errorf("%s lacks %q:\n%s", file, want, out[file])
		}
	}
	if _, page := b.planned(out); !strings.Contains(page, "The shop has all of it already") {
		t.Error("read back, it would change something")
	}
	two := newShop(t)
	c := two.signedIn("P01")
	address, _ := c.planned(out)
	c.press(address, "store")
	c.settledPage(address)
	again := unpacked(t, c.get("/export.zip").body)
	for name, text := range out {
		if again[name] != text {
			t.Errorf("%s: the second shop exports\n%q\nthe first\n%q", name, again[name], text)
		}
	}
}
