package station

import (
	"fmt"

	"tagalong/internal/core"
)

// sampleText says what the plan asks and when it refuses the lot.
func sampleText(p core.Presented) string {
	most := "one bad part refuses the lot"
	if p.Accept > 0 {
		most = fmt.Sprintf("more than %d bad refuse the lot", p.Accept)
	}
	return fmt.Sprintf("Sample: look at %d of %d; %s", p.Size, p.Of, most)
}

// looked are the numbers to choose from: the plan's, and the whole lot.
func looked(p core.Presented, qty int) []int {
	if p.Size >= qty {
		return []int{qty}
	}
	return []int{p.Size, qty}
}

// sampled reports whether a step judges the lot by a sample.
func sampled(l core.Lot, s core.Step) bool {
	_, ok := core.PlanOf(l, s)
	return ok
}
