package core_test

import (
	"encoding/json"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"tagalong/internal/core"
)

// packingCheck reads one value of testdata/checks/packing.json.
func packingCheck(t *testing.T, id string, expect any) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/checks/packing.json")
	if err != nil {
		t.Fatal(err)
	}
	var all []struct {
		ID, Source string
		Expect     json.RawMessage
	}
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(c struct {
		ID, Source string
		Expect     json.RawMessage
	}) bool {
		return c.ID == id
	})
	if i < 0 {
		t.Fatalf("no check %s", id)
	}
	if err := json.Unmarshal(all[i].Expect, expect); err != nil {
		t.Fatalf("%s (%s): %v", id, all[i].Source, err)
	}
}

// What the distance asks; the distances and materials are common practice, no
// source, and the mark on timber is ISPM 15's.
func TestPackagingGrowsWithTheDistance(t *testing.T) {
	s := newShop(t)
	panelLot, bareLot, kitLot := core.Lot{Item: panel}, core.Lot{Item: hingePlate(s)}, core.Lot{Item: kit}
	for _, c := range []struct {
		km                  int
		abroad, long        bool
		haul                core.Haul
		panels, bares, kits string
	}{
		{0, false, false, core.NoHaul, "", "", ""},
		{1, false, false, core.Near, "foam straps", "straps", ""},
		{60, false, false, core.Near, "foam straps", "straps", ""},
		{61, false, false, core.Regional, "foam straps corners side-boards", "straps corners side-boards", ""},
		{300, false, false, core.Regional, "foam straps corners side-boards", "straps corners side-boards", ""},
		{301, false, false, core.LongHaul, "foam straps corners side-boards timber", "straps corners side-boards timber", ""},
		{0, false, true, core.LongHaul, "foam straps corners side-boards timber", "straps corners side-boards timber", ""},
		{20, true, false, core.LongHaul, "foam straps corners side-boards timber timber-mark", "straps corners side-boards timber timber-mark", ""},
	} {
		st := s.book.Stations["SITE-LARKFIELD"]
		st.Km, st.Abroad = c.km, c.abroad
		s.book.Stations["SITE-LARKFIELD"] = st
		o := core.Order{No: "X", Site: "SITE-LARKFIELD", LongHaul: c.long}
		same(t, "haul", core.JourneyOf(s.book, o).Haul, c.haul)
		for _, x := range []struct {
			lot  core.Lot
			want string
		}{{panelLot, c.panels}, {bareLot, c.bares}, {kitLot, c.kits}} {
			var got []string
			for _, p := range core.PackingFor(s.book, o, x.lot) {
				got = append(got, strings.TrimPrefix(p.ID, "packaging-"))
			}
			if text := strings.Join(got, " "); text != x.want {
				t.Errorf("%d km, abroad %v, long %v, %s: %q, want %q", c.km, c.abroad, c.long, x.lot.Item, text, x.want)
			}
		}
	}
	// A site that is only a text has no distance.
	same(t, "own yard", core.JourneyOf(s.book, core.Order{Site: "their own yard"}), core.Journey{Site: "their own yard"})
}

// hingePlate is a part without a coat.
func hingePlate(s *shop) core.ItemRev {
	for _, ref := range slices.SortedFunc(maps.Keys(s.book.Items), func(a, b core.ItemRev) int { return strings.Compare(a.Key(), b.Key()) }) {
		if rev := s.book.Items[ref]; rev.Kind == core.PartItem && len(rev.Faces()) == 0 {
			return ref
		}
	}
	s.t.Fatal("the samples have no bare part")
	return core.ItemRev{}
}

func TestTimberMarkIsThatOfISPM15(t *testing.T) {
	var mark struct {
		MinFaces int    `json:"min_faces"`
		Faces    string `json:"faces"`
	}
	packingCheck(t, "ispm15-mark", &mark)
	p, ok := core.PackingOf("packaging-timber-mark")
	if !ok || mark.MinFaces != 2 || !strings.Contains(p.Text, "two "+mark.Faces) || !strings.HasPrefix(p.Source, "ISPM 15") {
		t.Errorf("%+v against %+v", p, mark)
	}
}

func TestPalletSizesAreThoseOfISO6780(t *testing.T) {
	var list struct {
		Sizes [][2]float64 `json:"sizes_mm"`
	}
	packingCheck(t, "pallet-list", &list)
	same(t, "sizes", len(core.PalletSizes), len(list.Sizes))
	for _, p := range list.Sizes {
		if !slices.Contains(core.PalletSizes, core.PalletSize{Length: p[0], Width: p[1]}) {
			t.Errorf("%v is not listed", p)
		}
	}
	if !slices.IsSortedFunc(core.PalletSizes, func(a, b core.PalletSize) int { return int(a.Length*a.Width - b.Length*b.Width) }) {
		t.Error("the smallest does not come first")
	}
	if p, ok := core.PalletFor(790, 1190); !ok || p != (core.PalletSize{Length: 1200, Width: 800}) {
		t.Errorf("790 × 1190 lies on %v", p)
	}
	if p, ok := core.PalletFor(1180, 900); !ok || p != (core.PalletSize{Length: 1200, Width: 1000}) {
		t.Errorf("1180 × 900 lies on %v", p)
	}
	if _, ok := core.PalletFor(2400, 1000); ok {
		t.Error("2400 mm lies on a standard pallet")
	}
}

// Each material is ticked by name at the pack sign-off; a concession may let
// the load go without, and says so.
func TestPackingAsksForWhatTheWayTakes(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	s.until(id, "pack")
	w := mustWork(s, id)
	s.bring(id, "DOCK-1")
	if n := len(w.Lots[0].Checks); n < 2 {
		t.Fatalf("only %d checks are asked for a site 38 km away", n)
	}
	look := core.Look(core.World{Now: s.now, Book: s.book, State: s.state}, "DOCK-1", w.Pallet)
	if !slices.ContainsFunc(look[0].Step.Checks, func(c core.Characteristic) bool { return c.ID == "packaging-straps" }) {
		t.Error("the tablet is not told to ask for straps")
	}
	without := w
	without.Lots = slices.Clone(w.Lots)
	without.Lots[0].Checks = slices.DeleteFunc(slices.Clone(w.Lots[0].Checks), func(c core.CheckReading) bool { return c.Characteristic == "packaging-straps" })
	r := s.refused("packaging-missing", without, "DOCK-1", "P26")
	same(t, "material", r.Params["material"], "strapped to the carrier")
	same(t, "distance", r.Params["distance"], "near, 38 km")
	unmet := without
	unmet.Lots = slices.Clone(without.Lots)
	unmet.Lots[0].Checks = append(slices.Clone(without.Lots[0].Checks), core.CheckReading{Characteristic: "packaging-straps"})
	s.refused("packaging-missing", unmet, "DOCK-1", "P26")
	out := s.send(core.Command{Body: unmet, Station: "DOCK-1", Waive: []core.Waiver{{Code: "packaging-missing", Reason: "in a stillage"}}}, "P26", "P03")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	i := slices.IndexFunc(out.Events[0].Checks, func(c core.Reading) bool { return c.Characteristic == "packaging-straps" })
	if i < 0 || out.Events[0].Checks[i].Met || out.Events[0].Waived[0].Code != "packaging-missing" {
		t.Errorf("on record: %+v", out.Events[0].Checks)
	}
	s.agrees()
}
