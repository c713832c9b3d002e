package intake_test

import (
	"slices"
	"strings"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// only keeps some files of the tiny shop.
func only(names ...string) map[string]string {
	out := map[string]string{}
	for _, n := range names {
		out[n] = tiny[n]
	}
	return out
}

// TestHalfAnImport: what was left behind is named once, not on every line.
func TestHalfAnImport(t *testing.T) {
	for _, c := range []struct {
		files []string
		want  []string
	}{
		{[]string{"qualifications.csv"}, []string{"qualifications.csv: found lines about people, and no people.csv beside it; expected people.csv in the same import: it says which people they are."}},
		{[]string{"checks.csv"}, []string{"checks.csv: found lines about routes, and no routes.csv beside it; expected routes.csv in the same import: it says which routes they are."}},
		{[]string{"finishes.csv", "outlines.csv"}, []string{
			"finishes.csv: found lines about items, and no items.csv beside it; expected items.csv in the same import: it says which items they are.",
			"outlines.csv: found lines about items, and no items.csv beside it; expected items.csv in the same import: it says which items they are."}},
		{[]string{"orders.csv"}, []string{"orders.csv, line 2: found order O1, new to the shop, and no lines.csv beside it; expected lines.csv in the same import, with what each order is for."}},
		{[]string{"routes.csv", "items.csv", "finishes.csv"}, []string{
			"items.csv, line 4: found the assembly AS rev 1, new to the shop, and no bills.csv beside it; expected bills.csv in the same import, with what assemblies, products and kits are made of."}},
	} {
		faultCase{want: c.want}.hold(t, folder(only(c.files...)), emptyShop())
	}
}

// TestWhatAFileLeftOutSaysStays: a file that isn't there takes nothing away from
// what the shop knows.
func TestWhatAFileLeftOutSaysStays(t *testing.T) {
	b, _ := intake.Read(folder(tiny), emptyShop())
	known := shopOf(b)
	got, faults := intake.Read(folder(only("people.csv", "routes.csv", "items.csv", "orders.csv")), known)
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	n := got.News(known)
	if k := len(n.People) + len(n.Routes) + len(n.Items) + len(n.Orders); k != 0 {
		t.Errorf("without the files that complete them, %d things changed: %+v", k, n)
	}
	// An empty one does: it says that there is none.
	got, faults = intake.Read(folder(only("people.csv"), "qualifications.csv", "person,process,valid_to\n"), known)
	if n := got.News(known); len(faults) > 0 || len(n.People) != 1 || len(n.People[0].Qualifications) != 0 {
		t.Errorf("an empty qualifications.csv: %v, %+v", faults, n.People)
	}
}

// TestOnlyANameOfATable: files that are no text say what they are.
func TestOnlyANameOfATable(t *testing.T) {
	for begins, want := range map[string]string{
		"PK\x03\x04\x14\x00":                "a workbook or a packed folder, not text",
		"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1b": "a workbook of an older office program, not text",
		"%PDF-1.7\n":                        "a PDF, not text",
	} {
		faultCase{want: []string{"batches.csv, line 1: found " + want + "; expected a table saved as CSV in UTF-8."}}.
			hold(t, folder(map[string]string{"batches.csv": begins}), emptyShop())
	}
}

// TestFilesChosenOneByOne: each of them is meant.
func TestFilesChosenOneByOne(t *testing.T) {
	file := func(name, data string) intake.File { return intake.File{Name: name, Data: []byte(data)} }
	_, faults := intake.OpenFiles([]intake.File{file("batches.csv", tiny["batches.csv"]), file("stations.xlsx", "x"), file("batches.csv", tiny["batches.csv"]),
		file("Ordres.CSV", "x"), file("sheets.csv", strings.Repeat("x", intake.MaxFileBytes+1))}).Read(emptyShop())
	var got []string
	for _, f := range faults {
		got = append(got, f.String())
	}
	want := []string{
		"Ordres.CSV: found a file of an unknown name; expected the name orders.csv.",
		"stations.xlsx: found a file that is not CSV; expected a table saved as CSV in UTF-8, its name ending in .csv.",
		"batches.csv: found a second file of this name; expected each file once; put their lines into one.",
		"sheets.csv: found more than 32 MiB; expected at most 32 MiB in a file; split it over several folders and import one after the other.",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
	b, faults := intake.OpenFiles([]intake.File{file("batches.csv", tiny["batches.csv"])}).Read(emptyShop())
	if len(faults) > 0 || !slices.Equal(b.Batches, []core.Batch{{Kind: "filler", Batch: "B1"}}) {
		t.Errorf("%+v %v", b, faults)
	}
	_, faults = intake.OpenFiles(nil).Read(emptyShop())
	if len(faults) != 1 || !strings.HasPrefix(faults[0].String(), "the folder: found no CSV file") {
		t.Errorf("no file at all: %v", faults)
	}
}
