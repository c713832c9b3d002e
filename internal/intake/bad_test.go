package intake_test

import (
	"os"
	"strings"
	"testing"

	"tagalong/internal/intake"
)

// TestBadFolder reads the planted faults of testdata/samples/bad from disk and
// compares what is said with the list written by hand beside them.
func TestBadFolder(t *testing.T) {
	want, err := os.ReadFile(samples + "/bad/expected.txt")
	if err != nil {
		t.Fatal(err)
	}
	_, faults := intake.Read(os.DirFS(samples+"/bad"), emptyShop())
	var got strings.Builder
	for _, f := range faults {
		got.WriteString(f.String() + "\n")
	}
	if got.String() != string(want) {
		t.Errorf("got\n%s\nwant\n%s", got.String(), want)
	}
}

// TestDeepBill refuses a bill of more levels than any product has.
func TestDeepBill(t *testing.T) {
	var items, bills strings.Builder
	items.WriteString(itemHead + "Z,1,bought,z,,,,CUT,1\n")
	bills.WriteString("item,rev,component,component_rev,qty\nA,1,Z,1,1\n")
	for c := 'A'; c <= 'U'; c++ {
		items.WriteString(string(c) + ",1,assembly,a,,steel,,CUT,1\n")
		if c > 'A' {
			bills.WriteString(string(c) + ",1," + string(c-1) + ",1,1\n")
		}
	}
	faultCase{want: []string{"bills.csv, line 22, column 1 (item): found a bill 21 levels deep under item U rev 1; expected at most 20 levels."}}.
		hold(t, folder(map[string]string{"routes.csv": tiny["routes.csv"], "items.csv": items.String(), "bills.csv": bills.String()}), emptyShop())
}

// TestNoStages reads against a shop that has laid nothing down.
func TestNoStages(t *testing.T) {
	faultCase{want: []string{`stations.csv, line 2, column 3 (stages): found the unknown stage "cut"; expected a stage of the shop's table.`}}.
		hold(t, folder(map[string]string{"stations.csv": tiny["stations.csv"]}), intake.Known{})
	faultCase{want: []string{`lines.csv: found lines about orders, and no orders.csv beside it; expected orders.csv in the same import: it says which orders they are.`,
		`lines.csv, line 2, column 3 (item): found the unknown item AS rev 1; expected an item of items.csv or of the shop, at a revision it has.`}}.
		hold(t, folder(map[string]string{"lines.csv": tiny["lines.csv"]}), intake.Known{})
	faultCase{want: []string{`items.csv, line 2, column 8 (route): found the unknown route CUT v1; expected a route of routes.csv or of the shop.`}}.
		hold(t, folder(map[string]string{"items.csv": itemHead + "BO,1,bought,hinge,,,,CUT,1\n"}), intake.Known{})
}
