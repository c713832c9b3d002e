package intake_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

func asFS(t interface{ Fatal(...any) }, b intake.Bundle) fstest.MapFS {
	files, err := intake.Files(b)
	if err != nil {
		t.Fatal(err)
	}
	out := fstest.MapFS{}
	for n, data := range files {
		out[n] = &fstest.MapFile{Data: data}
	}
	return out
}

// TestSamplesWrittenReadEqual exports the samples to a real folder and imports them.
func TestSamplesWrittenReadEqual(t *testing.T) {
	b, dir := readSamples(t), t.TempDir()
	if err := intake.Write(dir, b); err != nil {
		t.Fatal(err)
	}
	again, faults := intake.Read(os.DirFS(dir), emptyShop())
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	b.Notes, again.Notes = nil, nil // notes name lines, and empty columns differ
	if !reflect.DeepEqual(b, again) {
		t.Error("what was written reads back as something else")
	}
	err := intake.Write(dir, b)
	if err == nil || err.Error() != "batches.csv is already in the folder; nothing was written, choose a folder without CSV files" {
		t.Errorf("writing over another export: %v", err)
	}
	if err := intake.Write(dir+"/none", b); err == nil || !strings.Contains(err.Error(), "write stations.csv") {
		t.Errorf("writing to no folder: %v", err)
	}
}

// texts draws what may break a CSV file or run in a spreadsheet.
var texts = rapid.OneOf(
	rapid.StringMatching(`[-=+@'"a-z][-=+@'",;\r\n\t a-zäß語]{0,12}x`),
	rapid.SampledFrom([]string{"=1+1", "+1", "-1", "@A1", "\t=1", "\r=1", "'=1", "''", "'", "'tis", "a,b", `c"d`, "e\r\nf", " lead", "trail ", "\ufeffbom"}))

var keys = rapid.StringMatching(`[A-Za-z0-9ö][-A-Za-z0-9_./+ ,"]{0,10}[A-Za-z0-9]`)

// perhaps is the zero value now and then.
func perhaps[T any](t *rapid.T, g *rapid.Generator[T], label string) T {
	if rapid.Bool().Draw(t, "no "+label) {
		var none T
		return none
	}
	return g.Draw(t, label)
}

func distinct[T any](g *rapid.Generator[T], lo, hi int, id func(T) string) *rapid.Generator[[]T] {
	return rapid.SliceOfNDistinct(g, lo, hi, id)
}

func same(s string) string { return s }

var (
	days = rapid.Custom(func(t *rapid.T) core.Date {
		return core.Date(fmt.Sprintf("%04d-%02d-%02d", rapid.IntRange(1900, 2199).Draw(t, "y"), rapid.IntRange(1, 12).Draw(t, "m"), rapid.IntRange(1, 28).Draw(t, "d")))
	})
	metals   = rapid.SampledFrom([]core.Metal{core.Aluminium, core.Stainless, core.Steel})
	decimals = rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(1, 999_999).Draw(t, "thousandths")) / 1000 })
	coords   = rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(-9_999_999, 9_999_999).Draw(t, "coord")) / 100 })
	bools    = rapid.Bool()
)

