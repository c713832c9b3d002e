package app

import (
	"cmp"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// heldClauses say what is held, where and why; what stands at a site to come
// back is one of them.
func heldClauses(v OrderView) []string {
	type cause struct {
		why, place string
		back       Return
	}
	var order []cause
	names := map[cause][]lotName{}
	for l := range v.lots() {
		if !l.Held {
			continue
		}
		c := cause{shortReason(l.Why), l.Station, l.Back}
		if _, there := names[c]; !there {
			order = append(order, c)
		}
		names[c] = append(names[c], lotName{l.Name, l.Qty})
	}
	var out []string
	for _, c := range order {
		who, n := theItems(names[c])
		text := who + c.back.aside() + " " + verb(n, "is", "are") + " held"
		if c.back == ToComeBack {
			text = who + " " + verb(n, "is", "are") + " to come back from " + placeName(c.place)
		} else if c.place != "" {
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
	back  Return
	names []lotName
}

// waitClauses says what waits for what and where, the ones furthest behind
// first, of everything that has not come as far as reached.
func waitClauses(v OrderView, reached Reach) []string {
	var groups []waiting
	add := func(l *OrderLot, place string) {
		if l.Held || l.Reach >= reached || l.Stage.Name == "" {
			return
		}
		w := waiting{step: l.progress(), stage: stageNoun(l.Stage), begun: l.Started != nil, place: place, back: l.Back}
		i := slices.IndexFunc(groups, func(g waiting) bool {
			return g.stage == w.stage && g.begun == w.begun && g.place == w.place && g.back == w.back
		})
		if i < 0 {
			i, groups = len(groups), append(groups, w)
		}
		groups[i].step = min(groups[i].step, w.step)
		groups[i].names = append(groups[i].names, lotName{l.Name, l.Qty})
	}
	for i := range v.Pallets {
		p := &v.Pallets[i]
		place := ""
		if strings.HasPrefix(p.Place, "at ") || strings.HasPrefix(p.Place, "on its way ") {
			place, _, _ = strings.Cut(p.Place, ", slot ")
		}
		for i := range p.Lots {
			add(&p.Lots[i], place)
		}
	}
	for i := range v.Loose {
		if l := &v.Loose[i]; l.Place.Kind == core.InBuild {
			w := waiting{step: l.progress(), stage: "gathered", place: l.Station}
			i := slices.IndexFunc(groups, func(g waiting) bool { return g.stage == w.stage && g.place == w.place })
			if i < 0 {
				i, groups = len(groups), append(groups, w)
			}
			groups[i].names = append(groups[i].names, lotName{l.Name, l.Qty})
		}
	}
	slices.SortStableFunc(groups, func(a, b waiting) int { return cmp.Compare(a.step, b.step) })
	var out []string
	for _, g := range groups {
		out = append(out, g.clause())
	}
	return out
}

func (g waiting) clause() string {
	who, n := theItems(g.names)
	who += g.back.aside()
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
