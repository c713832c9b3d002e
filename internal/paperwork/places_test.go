package paperwork_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
)

func TestSlotsAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string][]string{
		"A1":                    {"A1"},
		"a1-a3, B07":            {"A1", "A2", "A3", "B07"},
		"C08-C11":               {"C08", "C09", "C10", "C11"},
		" 3-5 ;\nX":             {"3", "4", "5", "X"},
		"C12-TOP, FLOOR":        {"C12-TOP", "FLOOR"},
		"EAST 1 - EAST 2":       {"EAST 1", "EAST 2"},
		"A1-B3":                 {"A1-B3"}, // not one row: a name with a dash
		"A10-A9":                nil,
		"":                      nil,
		" , ;":                  nil,
		"Ä1":                    nil,
		"A1_A2":                 nil,
		"A1-A401":               nil,
		"A1-A999999999":         nil,
		strings.Repeat("A", 21): nil,
	} {
		got, err := paperwork.Slots(text)
		if want == nil {
			if refused, ok := errors.AsType[*app.Refused](err); !ok || refused.Refusal.Code != "bad-value" {
				t.Errorf("%q: %q, %v", text, got, err)
			}
			continue
		}
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%q: %q, %v", text, got, err)
		}
	}
}

func TestStationSignsAreInTheShopsOrder(t *testing.T) {
	s, _, _ := shop(t)
	signs := paperwork.StationSigns(app.Shop{Name: "Corrie Sheetworks", Demo: true, Address: "HTTPS://SHOP.EXAMPLE"}, s.World.Book)
	if len(signs) != len(s.World.Book.Stations) || signs[0].Code != "STORE-1" || signs[0].Name != "pallet store" || signs[0].Notice != paperwork.DemoNotice {
		t.Errorf("%d signs, the first %+v", len(signs), signs[0])
	}
	for _, g := range signs {
		if g.Address != "HTTPS://SHOP.EXAMPLE/T/"+g.Code || len(g.Stages) == 0 {
			t.Errorf("the sign %+v", g)
		}
	}
}

func TestSlotSignsLeadToTheirStore(t *testing.T) {
	s, _, _ := shop(t)
	store, err := paperwork.StoreOf(s.World.Book, "")
	if err != nil || store.ID != "STORE-1" {
		t.Fatalf("the store is %s, %v", store.ID, err)
	}
	signs := paperwork.SlotSigns(app.Shop{Address: "HTTPS://SHOP.EXAMPLE"}, store, []string{"A1", "EAST 1"})
	if len(signs) != 2 || signs[0].Address != "HTTPS://SHOP.EXAMPLE/T/STORE-1/A1" || signs[1].Address != "HTTPS://SHOP.EXAMPLE/T/STORE-1/EAST%201" || signs[1].Place != "EAST 1" {
		t.Errorf("the signs %+v", signs)
	}
	for _, id := range []core.StationID{"WELD-1", "NOWHERE"} {
		if _, err := paperwork.StoreOf(s.World.Book, id); err == nil {
			t.Errorf("%s has slots", id)
		}
	}
}