// bundles draws whole, consistent bundles.
var bundles = rapid.Custom(func(t *rapid.T) intake.Bundle {
	var b intake.Bundle
	for i, id := range distinct(keys, 1, 3, same).Draw(t, "stations") {
		s := core.Station{ID: core.StationID(id), Name: texts.Draw(t, "name"), Stages: []core.StageName{"cut", "weld"}[:1+i%2], Capacity: i, Bench: bools.Draw(t, "bench"), Dock: bools.Draw(t, "dock"), Site: bools.Draw(t, "site"), Order: i * 10, Km: i * 40, Abroad: bools.Draw(t, "abroad")}
		if i > 0 {
			s.Abrasive, s.Metal = keys.Draw(t, "abrasive"), metals.Draw(t, "metal")
		}
		b.Stations = append(b.Stations, s)
	}
	for _, id := range distinct(keys, 1, 3, same).Draw(t, "people") {
		p := core.Person{ID: core.PersonID(id), Name: texts.Draw(t, "name"), Roles: []core.Role{core.Operator, core.Admin}, Left: bools.Draw(t, "left")}
		for range rapid.IntRange(0, 2).Draw(t, "qualifications") {
			p.Qualifications = append(p.Qualifications, core.Qualification{Process: keys.Draw(t, "process"), Metal: perhaps(t, metals, "metal"), MaxThickness: perhaps(t, decimals, "max"), ValidTo: days.Draw(t, "to"), ConfirmBy: perhaps(t, days, "by"),
				Positions: rapid.SampledFrom([][]string{nil, {"PA"}, {"PB", "H-L045"}}).Draw(t, "positions")})
		}
		b.People = append(b.People, p)
	}
	b.Instruments = []core.Instrument{{ID: keys.Draw(t, "instrument"), Kind: texts.Draw(t, "kind"), Name: texts.Draw(t, "name"), DueBy: days.Draw(t, "due")}}
	b.Batches = []core.Batch{{Kind: keys.Draw(t, "kind"), Batch: keys.Draw(t, "batch"), Colour: perhaps(t, keys, "colour"), Expires: perhaps(t, days, "expires")}}

	names := distinct(keys, 3, 3, same).Draw(t, "routes")
	colour := keys.Draw(t, "colour")
	for i, n := range names {
		r := core.Route{RouteRef: core.RouteRef{Name: n, Version: rapid.IntRange(1, 9).Draw(t, "version")}, Rework: i == 2}
		for j := range rapid.IntRange(1, 3).Draw(t, "steps") {
			s := core.Step{No: 10 * (j + 1), Stage: []core.StageName{"cut", "coat", "coat-inspect"}[i], Look: perhaps(t, texts, "look"), Place: perhaps(t, keys, "place"), Parallel: perhaps(t, keys, "parallel"),
				AfterCoat: bools.Draw(t, "after"), ValidHours: perhaps(t, decimals, "hours"), Qualification: perhaps(t, keys, "qualification"), Minutes: perhaps(t, decimals, "minutes"),
				Position: rapid.SampledFrom([]string{"", "PF"}).Draw(t, "position")}
			if i == 2 {
				s.Sampling = rapid.SampledFrom([][]core.SampleRow{nil, {{UpTo: 8, Size: 2}, {Size: 5, Accept: 1, Source: "table, II"}}}).Draw(t, "sampling")
			}
			if i == 1 {
				s.Face, s.Colour = "outside", colour
			}
			for _, id := range distinct(keys, 0, 3, same).Draw(t, "checks") {
				c := core.Characteristic{ID: id, Text: texts.Draw(t, "text"), Kind: core.Tick, Instrument: perhaps(t, texts, "gauge"), Optional: bools.Draw(t, "optional"), Source: perhaps(t, texts, "source")}
				if bools.Draw(t, "measure") {
					lo, zero := coords.Draw(t, "lower"), 0.0
					c.Kind, c.Lower, c.Unit = core.Measure, &lo, texts.Draw(t, "unit")
					if lo <= 0 {
						c.Nominal, c.Upper = &zero, &zero
					}
				}
				s.Checks = append(s.Checks, c)
			}
			r.Steps = append(r.Steps, s)
		}
		b.Routes = append(b.Routes, r)
	}
	main, coat := b.Routes[0].RouteRef, b.Routes[1].RouteRef

	ids := distinct(keys, 6, 6, same).Draw(t, "items")
	rev := func(i int) core.ItemRev { return core.ItemRev{Item: core.ItemID(ids[i]), Rev: ids[5-i]} }
	metal, grade, thick := metals.Draw(t, "metal"), keys.Draw(t, "grade"), decimals.Draw(t, "thickness")
	item := func(i int, k core.ItemKind, r core.RouteRef) core.Revision {
		v := core.Revision{ItemRev: rev(i), Kind: k, Name: texts.Draw(t, "name"), Length: perhaps(t, decimals, "length"), Width: perhaps(t, decimals, "width"), NetArea: perhaps(t, decimals, "area"), MassEach: perhaps(t, decimals, "mass"),
			MaxBakes: rapid.IntRange(0, 5).Draw(t, "bakes"), EdgesAsCut: bools.Draw(t, "as cut"), FoldsFirst: bools.Draw(t, "folds"), Hand: rapid.SampledFrom([]string{"", "left", "right"}).Draw(t, "hand"), Route: r}
		if k == core.AssemblyItem {
			v.Metal = metal
		}
		if k == core.PartItem || k == core.SheetItem {
			v.Grade, v.Metal, v.Thickness = grade, metal, thick
		}
		return v
	}
	sheet, part, painted := item(0, core.SheetItem, main), item(1, core.PartItem, main), item(2, core.PartItem, coat)
	painted.Finish = []core.Finish{{Face: "outside", Colour: colour, Protect: bools.Draw(t, "protect")}}
	for range rapid.IntRange(0, 2).Draw(t, "rings") {
		n := rapid.SampledFrom([]int{3, 4, 700}).Draw(t, "points")
		ring := make([]float64, 2*n)
		for i := range ring {
			ring[i] = coords.Draw(t, "xy")
		}
		part.Outline = append(part.Outline, ring)
	}
	bought := item(3, core.BoughtItem, main)
	assembly := item(4, core.AssemblyItem, main)
	assembly.Bill = []core.Component{{Item: part.ItemRev, Qty: rapid.IntRange(1, 9).Draw(t, "qty")}, {Item: bought.ItemRev, Qty: 2}}
	product := item(5, core.ProductItem, core.RouteRef{})
	product.Bill = []core.Component{{Item: assembly.ItemRev, Qty: 2}, {Item: painted.ItemRev, Qty: 1}}
	b.Items = []core.Revision{sheet, product, assembly, part, painted, bought}

	for _, no := range distinct(keys, 1, 2, same).Draw(t, "orders") {
		o := core.Order{No: no, Customer: texts.Draw(t, "customer"), Site: perhaps(t, texts, "site"), Reference: perhaps(t, texts, "reference"), Promised: days.Draw(t, "promised"),
			LongHaul: bools.Draw(t, "long"), Priority: rapid.IntRange(0, 9).Draw(t, "priority"), Consent: bools.Draw(t, "consent")}
		for l := range rapid.IntRange(1, 3).Draw(t, "lines") {
			// More than all nests together may cut: a surplus would go to stock.
			o.Lines = append(o.Lines, core.OrderLine{Owner: core.Owner{Order: no, Line: l + 1}, Item: product.ItemRev, Qty: rapid.IntRange(600, 999).Draw(t, "qty")})
		}
		b.Orders = append(b.Orders, o)
	}
	for _, id := range distinct(keys, 0, 3, same).Draw(t, "nests") {
		n := core.Nest{ID: id, Material: sheet.ItemRev}
		for i := range rapid.IntRange(1, 4).Draw(t, "parts") {
			p := core.NestPart{No: i + 1, Item: part.ItemRev, Qty: rapid.IntRange(1, 99).Draw(t, "qty")}
			if bools.Draw(t, "owned") {
				p.Owner = b.Orders[0].Lines[0].Owner
			}
			n.Parts = append(n.Parts, p)
		}
		b.Nests = append(b.Nests, n)
	}
	for _, no := range distinct(keys, 0, 3, same).Draw(t, "sheets") {
		b.Sheets = append(b.Sheets, intake.Sheet{No: no, Material: sheet.ItemRev, Heat: keys.Draw(t, "heat"), Slot: perhaps(t, keys, "slot"), Certificate: perhaps(t, texts, "certificate")})
		b.Bought = append(b.Bought, intake.Bought{No: no, Item: bought.ItemRev, Qty: 3, Batch: perhaps(t, keys, "batch"), Expires: perhaps(t, days, "expires"), Slot: perhaps(t, keys, "slot"), Certificate: perhaps(t, texts, "certificate")})
	}
	return b
})

