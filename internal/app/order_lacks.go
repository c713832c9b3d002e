package app

import (
	"tagalong/internal/core"
)

// lackClauses say what is missing or not here, which nothing is being done
// about; and what is still to come: in its sheet, not cut, or to be built
// though all its parts are here.
func lackClauses(v OrderView) (lacking, later []string) {
	var inSheet, uncut, missing, absent, unmade, unbuilt []lotName
	var walk func(n Need)
	walk = func(n Need) {
		inSheet = appendSome(inSheet, n.Name, n.ToBreak)
		uncut = appendSome(uncut, n.Name, n.ToCut)
		switch n.Kind {
		case core.KitItem:
			unmade = appendSome(unmade, n.Name, n.Missing)
		case core.BoughtItem:
			absent = appendSome(absent, n.Name, n.Missing)
		default:
			missing = appendSome(missing, n.Name, n.Missing)
		}
		if !n.Delivered {
			unbuilt = appendSome(unbuilt, n.Name, n.ToBuild())
		}
		for _, p := range n.Parts {
			walk(p)
		}
	}
	for _, n := range v.Needs {
		walk(n)
	}
	say := func(to []string, lots []lotName, what func(n int) string) []string {
		if who, n := some(lots); n > 0 {
			return append(to, who+" "+verb(n, "is", "are")+" "+what(n))
		}
		return to
	}
	plain := func(text string) func(int) string { return func(int) string { return text } }
	lacking = say(lacking, missing, plain("missing, neither cut nor on a nest"))
	lacking = say(lacking, absent, plain("not here yet"))
	later = say(later, inSheet, func(n int) string { return "cut and still in " + verb(n, "its sheet", "their sheets") })
	later = say(later, uncut, plain("not yet cut"))
	later = say(later, unmade, plain("not made up yet"))
	if len(missing)+len(uncut)+len(inSheet)+len(absent) == 0 {
		later = say(later, unbuilt, plain("still to be put together"))
	}
	return lacking, later
}

func appendSome(to []lotName, name string, n int) []lotName {
	if n <= 0 {
		return to
	}
	return append(to, lotName{name, n})
}

// lotName is so many of a named item.
type lotName struct {
	name string
	qty  int
}

// theItems names items with the article: "the door leaves and the base frame".
// The count tells the verb's number: one only for a single single part.
func theItems(lots []lotName) (string, int) {
	return items(lots, func(n int, name string) string { return "the " + numbered(n, name) })
}

func items(lots []lotName, say func(n int, name string) string) (string, int) {
	var names []string
	sum := map[string]int{}
	total := 0
	for _, l := range lots {
		name := saidName(l.name)
		if sum[name] == 0 {
			names = append(names, name)
		}
		sum[name] += l.qty
		total += l.qty
	}
	var said []string
	for _, n := range names {
		said = append(said, say(sum[n], n))
	}
	return listAtMost(said, 2, "kind of part"), total
}

// some names counts: "two hinge plates and one latch".
func some(lots []lotName) (string, int) { return items(lots, counted) }
