package intake_test

import (
	"os"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// What the nests cut beyond an order line's asking is stock's, in the files that
// are written too: the sample nest N-7010 cuts 42 corner brackets for 40 asked.
func TestSurplusGoesToStock(t *testing.T) {
	b, faults := intake.Read(os.DirFS("../../testdata/samples"), emptyShop())
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	again, faults := intake.Read(asFS(t, b), emptyShop())
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	for name, nests := range map[string][]core.Nest{"read": b.Nests, "written and read": again.Nests} {
		got := map[string]int{}
		for _, n := range nests {
			seen := map[int]bool{}
			for _, p := range n.Parts {
				if seen[p.No] || p.Qty < 1 {
					t.Errorf("%s: nest %s has part %d twice, or none of it", name, n.ID, p.No)
				}
				seen[p.No] = true
				if n.ID == "N-7010" && p.Item.Item == "BK-90" {
					got[p.Owner.String()] += p.Qty
				}
			}
		}
		if got["O-4107/1"] != 40 || got["stock"] != 2 || got["O-4101/1"] != 8 || len(got) != 3 {
			t.Errorf("%s: N-7010 cuts corner brackets for %v", name, got)
		}
	}
}