// TestRoundTrip holds that any whole bundle, written and read, is itself again.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := bundles.Draw(t, "bundle")
		got, faults := intake.Read(asFS(t, b), emptyShop())
		if len(faults) > 0 {
			t.Fatalf("%d faults, the first: %v", len(faults), faults[0])
		}
		got.Notes = nil
		if !reflect.DeepEqual(got, b) {
			t.Fatalf("got  %+v\nwant %+v", got, b)
		}
	})
}

// TestWrittenIsCSV holds that another reader, Go's encoding/csv, takes what is
// written, and that no text field could start a formula (OWASP ASVS 1.2.10).
func TestWrittenIsCSV(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		files, err := intake.Files(bundles.Draw(t, "bundle"))
		if err != nil {
			t.Fatal(err)
		}
		for name, data := range files {
			records, err := csv.NewReader(strings.NewReader(string(data))).ReadAll()
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for _, r := range records[1:] {
				for i, f := range r {
					negative := slices.Contains([]string{"nominal", "lower", "upper", "points_mm"}, records[0][i])
					if f != "" && strings.ContainsRune("=+-@\t\r\x00", rune(f[0])) && !negative {
						t.Fatalf("%s, %s: %q could run as a formula", name, records[0][i], f)
					}
				}
			}
		}
	})
}

// TestWriteRefuses holds what has no place in the files.
func TestWriteRefuses(t *testing.T) {
	for _, c := range []struct {
		person core.Person
		want   string
	}{
		{core.Person{ID: "P1", Name: "a\x00"}, `people.csv can't be written: name "a\x00" holds a control character`},
		{core.Person{ID: "P1"}, `people.csv can't be written: name nothing is empty, and the format has to have it`},
		{core.Person{ID: "P1", Name: "a\xff"}, `people.csv can't be written: name "a\xff" is not UTF-8`},
		{core.Person{ID: "=P1", Name: "a"}, `people.csv can't be written: person "=P1" is no key: ` + keyWant},
		{core.Person{ID: "P1", Name: strings.Repeat("a", intake.MaxFieldBytes+1)}, `people.csv can't be written: name "` + strings.Repeat("a", 59) + `…" is longer than 4096 bytes`},
	} {
		if _, err := intake.Files(intake.Bundle{People: []core.Person{c.person}}); err == nil || err.Error() != c.want {
			t.Errorf("got %v\nwant %s", err, c.want)
		}
	}
	big := make([]core.Person, 10_000)
	for i := range big {
		big[i] = core.Person{ID: "P", Name: strings.Repeat("n", 4000)}
	}
	if _, err := intake.Files(intake.Bundle{People: big}); err == nil || !strings.Contains(err.Error(), "write fewer orders or items at a time") {
		t.Errorf("a file above the limit: %v", err)
	}
}
