package app

import (
	"iter"
	"slices"
	"strings"
)

// phoneLength is how many characters of clauses one listens to; what is longer
// is told as its gist, and the rest is a list to look at.
const phoneLength = 200

// Sentence says how an order stands, to be read out on the phone: whose it is,
// how far it has come, what most stands in its way, and what was promised. What
// it leaves out it counts; [Details] has all of it. It never names a date that
// was not promised or recorded.
func Sentence(v OrderView) string {
	said, _ := standing(&v)
	return said
}

// Details are the sentences of which [Sentence] has told only the gist; none
// where it has told everything.
func Details(v OrderView) []string {
	_, details := standing(&v)
	return details
}

func standing(v *OrderView) (said string, details []string) {
	head := "Order " + v.Order.No
	if v.Order.Customer != "" {
		head += " for " + v.Order.Customer
	}
	lead, rest := clauses(*v)
	if long(lead, rest) {
		for _, c := range rest {
			details = append(details, sentence(upperFirst(c)))
		}
		more := len(rest) - 1
		rest = []string{rest[0] + ", and " + counted(more, "more thing") + " " + verb(more, "is", "are") + " open"}
	}
	return head + ": " + strings.Join(append(lead, rest...), "; ") + ". " + promiseSentence(*v), details
}

// long reports whether clauses are more than one says on the phone.
func long(lead, rest []string) bool {
	n := 0
	for _, c := range append(slices.Clone(lead), rest...) {
		n += len([]rune(c)) + 2
	}
	return n > phoneLength && len(rest) > 1
}

// clauses say how far an order has come, and what is still to be done, what
// stands most in the way first.
func clauses(v OrderView) (lead, rest []string) {
	switch {
	case v.Gone():
		lead = goneClauses(v)
	case v.untouched():
		lead = []string{"nothing of it is cut yet"}
	default:
		var reached Reach
		lead, reached = leadClauses(v)
		lacking, later := lackClauses(v)
		rest = slices.Concat(heldClauses(v), lacking, waitClauses(v, reached), later)
	}
	if len(lead)+len(rest) == 0 {
		lead = []string{"nothing of it is in the shop yet"}
	}
	return lead, rest
}

// untouched reports whether no part of the order has been cut.
func (v OrderView) untouched() bool {
	var any func(n Need) bool
	any = func(n Need) bool { return n.There > 0 || n.ToBreak > 0 || slices.ContainsFunc(n.Parts, any) }
	for range v.lots() {
		return false
	}
	return !slices.ContainsFunc(v.Needs, any)
}

// lots are all of the order's, on pallets or not.
func (v OrderView) lots() iter.Seq[*OrderLot] {
	return func(yield func(*OrderLot) bool) {
		for i := range v.Loose {
			if !yield(&v.Loose[i]) {
				return
			}
		}
		for _, p := range v.Pallets {
			for i := range p.Lots {
				if !yield(&p.Lots[i]) {
					return
				}
			}
		}
	}
}

// promiseSentence is the last one: the promised date, and what is late.
func promiseSentence(v OrderView) string {
	text := promise(v.Order.Promised, v.Today())
	if !v.Late() {
		return text + "."
	}
	late := lateItems(v)
	if late == "" {
		return text + ", and it is late."
	}
	return text + ": " + late + " late."
}

// lateItems names what has not left on the promised day: "all of it is", "the
// door leaves are".
func lateItems(v OrderView) string {
	var here []lotName
	anyGone := false
	for _, n := range v.Needs {
		here = appendSome(here, n.Name, n.Asked-n.Shipped)
		anyGone = anyGone || n.Shipped > 0
		for _, p := range n.Parts {
			anyGone = anyGone || n.Delivered && p.Shipped > 0
		}
	}
	if !anyGone {
		return "all of it is"
	}
	who, n := some(here)
	if n == 0 {
		return ""
	}
	return who + " " + verb(n, "is", "are")
}