// A container says what is in it, where it goes, and which of how many it is.
func TestContainerLabels(t *testing.T) {
	s, _, _ := shop(t)
	s.Pallet("P9CD2FHT", "DOCK-1")
	s.Lot("P9CD2FHT", "BF-2400", hospital, 1, "")
	const truck = "C7TW5HGE"
	if s.World.State.Consignments == nil {
		s.World.State.Consignments = map[core.ConsignmentCode]core.Consignment{}
	}
	s.World.State.Consignments[truck] = core.Consignment{Code: truck, Site: "SITE-LARKFIELD", Day: "2026-12-02", Pallets: []core.PalletCode{pallet, "P9CD2FHT"}}
	for _, p := range []core.PalletCode{pallet, "P9CD2FHT"} {
		s.Change(p, func(row *core.PalletRow) { row.Consignment = truck })
	}
	labels, err := paperwork.ContainerLabels(t.Context(), s.Service(t), truck, "")
	if err != nil || len(labels) != 2 {
		t.Fatalf("%d labels, %v", len(labels), err)
	}
	a := labels[0]
	if a.Code != "P4K7 M2QX" || a.Address != "HTTPS://SHOP.EXAMPLE/P/P4K7M2QX" || a.Consignment != "C7TW 5HGE" || a.NumberText() != "1 of 2" || a.Kind != "pallet" ||
		a.Site != "fitting site, Larkfield" || a.Leaves.Format("2006-01-02") != "2026-12-02" || a.Customer != "Brackenmoor Hospital Estates" ||
		!slices.Equal(a.Orders, []paper.OrderPart{{Order: "O-4101", Nth: 1, Of: 2}}) || len(a.Contents) != 2 || a.Contents[1].Count != 20 || !a.CutHazard || len(a.Marks) != 3 || a.Notice != paperwork.DemoNotice {
		t.Errorf("the first: %+v", a)
	}
	one, err := paperwork.ContainerLabels(t.Context(), s.Service(t), truck, "P9CD2FHT")
	if err != nil || len(one) != 1 || one[0].NumberText() != "2 of 2" {
		t.Errorf("one alone: %+v, %v", one, err)
	}
	for _, c := range []struct {
		truck core.ConsignmentCode
		only  core.PalletCode
	}{{"CUNKNOWN", ""}, {truck, "PUNKNOWN"}} {
		if _, err := paperwork.ContainerLabels(t.Context(), s.Service(t), c.truck, c.only); !errors.Is(err, app.ErrNotFound) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// Labels of one truck are put together by order, each numbered among its own
// order's carriers too; those of an order are all that have not left.
func TestLabelsByOrder(t *testing.T) {
	s, _, _ := shop(t)
	school := core.Owner{Order: "O-4102", Line: 1}
	carriers := []core.PalletCode{"P9CD2FHT", "P9CD2FHC", "P9CD2FHK", "P9CD2FHM"}
	for i, owner := range []core.Owner{school, hospital, hospital, hospital} {
		s.Pallet(carriers[i], "DOCK-1")
		s.Lot(carriers[i], "WP-2400", owner, 1, "")
	}
	s.Lot(carriers[1], "WP-2400", school, 2, "") // of both orders
	const truck = "C7TW5HGE"
	loaded := carriers[:3]
	s.World.State.Consignments = map[core.ConsignmentCode]core.Consignment{
		truck: {Code: truck, Site: "SITE-LARKFIELD", Day: "2026-12-02", Pallets: loaded, Gross: []core.GrossMass{{Pallet: carriers[1], Kg: 141}}},
	}
	for _, p := range loaded {
		s.Change(p, func(row *core.PalletRow) { row.Consignment = truck })
	}
	said := func(labels []paper.ContainerLabel) (out []string) {
		for _, l := range labels {
			text := l.Code + " " + l.NumberText()
			for _, o := range l.Orders {
				text += fmt.Sprintf("; %s %d/%d", o.Order, o.Nth, o.Of)
			}
			if l.GrossKg > 0 {
				text += fmt.Sprintf("; %g kg", l.GrossKg)
			}
			out = append(out, text)
		}
		return out
	}
	byTruck, err := paperwork.ContainerLabels(t.Context(), s.Service(t), truck, "")
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"P9CD 2FHC 2 of 3; O-4101 1/2; O-4102 2/2; 141 kg", "P9CD 2FHK 3 of 3; O-4101 2/2", "P9CD 2FHT 1 of 3; O-4102 1/2"}
	if got := said(byTruck); !slices.Equal(got, want) {
		t.Errorf("labels of the truck:\n%q, want\n%q", got, want)
	}
	byOrder, err := paperwork.OrderLabels(t.Context(), s.Service(t), "O-4101")
	if err != nil {
		t.Fatal(err)
	}
	if got := said(byOrder); !slices.Equal(got, []string{want[0], want[1], "P9CD 2FHM not numbered; O-4101 1/1"}) {
		t.Errorf("labels of the order:\n%q", got)
	}
	for _, no := range []string{"O-4103", "O-0000"} {
		if labels, err := paperwork.OrderLabels(t.Context(), s.Service(t), no); !errors.Is(err, app.ErrNotFound) {
			t.Errorf("labels of %s: %d, %v", no, len(labels), err)
		}
	}
}

// An order's pallets are those still here with parts of it.
func TestOrderPallets(t *testing.T) {
	s, _, _ := shop(t)
	s.Pallet("P9CD2FHT", "WELD-1")
	s.Lot("P9CD2FHT", "BF-2400", hospital, 1, "weld-inspect")
	got, err := paperwork.OrderPallets(t.Context(), s.Service(t), "O-4101")
	if err != nil || !slices.Equal(got, []core.PalletCode{pallet, "P9CD2FHT"}) {
		t.Errorf("%q, %v", got, err)
	}
	sheets, err := paperwork.Newest(t.Context(), s.Service(t), got)
	if err != nil || len(sheets) != 2 || sheets[0].Code != "P4K7 M2QX" || sheets[1].Code != "P9CD 2FHT" {
		t.Errorf("%d sheets, %v", len(sheets), err)
	}
	if _, err := paperwork.OrderPallets(t.Context(), s.Service(t), "O-0000"); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("an unknown order: %v", err)
	}
	if _, err := paperwork.Newest(t.Context(), s.Service(t), []core.PalletCode{pallet, "PUNKNOWN"}); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("an unknown pallet: %v", err)
	}
}
