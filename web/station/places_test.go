package station_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

const (
	slotSign  = "HTTPS://SHOP.EXAMPLE/T/STORE-1/C4"
	brakeSign = "https://old.example/t/brake-1\r"
)

// slotted is the floor with one pallet in slot C4 of the store, and one on its way there.
func slotted(t testing.TB) *apptest.Floor {
	t.Helper()
	f := floor(t)
	f.Change(outside, func(p *core.PalletRow) { p.Slot = "C4" })
	f.Change(sent, func(p *core.PalletRow) { p.Bound = "STORE-1" })
	return f
}

func TestWhereSignsLead(t *testing.T) {
	s := webtest.Live(t, slotted(t), station.Endpoints)
	for _, c := range []struct {
		at          core.StationID
		text, after string // the pallet looked at
		want        string
	}{
		{"STORE-1", slotSign, string(sent), "/station/pallets/" + string(sent) + "?slot=C4"},
		{"STORE-1", " c4 ", string(sent), "/station/pallets/" + string(sent) + "?slot=C4"},
		{"STORE-1", slotSign, "", "/station/place?of=STORE-1&slot=C4"},
		{"STORE-1", "C4", "", "/station/place?of=STORE-1&slot=C4"},
		{"STORE-1", "store-1", string(sent), "/station/place?of=STORE-1&pallet=" + string(sent)},
		{"STORE-1", brakeSign, string(outside), "/station/pallets/" + string(outside) + "?to=BRAKE-1"},
		{"BRAKE-1", slotSign, string(folded), "/station/pallets/" + string(folded) + "?to=STORE-1"},
		{"BRAKE-1", slotSign, "", "/station/place?of=STORE-1&slot=C4"},
		{"BRAKE-1", "BRAKE-1", "", "/station/place?of=BRAKE-1"},
		{"BRAKE-1", slotSign, "nonsense", "/station/place?of=STORE-1&slot=C4"},
	} {
		if status, to := scannedAfter(t, s, c.at, c.text, c.after); status != http.StatusSeeOther || to != c.want {
			t.Errorf("%q at %s after %q leads to %d %s, want %s", c.text, c.at, c.after, status, to, c.want)
		}
	}
	for text, at := range map[string]core.StationID{
		"C4":                                "BRAKE-1", // no place of a press brake's
		"https://other.example/T/NOWHERE-9": "STORE-1", "https://other.example/T/BRAKE-1/C4": "STORE-1", "T23456K7": "STORE-1",
		"4006381333931": "STORE-1", "40063813": "STORE-1", string(sent)[:7]: "STORE-1", "the shelf behind the saw": "STORE-1",
	} {
		if status, to := scannedAfter(t, s, at, text, string(outside)); status != http.StatusUnprocessableEntity || to != "" {
			t.Errorf("%q at %s leads to %d %s", text, at, status, to)
		}
	}
}

