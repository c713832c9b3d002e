package postgres_test

import (
	"strings"
	"testing"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

func TestSearch(t *testing.T) {
	f := newFixture(t)
	if _, _, err := f.SaveBook(t.Context(), "", "x", sampleRows()); err != nil {
		t.Fatal(err)
	}
	pallet, _ := f.bear(t, "born", 1, core.Owner{})
	orders := []core.Order{
		{No: "O-41", Customer: "Northmoor Hospital Trust", Reference: "PO 778-B", Promised: "2026-12-01"},
		{No: "O-410", Customer: "Eastgate School", Reference: "QR-318", Promised: "2026-12-02"},
		{No: "O-5", Customer: "O'Hara & Søn", Reference: "BHE/26/881 a.b_7 <x@y>", Promised: "2026-12-03"},
	}
	f.do(t, "enlist", core.Names{Orders: []string{"O-41", "O-410", "O-5"}}, func(w core.World) core.Outcome {
		out := happen("enlist", w, core.EvImported)
		for i := range orders {
			out.Events[0].Effects = append(out.Events[0].Effects, core.Effect{OrderPut: &orders[i]})
		}
		return out
	})
	var truck core.ConsignmentCode
	f.do(t, "truck", core.Names{}, func(w core.World) core.Outcome {
		truck = w.Codes.Consignments[0]
		return happen("truck", w, core.EvLoaded, core.Effect{ConsignmentPut: &core.Consignment{Code: truck, Site: "SITE-X", Day: "2026-11-30"}})
	})
	spaced := strings.ToLower(code.Code(pallet).Spaced())
	for _, c := range []struct {
		text string
		want []string // kind and key, in order
	}{
		{"o-41", []string{"order O-41", "order O-410"}},
		{"O-410", []string{"order O-410"}},
		{"northm", []string{"order O-41"}},
		{"trust hosp", []string{"order O-41"}},
		{"778", []string{"order O-41"}},
		{"QR-318", []string{"order O-410"}}, {"318", []string{"order O-410"}}, {"qr 3", []string{"order O-410"}},
		{"BHE/26/881", []string{"order O-5"}}, {"bhe 881", []string{"order O-5"}}, {"26/881", []string{"order O-5"}},
		{"a.b_7", []string{"order O-5"}}, {"<x@y>", []string{"order O-5"}},
		{"o'hara", []string{"order O-5"}},
		{"søn", []string{"order O-5"}},
		{"school", []string{"order O-410"}},
		{string(pallet), []string{"pallet " + string(pallet)}},
		{spaced, []string{"pallet " + string(pallet)}},
		{spaced[:6], []string{"pallet " + string(pallet)}},
		{string(truck), []string{"consignment " + string(truck)}},
		{"br-1", []string{"item BR-1@A"}},
		{"bracket", []string{"item BR-1@A"}},
		{"left brack", []string{"item BR-1@A"}},
		{"no such thing", nil},
		{"%", nil}, {"'; DROP TABLE lot; --", nil}, {"   ", nil}, {"a\x00b", nil}, {"\xff", nil}, {"!!!", nil},
	} {
		var got []string
		for _, h := range must(f.Search(t.Context(), c.text, 10))(t) {
			got = append(got, h.Kind+" "+h.Key)
		}
		if strings.Join(got, ", ") != strings.Join(c.want, ", ") {
			t.Errorf("%q found %v, want %v", c.text, got, c.want)
		}
	}
	f.plant(t, `INSERT INTO orders (no, customer, reference, promised, priority, open, body)
		SELECT 'O-4' || n, 'Ewelease Farm', '', '2020-01-01', 0, n = '05', '{}' FROM unnest(ARRAY['05', '15', '2', '3']) n`)
	f.plant(t, "UPDATE orders SET open = true WHERE no IN ('O-41', 'O-410')") // they ask for nothing
	for limit, want := range map[int]string{
		9: "O-405 O-41 O-410 O-43 O-42 O-415", // those still open, then those closed, the latest first
		4: "O-405 O-41 O-410 O-43",
		2: "O-405 O-41",
	} {
		var got []string
		for _, h := range must(f.Search(t.Context(), "o-4", limit))(t) {
			got = append(got, h.Key)
		}
		if strings.Join(got, " ") != want {
			t.Errorf("at most %d of O-4: %v, want %s", limit, got, want)
		}
	}
	if hits := must(f.Search(t.Context(), "O-4", 1))(t); len(hits) != 1 {
		t.Errorf("limit 1 gave %d", len(hits))
	}
	if hits := must(f.Search(t.Context(), string(pallet), 1))(t); hits[0].Title != code.Code(pallet).Spaced() {
		t.Errorf("title %q", hits[0].Title)
	}
}
