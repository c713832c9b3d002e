package app

import (
	"cmp"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// Sentence says how an order stands, to be read out on the phone: whose it is,
// how far it has come, what waits for what and where, what is held, missing or
// not yet cut, and what was promised. It never names a date that was not
// promised or recorded.
func Sentence(v OrderView) string {
	head := "Order " + v.Order.No
	if v.Order.Customer != "" {
		head += " for " + v.Order.Customer
	}
	var clauses []string
	add := func(more ...string) { clauses = append(clauses, more...) }
	if v.Gone() {
		add(goneClause(v))
	} else {
		lead, reached := shareClause(v)
		add(lead...)
		add(heldClauses(v)...)
		add(waitClauses(v, reached)...)
		add(lackClauses(v)...)
	}
	if len(clauses) == 0 {
		add("nothing of it is in the shop yet")
	} else if v.untouched() {
		clauses = []string{"nothing of it is cut yet"}
	}
	return head + ": " + strings.Join(clauses, "; ") + ". " + promiseSentence(v)
}

// untouched reports whether no part of the order has been cut.
func (v OrderView) untouched() bool {
	var any func(n Need) bool
	any = func(n Need) bool { return n.There > 0 || n.ToBreak > 0 || slices.ContainsFunc(n.Parts, any) }
	return len(v.lots()) == 0 && !slices.ContainsFunc(v.Needs, any)
}

// goneClause is for an order of which nothing is left here.
func goneClause(v OrderView) string {
	when := ""
	last := v.lastGone()
	if last != "" {
		when = " " + last
	}
	all := "all of it"
	if n := len(v.Pallets); n > 1 {
		all = "all its " + counted(n, "pallet")
	} else if n == 1 {
		all = "its one pallet"
	}
	if v.allReached(Received) {
		return all + " " + verb(max(1, len(v.Pallets)), "was", "were") + " received at the site" + strings.TrimPrefix(when, " left")
	}
	return all + " left" + strings.TrimPrefix(when, " left")
}

func (v OrderView) allReached(r Reach) bool {
	for _, l := range v.lots() {
		if l.Reach < r {
			return false
		}
	}
	return true
}

func (v OrderView) lots() []OrderLot {
	out := slices.Clone(v.Loose)
	for _, p := range v.Pallets {
		out = append(out, p.Lots...)
	}
	return out
}

// lastGone is "left on Monday 23 November", of the pallet that left last.
func (v OrderView) lastGone() string {
	var last OrderPallet
	for _, p := range v.Pallets {
		if p.Gone.After(last.Gone) {
			last = p
		}
	}
	if rest, ok := strings.CutPrefix(last.Place, "received at the site"); ok {
		return "left" + rest
	}
	return last.Place
}

// leftWhen is "left on Monday 23 November" where all that left did so on one
// day, else "have left, the last on Tuesday 24 November".
func (v OrderView) leftWhen(gone int) string {
	last := v.lastGone()
	for _, p := range v.Pallets {
		if p.Reach >= Shipped && p.Place != last {
			return verb(gone, "has", "have") + " left, the last" + strings.TrimPrefix(last, "left")
		}
	}
	return last
}

// shareClause says what share of the pallets has come how far, and the reach
// that need not be spoken of any more.
func shareClause(v OrderView) ([]string, Reach) {
	total := len(v.Pallets)
	if total == 0 {
		return nil, Received
	}
	at := func(r Reach) int {
		n := 0
		for _, p := range v.Pallets {
			if p.Reach >= r {
				n++
			}
		}
		return n
	}
	gone, loaded, packed, done := at(Shipped), at(Loaded), at(Packed), at(Finished)
	var out []string
	if gone > 0 {
		out = append(out, share(gone, total)+" "+v.leftWhen(gone))
		if loaded == gone && packed == gone && done == gone {
			return out, Shipped
		}
		out[0] += ", " + also(gone, loaded-gone, packed-loaded, done-packed, finishWord(v))
		return out, Finished
	}
	switch {
	case loaded == total:
		return []string{share(loaded, total) + " " + verb(loaded, "is", "are") + " loaded"}, Loaded
	case packed == total:
		text := share(packed, total) + " " + verb(packed, "is", "are") + " packed"
		if loaded > 0 {
			text += ", " + inWords(loaded) + " of them loaded"
		}
		return []string{text}, Packed
	case done > 0:
		return []string{share(done, total) + " " + verb(done, "is", "are") + " " + stages(done, packed, loaded, finishWord(v))}, Finished
	case total == 1:
		return []string{"its one pallet is not " + finishWord(v) + " yet"}, Finished
	}
	return []string{"none of its " + counted(total, "pallet") + " is " + finishWord(v) + " yet"}, Finished
}

// also says what else beyond those gone: "one more is packed and two are coated".
func also(gone, loaded, packed, done int, word string) string {
	var parts []string
	for _, c := range []struct {
		n    int
		word string
	}{{loaded, "loaded"}, {packed, "packed"}, {done, word}} {
		if c.n > 0 {
			parts = append(parts, inWords(c.n)+" "+verb(c.n, "is", "are")+" "+c.word)
		}
	}
	return list(parts)
}

// stages says how far so many finished pallets have come: "coated, two of them
// packed", "coated and packed, one of them loaded", "coated, packed and loaded".
func stages(done, packed, loaded int, word string) string {
	all := []string{word}
	rest := ""
	for _, s := range []struct {
		n    int
		word string
	}{{packed, "packed"}, {loaded, "loaded"}} {
		switch {
		case s.n == done:
			all = append(all, s.word)
		case s.n > 0:
			rest += ", " + inWords(s.n) + " of them " + s.word
		}
	}
	return list(all) + rest
}

// share is "four of its five pallets", "all its five pallets", "its one pallet".
func share(n, total int) string {
	switch {
	case total == 1:
		return "its one pallet"
	case n == total && total == 2:
		return "both its pallets"
	case n == total:
		return "all its " + counted(total, "pallet")
	}
	return inWords(n) + " of its " + counted(total, "pallet")
}

// finishWord is "coated" where every lot of the order is to be coated, else
// "finished", which is true of bare parts and kits too.
func finishWord(v OrderView) string {
	for _, l := range v.lots() {
		if !l.Coat {
			return "finished"
		}
	}
	return "coated"
}

func heldClauses(v OrderView) []string {
	type cause struct{ why, place string }
	var order []cause
	names := map[cause][]lotName{}
	for _, l := range v.lots() {
		if !l.Held {
			continue
		}
		c := cause{why: shortReason(l.Why), place: l.Station}
		if _, there := names[c]; !there {
			order = append(order, c)
		}
		names[c] = append(names[c], lotName{l.Name, l.Qty})
	}
	var out []string
	for i, c := range order {
		if i == 2 && len(order) > 3 {
			return append(out, counted(len(order)-2, "other stop")+" "+verb(len(order)-2, "holds", "hold")+" parts of it")
		}
		who, n := theItems(names[c])
		text := who + " " + verb(n, "is", "are") + " held"
		if c.place != "" {
			text += " at " + placeName(c.place)
		}
		if c.why != "" {
			text += " (" + c.why + ")"
		}
		out = append(out, text)
	}
	return out
}

// shortReason is a stop's reason as fit to be said: one line without its stop.
func shortReason(why string) string {
	why = strings.TrimRight(strings.Join(strings.Fields(why), " "), ".!; ")
	if r := []rune(why); len(r) > 80 {
		cut := string(r[:77])
		if i := strings.LastIndexByte(cut, ' '); i > 30 {
			cut = cut[:i]
		}
		return cut + " …"
	}
	return lowerFirst(why)
}

// waiting is lots that wait for, or are in, one stage at one place.
type waiting struct {
	step  int // the smallest share of the route done, per mille
	stage string
	begun bool
	place string
	names []lotName
}

// waitClauses says what waits for what and where, the ones furthest behind
// first, of everything that has not come as far as reached.
func waitClauses(v OrderView, reached Reach) []string {
	var groups []waiting
	add := func(l OrderLot, place string) {
		if l.Held || l.Reach >= reached || l.Stage.Name == "" {
			return
		}
		w := waiting{step: progress([]OrderLot{l}), stage: stageNoun(l.Stage), begun: l.Started != nil, place: place}
		i := slices.IndexFunc(groups, func(g waiting) bool {
			return g.stage == w.stage && g.begun == w.begun && g.place == w.place
		})
		if i < 0 {
			i, groups = len(groups), append(groups, w)
		}
		groups[i].step = min(groups[i].step, w.step)
		groups[i].names = append(groups[i].names, lotName{l.Name, l.Qty})
	}
	for _, p := range v.Pallets {
		for _, l := range p.Lots {
			place := ""
			if strings.HasPrefix(p.Place, "at ") || strings.HasPrefix(p.Place, "on its way ") {
				place, _, _ = strings.Cut(p.Place, ", slot ")
			}
			add(l, place)
		}
	}
	for _, l := range v.Loose {
		if l.Place.Kind == core.InBuild {
			w := waiting{step: progress([]OrderLot{l}), stage: "gathered", place: l.Station}
			i := slices.IndexFunc(groups, func(g waiting) bool { return g.stage == w.stage && g.place == w.place })
			if i < 0 {
				i, groups = len(groups), append(groups, w)
			}
			groups[i].names = append(groups[i].names, lotName{l.Name, l.Qty})
		}
	}
	slices.SortStableFunc(groups, func(a, b waiting) int { return cmp.Compare(a.step, b.step) })
	const most = 2 // named; one more is named rather than left unsaid
	var out []string
	for i, g := range groups {
		if i == most && len(groups) > most+1 {
			return append(out, "the rest is further on")
		}
		out = append(out, g.clause())
	}
	return out
}

func (g waiting) clause() string {
	who, n := theItems(g.names)
	switch {
	case g.stage == "gathered":
		text := who + " " + verb(n, "is", "are") + " gathered for a unit"
		if g.place != "" {
			text += " at " + placeName(g.place)
		}
		return text
	case g.begun:
		return g.stage + " of " + who + " has begun" + spaceBefore(g.place)
	case strings.HasPrefix(g.place, "on its way "):
		return who + " " + verb(n, "is", "are") + strings.Replace(g.place, "on its way", " on the way", 1) + " for " + g.stage
	}
	return who + " " + verb(n, "waits", "wait") + " for " + g.stage + spaceBefore(g.place)
}

func spaceBefore(s string) string {
	if s == "" {
		return ""
	}
	return " " + s
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

// lackClauses says what is cut but still in its sheet, not yet cut, missing,
// and what has to be built though all its parts are here.
func lackClauses(v OrderView) []string {
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
	var out []string
	if who, n := some(inSheet); n > 0 {
		out = append(out, who+" "+verb(n, "is", "are")+" cut and still in "+verb(n, "its sheet", "their sheets"))
	}
	if who, n := some(uncut); n > 0 {
		out = append(out, who+" "+verb(n, "is", "are")+" not yet cut")
	}
	if who, n := some(missing); n > 0 {
		out = append(out, who+" "+verb(n, "is", "are")+" missing, neither cut nor on a nest")
	}
	if who, n := some(absent); n > 0 {
		out = append(out, who+" "+verb(n, "is", "are")+" not here yet")
	}
	if who, n := some(unmade); n > 0 {
		out = append(out, who+" "+verb(n, "is", "are")+" not made up yet")
	}
	if who, n := some(unbuilt); n > 0 && len(missing)+len(uncut)+len(inSheet)+len(absent) == 0 {
		out = append(out, who+" "+verb(n, "is", "are")+" still to be put together")
	}
	return out
}

func appendSome(to []lotName, name string, n int) []lotName {
	if n <= 0 {
		return to
	}
	return append(to, lotName{name, n})
}

// some names counts: "two hinge plates and one latch".
func some(lots []lotName) (string, int) { return items(lots, counted) }

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
