package main

import (
	"cmp"
	"net/http"
	"net/url"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tagalong/internal/core"
)

// TestWhatIsTypedWronglyIsKept posts each form of setting up with a slip in it:
// it comes back with a sentence and everything that was typed, and nothing is
// stored.
func TestWhatIsTypedWronglyIsKept(t *testing.T) {
	s := newShop(t)
	b := s.signedIn("P01")
	item := url.Values{"kind": {"part"}, "item": {"Q-1"}, "rev": {"A"}, "name": {"shelf"}, "metal": {"steel"}, "grade": {"DC01"},
		"thickness_mm": {"2"}, "length_mm": {"300"}, "width_mm": {"200"}, "finish": {"bare"}, "own": {"yes"},
		"step": {"cut", "separate", "edge-round", "final-check", "pack"}}
	order := url.Values{"order": {"Q-77"}, "customer": {"Moor Street School"}, "promised": {"2026-12-09"},
		"qty.0": {"3"}, "item.0": {"BK-90|A"}, "qty.1": {""}, "item.1": {""}}
	sheet := url.Values{"sheet": {"Q-9"}, "heat": {"H-1"}, "material": {"SH-304-2|1"}, "identified": {"yes"}}
	nest := url.Values{"nest": {"QN-1"}, "material": {"SH-304-2|1"}, "qty.BK-90|A|stock": {"4"}}
	with := func(v url.Values, field string, values ...string) url.Values {
		out := url.Values{}
		for k, x := range v {
			out[k] = x
		}
		out[field] = values
		return out
	}
	before := s.rows()
	for _, c := range []struct {
		name, path string
		form       url.Values
		says       string
	}{
		{"a name of blanks", "/setup/item", with(item, "name", "  "), "Found nothing; wanted a text."},
		{"a comma in a number", "/setup/item", with(item, "thickness_mm", "2,5"), "Found &#34;2,5&#34;; wanted a point before the decimals, not a comma: 2.5."},
		{"no grade", "/setup/item", with(item, "grade"), "wanted the grade of the metal"},
		{"a number the shop has", "/setup/item", with(with(item, "item", "BK-90"), "rev", "A"), "Found item BK-90 rev A, which the shop has"},
		{"a coat without a colour", "/setup/item", with(item, "finish", "coat"), "Found nothing; wanted"},
		{"no step", "/setup/item", with(item, "step"), "Found a route without a step"},
		{"a step there is not", "/setup/item", with(item, "step", "cut", "varnish"), `Found the step &#34;varnish&#34;; wanted steps of the list.`},
		{"edges never rounded", "/setup/item", with(item, "step", "cut", "separate", "final-check", "pack"), "1 shelf"},
		{"an assembly of nothing", "/setup/item", with(with(item, "kind", "assembly"), "step", "weld", "weld-inspect", "final-check", "pack"), "Found an assembly of nothing"},
		{"no customer", "/setup/order", with(order, "customer"), "Found nothing; wanted a text."},
		{"no such day", "/setup/order", with(order, "promised", "2026-02-30"), "Found &#34;2026-02-30&#34;"},
		{"how many is no number", "/setup/order", with(order, "qty.0", "three"), "Found &#34;three&#34;; wanted a whole number"},
		{"nothing ordered", "/setup/order", with(with(order, "qty.0", ""), "item.0", ""), "Found an order for nothing"},
		{"an item there is not", "/setup/order", with(order, "item.0", "ZZ|A"), "the unknown item ZZ rev A"},
		{"no heat", "/setup/sheet", with(sheet, "heat"), "Found nothing; wanted a name"},
		{"a mark nobody read", "/setup/sheet", with(sheet, "identified"), "Found a mark that nobody has read"},
		{"a sheet of a part", "/setup/sheet", with(sheet, "material", "BK-90|A"), "Found the part BK-90 rev A"},
		{"a nest of nothing", "/setup/nest", with(nest, "qty.BK-90|A|stock"), "Found a nest of nothing"},
		{"a nest of halves", "/setup/nest", with(nest, "qty.BK-90|A|stock", "2.5"), "Found &#34;2.5&#34;"},
		{"a time zone there is not", "/setup/shop", url.Values{"name": {"Fen Metal"}, "zone": {"Fenland"}}, "name of a time zone"},
		{"nobody's name", "/setup/person", url.Values{"name": {""}, "role": {"operator"}}, "a name has 1 to 80 characters"},
		{"a distance in words", "/setup/stations", url.Values{"site": {"1"}, "name.SITE-1": {"the bridge"}, "km.SITE-1": {"far"}}, "Found &#34;far&#34;; wanted a whole number"},
		{"a station without a name", "/setup/stations", url.Values{"laser": {"1"}, "name.LASER-5": {" "}}, "Found nothing; wanted a text."},
	} {
		got := b.form(c.path, c.form)
		if got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, c.says) {
			_, page, _ := strings.Cut(got.body, "<main")
			t.Errorf("%s: %d, and not %q:\n%s", c.name, got.StatusCode, c.says, page)
			continue
		}
		for field, values := range c.form {
			if len(values) == 1 && strings.HasSuffix(values[0], "|A") {
				continue // a list offers what there is, and nothing else
			}
			if len(values) == 1 && strings.TrimSpace(values[0]) != "" && !strings.Contains(got.body, values[0]) {
				t.Errorf("%s: %s was typed as %q, and is gone", c.name, field, values[0])
			}
		}
	}
	if now := s.rows(); now != before {
		t.Errorf("%d rows were stored all the same", now-before)
	}
	for path, form := range map[string]url.Values{"/setup/item": item, "/setup/order": order, "/setup/sheet": sheet, "/setup/nest": nest} {
		if got := b.form(path, form); got.StatusCode != http.StatusSeeOther {
			t.Errorf("%s without a slip: %d", path, got.StatusCode)
		}
		if got := b.form(path, form); got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, "which the shop has") && !strings.Contains(got.body, "received before") {
			t.Errorf("%s a second time: %d", path, got.StatusCode)
		}
	}
	if s.rows() == before {
		t.Error("nothing was stored at all")
	}
}