func TestPagesOfSigns(t *testing.T) {
	s := webtest.Live(t, slotted(t), station.Endpoints)
	for _, c := range []struct {
		name string
		at   core.StationID
		path string
		has  []string
		not  []string
	}{
		{"the store at rest", "STORE-1", "/station", []string{">C4</strong>", string(outside)}, nil},
		{"on its way to the store", "STORE-1", at(sent), []string{"Take it in here?", "Scan the sign of the slot it goes into", `name="slot"`}, []string{"data-scanned"}},
		{"its slot was scanned", "STORE-1", at(sent) + "?slot=C4", []string{"data-scanned", `value="C4"`, "stands in slot C4"}, nil},
		{"in the store", "STORE-1", at(outside), []string{"To move it, scan the other slot", "<strong>C4</strong>"}, []string{"data-scanned"}},
		{"its own slot again", "STORE-1", at(outside) + "?slot=C4", nil, []string{"data-scanned"}},
		{"a slot elsewhere", "ROUND-AL", at(outside) + "?slot=C4", []string{"It is here: take in"}, []string{`name="slot"`}},
		{"another station's sign", "STORE-1", at(outside) + "?to=ROUND-AL", []string{"Hand it over to the edge rounding line, aluminium belts?", `name="to" value="ROUND-AL"`}, nil},
		{"a sign of a station with nothing to do for it", "STORE-1", at(outside) + "?to=PRETREAT-1", []string{"Pretreat line has nothing to do for pallet", "Back to the pallet"}, []string{"Hand over to pretreat"}},
		{"a sign before it is taken in", "STORE-1", at(sent) + "?to=ROUND-AL", []string{"has not been taken in at pallet store"}, []string{"Hand over to edge"}},
		{"a sign in the middle of the work", "BRAKE-1", at(folded) + "?to=BRAKE-2", []string{"Hand it over to press brake 2?"}, []string{`data-command="sign-off"`}},
		{"no such station", "STORE-1", at(outside) + "?to=NOWHERE", []string{"To move it, scan"}, nil},
		{"a slot at rest", "STORE-1", "/station/place?of=STORE-1&slot=C4", []string{"This is slot C4 of the pallet store.", string(outside)}, nil},
		{"an empty slot", "STORE-1", "/station/place?of=STORE-1&slot=A1", []string{"Nothing stands in it."}, nil},
		{"its own sign", "BRAKE-1", "/station/place?of=BRAKE-1", []string{"This is press brake 1.", "This is the place"}, nil},
		{"its own sign after a pallet", "BRAKE-1", "/station/place?of=BRAKE-1&pallet=" + string(folded), []string{"Back to"}, nil},
		{"another's sign", "BRAKE-1", "/T/STORE-1", []string{"This is the pallet store.", "This tablet belongs to press brake 1. Scan a pallet, then this sign, to hand it over to the pallet store."}, nil},
		{"a sign from elsewhere", "BRAKE-1", "/T/NOWHERE-9", []string{"This is a sign of “NOWHERE-9”, and this shop has no such station.", "Nothing was recorded"}, nil},
		{"what stands there", "BRAKE-1", "/stations/STORE-1", []string{"Pallet store", "C4:", "On their way"}, nil},
		{"what stands in a slot", "BRAKE-1", "/stations/STORE-1?slot=C4", []string{"Slot C4 of the pallet store", "1 pallet here"}, []string{"On their way"}},
	} {
		_, page := s.Get(t, c.at, c.path)
		for _, x := range c.has {
			if !strings.Contains(page, x) {
				t.Errorf("%s: the page lacks %q", c.name, x)
			}
		}
		for _, x := range c.not {
			if strings.Contains(page, x) {
				t.Errorf("%s: the page holds %q", c.name, x)
			}
		}
	}
}

// Pallet, slot: two scans and no tap put it there. Another pallet's slot is a
// question, and only a scan moves anything: the address alone does not.
func TestScannedIntoASlot(t *testing.T) {
	s := webtest.Live(t, slotted(t), station.Endpoints)
	ctx := s.Tablet(t, "STORE-1")
	goTo(t, ctx, s.URL+at(sent)+"?slot=A1")
	browsertest.Screenshot(t, ctx, "station-slot")
	browsertest.Axe(t, ctx)
	webtest.CheckTablet(t, ctx, "slot")
	if p := s.World.State.Pallets[sent]; p.Station == "STORE-1" {
		t.Fatalf("its address alone took the pallet in: %+v", p)
	}
	browsertest.Do(t, ctx, chromedp.KeyEvent(slotSign+"\r"), seen("#refusal [data-part=confirm]"))
	if got := browsertest.Text(t, ctx, "#refusal-title"); !strings.HasPrefix(got, "Slot C4 has pallet ") {
		t.Errorf("asked %q", got)
	}
	browsertest.Do(t, ctx, click("#refusal [data-close]"), seen("main"), keys("[data-scan]", "a1\r"), seen("[data-done-line]"), seen(".rest"))
	recorded(t, ctx, "")
	if p := s.World.State.Pallets[sent]; p.Station != "STORE-1" || p.Slot != "A1" {
		t.Errorf("the pallet is %+v", p)
	}
	browsertest.Screenshot(t, ctx, "station-store")
	webtest.CheckTablet(t, ctx, "store")
	browsertest.Do(t, ctx, keys("[data-scan]", slotSign+"\r"), seen(".rest-here h1"))
	browsertest.Screenshot(t, ctx, "station-sign")
	browsertest.Axe(t, ctx)
	webtest.CheckTablet(t, ctx, "sign")
	goTo(t, ctx, s.URL+at(sent))
	browsertest.Do(t, ctx, keys("[data-scan]", "https://shop.example/T/BRAKE-1\r"),
		chromedp.WaitVisible(`//*[contains(text(), "Hand it over to press brake 1?")]`), seen("form[data-command=hand-over] button"))
	browsertest.Screenshot(t, ctx, "station-hand-to")
	webtest.CheckTablet(t, ctx, "hand to")
	browsertest.Do(t, ctx, click("form[data-command=hand-over] button"), seen("[data-done-line]"))
	if p := s.World.State.Pallets[sent]; p.Bound != "BRAKE-1" || p.Slot != "" {
		t.Errorf("handed over, the pallet is %+v", p)
	}
}
