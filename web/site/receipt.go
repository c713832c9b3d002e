package site

import (
	"strconv"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/ui"
)

// receipt is how a consignment is received, box by box: by the bearer of a link,
// whose phone signs, or by a fitter, who signs with badge and PIN.
type receipt struct {
	app.Mine
	home  string       // address of the page
	sign  bool         // with badge and PIN
	box   *app.MineBox // being counted
	wrong string       // with the box asked for
}

// signers is how many sign a form of the receipt beside its sender.
func (v receipt) signers() string {
	if v.sign {
		return "1"
	}
	return "0"
}

// path is where a scanned box is looked for.
func (v receipt) path() string {
	path, _, _ := strings.Cut(v.home, "?")
	return path
}

// ticks reports whether several boxes may be signed for at once, each ticked:
// where every signature wants a badge and a PIN.
func (v receipt) ticks() bool { return v.sign && !v.Gone.IsZero() && len(v.awaited()) > 1 }

func (v receipt) boxHref(p core.PalletCode) string {
	sep := "?"
	if strings.Contains(v.home, "?") {
		sep = "&"
	}
	return v.home + sep + "box=" + string(p)
}

// came counts the boxes that came.
func (v receipt) came() int { return len(v.InState(app.BoxCame)) }

func (v receipt) awaited() []core.PalletCode { return v.InState(app.BoxAwaited) }

func (v receipt) missed() []core.PalletCode { return v.InState(app.BoxMissed) }

func (v receipt) progress() string {
	return strconv.Itoa(v.came()) + " of " + ui.Count(len(v.Boxes), "box", "boxes")
}

// next says what happens next.
func (v receipt) next() string {
	var out []string
	missed := len(v.missed())
	switch n := len(v.awaited()); {
	case v.Gone.IsZero():
		out = append(out, "The truck has not left the shop yet. This page shows what is on it; count it when it is here.")
	case n > 0 && v.came()+missed == 0:
		out = append(out, "Scan the label of each box, or type its code, and say what is in it.")
	case n > 0:
		out = append(out, "Scan the next box; "+ui.Count(n, "box is", "boxes are")+" still to be counted.")
	case missed > 0:
		out = append(out, "All that came is counted.")
	default:
		out = append(out, "All of it is counted. Unpack, fit out, and have it accepted, each with a signature here.")
	}
	if missed > 0 {
		out = append(out, ui.Count(missed, "box is", "boxes are")+" missing: the shop sees that and looks for it. If it comes after all, scan it.")
	}
	if n := v.Open(); n > 0 {
		out = append(out, "The shop sees "+ui.Count(n, "snag", "snags")+"; what becomes of it stands under Snags.")
	}
	return strings.Join(out, " ")
}

// parts says what a box holds by the packing list.
func parts(all []app.MinePart) string {
	var out []string
	for _, p := range all {
		out = append(out, app.Named(p.Qty, p.Name))
	}
	return strings.Join(out, ", ")
}

// orders names the orders of what a box holds, where the consignment has several.
func (v receipt) orders(b app.MineBox) string {
	if !v.Several() {
		return ""
	}
	var out []string
	for _, p := range b.Listed {
		if p.Order != "" && !strings.Contains(strings.Join(out, " "), p.Order) {
			out = append(out, p.Order)
		}
	}
	return strings.Join(out, ", ")
}

// received says how far an order is received.
func (v receipt) received(r app.Receipt) string {
	var out []string
	switch {
	case r.Boxes > 0:
		out = append(out, ui.Count(r.Boxes, "box", "boxes")+" to count")
	case !r.At.IsZero():
		out = append(out, "received "+ui.Moment(r.At, v.AsOf))
	case !v.Consignment.Received.IsZero():
		out = append(out, "received "+ui.Moment(v.Consignment.Received, v.AsOf))
	default:
		out = append(out, "not here yet")
	}
	if r.Missing > 0 {
		out = append(out, ui.Count(r.Missing, "part")+" missing")
	}
	return strings.Join(out, ", ")
}

// ready reports whether an order is received with nothing missing.
func ready(r app.Receipt) bool { return r.Boxes+r.Missing == 0 && !r.At.IsZero() }

func field(i int, what string) string { return "counts." + strconv.Itoa(i) + "." + what }

func find(i int, what string) string { return "finds." + strconv.Itoa(i) + "." + what }

func (v receipt) tomorrow() string { return string(core.DateOf(v.AsOf.AddDate(0, 0, 1))) }