// TestAnAssemblyIsTyped with its bill; and a browser without scripts asks for
// the steps, and for more lines of an order, by a button of the form.
func TestAnAssemblyIsTyped(t *testing.T) {
	s := newShop(t)
	b := s.signedIn("P01")
	form := url.Values{"kind": {"assembly"}, "item": {"Q-SET"}, "rev": {"B"}, "name": {"bracket pair"}, "metal": {"stainless"},
		"finish": {"coat"}, "colour": {"slate"}, "weld": {"yes"}, "own": {"yes"},
		"count.0": {"2"}, "component.0": {"BK-90|A"}, "count.1": {"1"}, "component.1": {"SM-2|A"}, "do": {"propose"}}
	got := b.form("/setup/item", form)
	var steps []string
	for _, hit := range regexp.MustCompile(`name="step" value="([a-z-]+)" checked`).FindAllStringSubmatch(got.body, -1) {
		steps = append(steps, hit[1])
	}
	if want := "weld weld-inspect pretreat coat cure coat-inspect pack"; got.StatusCode != http.StatusOK || strings.Join(steps, " ") != want {
		t.Fatalf("%d, proposed are %q, want %q", got.StatusCode, steps, want)
	}
	form.Del("do")
	form["step"] = steps
	if got := b.form("/setup/item", form); got.StatusCode != http.StatusSeeOther {
		t.Fatalf("store it: %d %s", got.StatusCode, got.body)
	}
	book, err := s.app.Book(t.Context())
	must(t, err)
	v := book.Items[core.ItemRev{Item: "Q-SET", Rev: "B"}]
	if v.Kind != core.AssemblyItem || len(v.Bill) != 2 || v.Bill[0].Qty != 2 || v.Colour("all") != "slate" || v.Route.Name != "SET-WELD-INSPECT-COAT-PACK" {
		t.Errorf("stored is %+v", v)
	}
	order := url.Values{"order": {"Q-78"}, "customer": {"Moor Street School"}, "promised": {"2026-12-09"}, "qty.0": {"3"}, "item.0": {"Q-SET|B"}, "do": {"more"}}
	got = b.form("/setup/order", order)
	if got.StatusCode != http.StatusOK || !strings.Contains(got.body, `name="item.5"`) || !strings.Contains(got.body, "Moor Street School") {
		t.Errorf("more lines: %d", got.StatusCode)
	}
	order.Del("do")
	if got := b.form("/setup/order", order); got.StatusCode != http.StatusSeeOther {
		t.Errorf("order it: %d", got.StatusCode)
	}
	// Its parts are of the sheet that suits them, as many as the bill asks.
	got = b.get("/setup/nest?material=" + url.QueryEscape("SH-304-2|1"))
	for part, n := range map[string]string{"BK-90": "6", "SM-2": "3"} {
		if !strings.Contains(got.body, `name="qty.`+part+`|A|Q-78/1" value="`+n+`"`) {
			t.Errorf("the nest does not propose %s of %s", n, part)
		}
	}
}

