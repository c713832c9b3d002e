package intake_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tagalong/internal/intake"
)

// said is a plan of changes as one line each.
func said(files []intake.FileChange) []string {
	var out []string
	for _, f := range files {
		for _, c := range f.Changes {
			s := fmt.Sprintf("%s:%d %s %s", f.File, c.Line, c.Verdict, c.Name)
			for _, x := range c.Fields {
				s += fmt.Sprintf(" [%s %q > %q]", x.Column, x.Old, x.New)
			}
			out = append(out, s)
		}
	}
	return out
}

func countsOf(files []intake.FileChange) map[intake.Verdict]int {
	out := map[intake.Verdict]int{}
	for _, f := range files {
		for v, n := range f.Counts {
			if n > 0 {
				out[v] += n
			}
		}
	}
	return out
}

// TestChanges holds what is said of lines that are new, changed, taken out and
// the same, with the lines they stand on.
func TestChanges(t *testing.T) {
	old, _ := intake.Read(folder(tiny), emptyShop())
	old.Orders[0].Reference = "R1"
	known := shopOf(old)
	f := intake.Open(folder(only("people.csv", "routes.csv", "checks.csv"),
		"people.csv", "person,name,roles,left\nP2,Bo,admin,\nP1,Anna,operator,no\n",
		"qualifications.csv", "person,process,valid_to\nP1,rivet,2027-02-01\nP1,rivet,2027-03-01\n",
		"orders.csv", "order,customer,promised\nO1,\"Moor\nand Fen\",2026-12-01\n",
		"lines.csv", "order,line,item,rev,qty\nO1,01,AS,1,1\nO1,2,PA,1,4\n"))
	if _, faults := f.Read(known); len(faults) > 0 {
		t.Fatal(faults[0])
	}
	got := said(f.Changes())
	want := []string{
		`people.csv:2 new P2 [name "" > "Bo"] [roles "" > "admin"]`,
		`people.csv:3 changed P1 [name "Ann" > "Anna"]`,
		`qualifications.csv:0 taken out P1, weld [valid_to "2027-01-01" > ""]`,
		`qualifications.csv:2 new P1, rivet [valid_to "" > "2027-02-01"]`,
		`qualifications.csv:3 new P1, rivet [valid_to "" > "2027-03-01"]`,
		`orders.csv:2 changed O1 [customer "Moor" > "Moor\nand Fen"] [reference "R1" > ""]`,
		`lines.csv:3 new O1, line 2 [item "" > "PA"] [rev "" > "1"] [qty "" > "4"]`,
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
	counts := countsOf(f.Changes())
	if counts[intake.New] != 4 || counts[intake.Changed] != 2 || counts[intake.Gone] != 1 || counts[intake.Same] != 5 || counts[intake.Refused] != 0 {
		t.Errorf("counts %v", counts)
	}
}

// TestChangesOfASplitNest shows the line that a surplus makes, and rings whose
// lines continue each other, once.
func TestChangesOfASplitNest(t *testing.T) {
	f := intake.Open(folder(tiny, "nests.csv", nestHead+"N1,SH,1,1,PA,1,O1,1,5\n",
		"outlines.csv", "item,rev,ring,points_mm\nPA,1,1,0 0;9 0\nPA,1,1,9 9\n"))
	if _, faults := f.Read(emptyShop()); len(faults) > 0 {
		t.Fatal(faults[0])
	}
	got := said(f.Changes())
	for _, want := range []string{
		`nests.csv:0 new N1, part 2 [material "" > "SH"] [material_rev "" > "1"] [item "" > "PA"] [rev "" > "1"] [qty "" > "3"]`,
		`nests.csv:2 new N1, part 1 [material "" > "SH"] [material_rev "" > "1"] [item "" > "PA"] [rev "" > "1"] [order "" > "O1"] [line "" > "1"] [qty "" > "2"]`,
		`outlines.csv:2 new PA, rev 1, ring 1 [points_mm "" > "0 0;9 0;9 9"]`,
	} {
		if !slices.Contains(got, want) {
			t.Errorf("no %s in\n  %s", want, strings.Join(got, "\n  "))
		}
	}
}

// TestChangesBesideFaults: lines that are right are still told, wrong ones are
// counted, and nothing is said to be taken out.
func TestChangesBesideFaults(t *testing.T) {
	old, _ := intake.Read(folder(tiny), emptyShop())
	known := shopOf(old)
	f := intake.Open(folder(only("people.csv"), "people.csv", "person,name,roles\nP1,Ann,operator\nP2,Bo,welder\nP3,\"C\nD\",\"admin\nx\"\nP4,Di,admin\nP5\n",
		"qualifications.csv", "person,process,valid_to\nP1,weld,never\n"))
	_, faults := f.Read(known)
	if len(faults) != 4 {
		t.Fatalf("faults %v", faults)
	}
	if got, want := said(f.Changes()), []string{`people.csv:7 new P4 [name "" > "Di"] [roles "" > "admin"]`}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	counts := countsOf(f.Changes())
	if counts[intake.New] != 1 || counts[intake.Same] != 1 || counts[intake.Refused] != 4 || counts[intake.Gone] != 0 {
		t.Errorf("counts %v", counts)
	}
}
