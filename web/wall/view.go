package wall

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Room, in lines of text, that the column of stops has; see wall.css.
const (
	room      = 14.3
	headLines = 1.5
	perLine   = 22 // characters of a line

	maxRemakes = 2
)

type view struct {
	app.Wall
	newStops []app.WallLine // never take turns
	moreNew  int
	remakes  []app.WallLine // grown old; they never take turns either
	turns    []turn
}

// turn is what the column shows at one time.
type turn struct{ sections []section }

// section is one heading with its lines.
type section struct {
	Title string
	Lines []app.WallLine
	Held  bool
	Late  bool
	Today bool
	None  string // said where there are no lines
	First string // where the first of all begins; empty: it has begun
}

func newView(w app.Wall) view {
	v := view{Wall: w}
	held := make([]app.WallLine, 0, len(w.Held))
	for _, l := range w.Held {
		switch {
		case !l.Fresh(w.AsOf):
			held = append(held, l)
		case len(v.newStops) < 2:
			v.newStops = append(v.newStops, l)
		default:
			v.moreNew++
			held = append(held, l)
		}
	}
	free := room
	for _, l := range v.newStops {
		free -= lines(l)
	}
	if len(v.newStops) > 0 {
		free -= headLines
	}
	if len(w.Remakes) > 0 {
		free -= headLines
	}
	if len(v.newStops) == 0 { // beside new stops there is room to say how many, not which
		v.remakes = w.Remakes[:min(len(w.Remakes), maxRemakes)]
	}
	for _, l := range v.remakes {
		free -= lines(l)
	}
	p := pager{room: free}
	p.add("Held", held, false, len(w.Held), "Nothing is held.", len(v.newStops) > 0)
	p.add("Late", w.Late, true, len(w.Late), "Nothing is late.", false)
	if w.Pallets == 0 {
		p.put(section{Title: "No pallet yet", First: "/setup"}, headLines+1)
	}
	p.put(section{Title: "Today", Today: true}, headLines+2)
	v.turns = p.turns
	return v
}

// pager lays sections into turns, one under the other while there is room.
type pager struct {
	room, left float64
	turns      []turn
}

func (p *pager) put(s section, size float64) {
	if len(p.turns) == 0 || size > p.left {
		p.turns = append(p.turns, turn{})
		p.left = p.room
	}
	at := &p.turns[len(p.turns)-1]
	at.sections = append(at.sections, s)
	p.left -= size
}

func (p *pager) add(title string, all []app.WallLine, late bool, total int, none string, elsewhere bool) {
	if len(all) == 0 {
		if !elsewhere {
			p.put(section{Title: title, None: none}, headLines+1)
		}
		return
	}
	for i := 0; i < len(all); {
		space := p.left
		if len(p.turns) == 0 || space < headLines+lines(all[i]) {
			space = p.room
		}
		used, n := headLines, 0
		for i+n < len(all) && (n == 0 || used+lines(all[i+n]) <= space) {
			used += lines(all[i+n])
			n++
		}
		head := title + " " + strconv.Itoa(total)
		if n < len(all) {
			first, last := i+1+total-len(all), i+n+total-len(all)
			head = fmt.Sprintf("%s %d–%d of %d", title, first, last, total)
			if first == last {
				head = fmt.Sprintf("%s %d of %d", title, first, total)
			}
		}
		p.put(section{Title: head, Lines: all[i : i+n], Late: late, Held: !late}, used)
		i += n
	}
}

// lines is the room a line of the list takes: its order, then what, in one or two.
func lines(l app.WallLine) float64 {
	if utf8.RuneCountInString(l.What) > perLine {
		return 3.3
	}
	return 2.3
}

func (v view) today() core.Date { return core.DateOf(v.AsOf) }

func since(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// Bars: the oldest first, their height by the square root of the time they
// wait, so that hours and days can both be told apart.
const (
	barWidth, barGap, barHeight = 20.0, 5.0, 92.0
	longest                     = 48 * time.Hour // and beyond: the full height
)

type bar struct {
	x, y, height string
	class        string
}

func (v view) bars(g app.WallGroup) []bar {
	var out []bar
	for i, a := range g.Ages {
		share := math.Sqrt(min(1, v.AsOf.Sub(a.Since).Hours()/longest.Hours()))
		h := max(7, barHeight*share)
		b := bar{x: number(float64(i) * (barWidth + barGap)), y: number(barHeight - h), height: number(h), class: "bar"}
		switch {
		case a.Held:
			b.class = "bar held"
		case a.Late:
			b.class = "bar late"
		}
		out = append(out, b)
	}
	return out
}

func number(f float64) string { return strconv.FormatFloat(f, 'f', 1, 64) }

// barsText says what the bars show.
func (v view) barsText(g app.WallGroup) string {
	if len(g.Ages) == 0 {
		return "nothing waits"
	}
	var held, late int
	for _, a := range g.Ages {
		if a.Held {
			held++
		} else if a.Late {
			late++
		}
	}
	parts := []string{"the oldest waits for " + age(v.AsOf.Sub(g.Ages[0].Since))}
	if held > 0 {
		parts = append(parts, strconv.Itoa(held)+" held")
	}
	if late > 0 {
		parts = append(parts, strconv.Itoa(late)+" late")
	}
	return strings.Join(parts, ", ")
}

// work is an amount of work in hours; a little of it in tenths. It says nothing
// where the minutes are not known.
func work(g app.WallGroup) string {
	switch h := g.Minutes / 60; {
	case h <= 0:
		return ""
	case h < 1:
		return strconv.FormatFloat(max(0.1, h), 'f', 1, 64) + " h"
	default:
		return strconv.Itoa(int(math.Round(h))) + " h"
	}
}

func (v view) newTitle() string {
	if len(v.newStops) == 1 {
		return "New stop"
	}
	return "New stops"
}

func (v view) remakeTitle() string {
	if len(v.Remakes) == 1 {
		return "Old remake"
	}
	return strconv.Itoa(len(v.Remakes)) + " old remakes"
}

// age is how long something waits, in one unit: from 6 m nobody reads minutes
// beside hours.
func age(d time.Duration) string {
	switch h := int(d.Hours()); {
	case h < 1:
		return strconv.Itoa(max(0, int(d.Minutes()))) + " min"
	case h < 48:
		return strconv.Itoa(h) + " h"
	default:
		return strconv.Itoa(h/24) + " d"
	}
}