// TestASitesDistanceIsTyped: what its loads are packed in follows from it, and
// what is not typed of it stays as it was.
func TestASitesDistanceIsTyped(t *testing.T) {
	s := newShop(t)
	b := s.signedIn("P01")
	const site = "SITE-LARKFIELD"
	for _, c := range []struct {
		km, abroad string
		page       string
		haul       core.Haul
	}{
		{"460", "yes", "Long haul, 460 km, abroad: foam between coated faces; strapped to the carrier; corner protectors under the straps; side boards all round; " +
			"timber frame or crate round the load; raw timber, the pallet too, marked by ISPM 15", core.LongHaul},
		{"120", "", "Regional, 120 km: foam between coated faces; strapped to the carrier; corner protectors under the straps; side boards all round</td>", core.Regional},
		{"", "", "Nothing is asked until the distance is known.", core.NoHaul},
	} {
		before, err := s.app.Book(t.Context())
		must(t, err)
		form := url.Values{"laser": {"0"}, "km." + site: {c.km}}
		if c.abroad != "" {
			form.Set("abroad."+site, c.abroad)
		}
		if got := b.form("/setup/stations", form); got.StatusCode != http.StatusSeeOther {
			t.Fatalf("%s km: %d %s", c.km, got.StatusCode, got.body)
		}
		after, err := s.app.Book(t.Context())
		must(t, err)
		if j := core.JourneyOf(after, core.Order{Site: site}); j.Haul != c.haul || strconv.Itoa(j.Km) != cmp.Or(c.km, "0") || j.Abroad != (c.abroad != "") {
			t.Errorf("%s km: the way is %+v", c.km, j)
		}
		for id, st := range before.Stations {
			got := after.Stations[id]
			if id == site {
				st.Km, st.Abroad = got.Km, got.Abroad
			}
			if !reflect.DeepEqual(got, st) {
				t.Errorf("%s km: %s was %+v and is %+v", c.km, id, st, got)
			}
		}
		if got := b.get("/setup/stations?laser=0"); !strings.Contains(got.body, c.page) {
			t.Errorf("%s km: the page does not say %q", c.km, c.page)
		}
	}
}

// rows counts what the office can type.
func (s *testShop) rows() int {
	book, err := s.app.Book(s.t.Context())
	must(s.t, err)
	w, err := s.store.Load(s.t.Context(), core.Names{Orders: []string{"Q-77"}, Nests: []string{"QN-1"}}, "")
	must(s.t, err)
	sheets, err := s.store.OpenSheets(s.t.Context())
	must(s.t, err)
	return len(book.Items) + len(book.Routes) + len(book.Stations) + len(book.People) + len(w.State.Orders) + len(w.State.Nests) + len(sheets)
}

// TestAManagerTypesOrders, and leaves stations and people to an admin; a device
// is moved by an admin only.
func TestAManagerTypesOrders(t *testing.T) {
	s := newShop(t)
	b := s.signedIn("P02")
	for path, want := range map[string]int{"/setup": 200, "/setup/order": 200, "/setup/item": 200, "/setup/stations": 403, "/setup/person": 403, "/setup/tablet": 403} {
		if got := b.get(path); got.StatusCode != want {
			t.Errorf("%s: %d, want %d", path, got.StatusCode, want)
		}
	}
	if got := b.get("/setup"); strings.Contains(got.body, `href="/setup/stations"`) || !strings.Contains(got.body, "an admin does this") {
		t.Error("a manager is led to what only an admin may do")
	}
}

// TestMovingThisDevice: a tablet moved to another station is no longer one of
// the first, and goes on to pages of ours only.
func TestMovingThisDevice(t *testing.T) {
	s := newShop(t)
	b := s.signedIn("P01")
	for _, c := range []struct{ station, next, want string }{
		{"LASER-1", "/station/pallets/P4K7M2QX", "/station/pallets/P4K7M2QX"},
		{"BENCH-1", "//elsewhere.example/station/", "/setup?kept=tablet"},
		{"BENCH-2", "https://elsewhere.example", "/setup?kept=tablet"},
	} {
		got := b.form("/setup/tablet", url.Values{"station": {c.station}, "next": {c.next}})
		if where := got.Header.Get("Location"); got.StatusCode != http.StatusSeeOther || !strings.HasPrefix(where, strings.Split(c.want, "?")[0]) || strings.Contains(where, "elsewhere") {
			t.Errorf("to %s: %d, on to %q, want %q", c.station, got.StatusCode, where, c.want)
		}
	}
	if got := b.form("/setup/tablet", url.Values{"station": {"NOWHERE"}}); got.StatusCode != http.StatusNotFound {
		t.Errorf("to a station there is not: %d", got.StatusCode)
	}
	all, err := s.store.Tablets(t.Context())
	must(t, err)
	for _, x := range all {
		if x.Revoked.IsZero() != (x.Station == "BENCH-2") {
			t.Errorf("%s at %s: revoked %v", x.ID, x.Station, x.Revoked)
		}
	}
}
