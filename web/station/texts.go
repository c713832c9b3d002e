package station

import (
	"strconv"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/ui"
)

// meaning says what a signature of the task means.
func meaning(m core.Meaning) string {
	switch m {
	case core.MeantInspected:
		return "inspected these"
	case core.MeantReleased:
		return "inspected these and let them go on"
	case core.MeantReceived:
		return "received these"
	case core.MeantApproved:
		return "approve this"
	}
	return "did this work"
}

// forWhom is whose the lot is, in one line.
func forWhom(l app.LotView) string {
	if l.Customer != "" {
		return l.Customer + ", " + l.Owner()
	}
	return l.Owner()
}

// metalText is grade and thickness: "3 mm 5005-H32".
func metalText(r core.Revision) string {
	if r.Thickness > 0 {
		return strings.TrimSpace(ui.Number(r.Thickness) + " mm " + r.Grade)
	}
	return r.Grade
}

// load is what a pallet carries, short enough for a card.
func load(c app.PalletCard) string {
	if c.Label != "" {
		return c.Label
	}
	if len(c.Names) == 1 {
		return strconv.Itoa(c.Parts) + " × " + c.Names[0]
	}
	return ui.Count(c.Parts, "part") + ", " + ui.Count(c.Lots, "lot")
}

// whatFor is what a pallet carries and for whom.
func whatFor(c app.PalletCard) string {
	out := firstName(c.Names)
	if c.Label != "" {
		out = c.Label + ", " + out
	}
	if c.Customer != "" {
		out += ", " + c.Customer
	}
	return out
}

// nestText says which nest a sheet is to be cut for, or may be.
func nestText(p app.PalletPage) string {
	switch len(p.Nests) {
	case 0:
		return ""
	case 1:
		return ", nest " + p.Nests[0].ID
	}
	return ", the nest on its paper: one of " + strconv.Itoa(len(p.Nests))
}

// firstName is the item a pallet carries most of, and how many others.
func firstName(names []string) string {
	if len(names) == 0 {
		return "nothing"
	}
	if len(names) == 1 {
		return names[0]
	}
	return names[0] + " and " + ui.Count(len(names)-1, "other")
}

// field names a field of a command's body: field("lots", 0, "good").
func field(parts ...any) string {
	var out []string
	for _, p := range parts {
		switch x := p.(type) {
		case int:
			out = append(out, strconv.Itoa(x))
		case string:
			out = append(out, x)
		}
	}
	return strings.Join(out, ".")
}

// reasons are what is usually wrong with a part, to tap instead of typing.
var reasons = []string{"scratched", "wrong size", "bent wrong", "edge not as asked", "weld not as asked", "coat not as asked"}

// reportsNow reports whether bad parts of a lot may go to quarantine before its
// step is signed: not where the signature itself refuses them.
func (v palletView) reportsNow(l app.LotView) bool {
	return !v.isRelease() && !sampled(l.Lot, l.Step) && !v.paper
}

// firstSentence is the start of a caution, for where there is one line of room.
func firstSentence(s string) string {
	if i := strings.Index(s, ". "); i > 0 {
		return s[:i+1]
	}
	return s
}

func batchText(b core.Batch) string {
	if b.Colour == "" {
		return b.Batch
	}
	return b.Batch + ", " + b.Colour
}

// outlineOf is what is drawn of an item: its outline, else its blank, else nothing.
func outlineOf(r core.Revision) [][]float64 {
	if len(r.Outline) > 0 {
		return r.Outline
	}
	if r.Length > 0 && r.Width > 0 {
		return [][]float64{{0, 0, r.Length, 0, r.Length, r.Width, 0, r.Width}}
	}
	return nil
}

// lotText names a lot: "A: 4 × roof tray 2400".
func lotText(l app.LotView) string {
	return l.Letter + ": " + strconv.Itoa(l.Lot.Qty) + " × " + l.Name
}

// lotNamed ends a sentence about one of the pallet's lots; "" where it carries one only.
func lotNamed(v palletView, l app.LotView) string {
	if len(v.pallet.Lots) == 1 {
		return ""
	}
	return "lot " + l.Letter + ", " + l.Name
}

// begunText says who began a lot's step and when, for the shift that finishes it.
func begunText(v palletView, l app.LotView) string {
	who := string(l.Lot.Started.By)
	if p, ok := v.page.Book.People[l.Lot.Started.By]; ok && p.Name != "" {
		who = p.Name
	}
	out := "Begun " + ui.Moment(l.Lot.Started.At, v.now)
	if who != "" {
		out += " by " + who
	}
	return out + "."
}

// noteText is a note with where, when and by whom it was written.
func noteText(n app.PalletNote, now time.Time) string {
	out := "Note from " + n.Station + ", " + ui.Moment(n.At, now)
	if n.By != "" {
		out += ", " + n.By
	}
	return out + ": " + n.Text
}

// doneText says when, where and by whom a step was signed.
func doneText(v palletView, d *app.StepDone) string {
	out := "Signed " + ui.Moment(d.At, v.now)
	if d.By != "" {
		out += " by " + d.By
	}
	if d.Station == v.page.Station.Name {
		return out + ", here."
	}
	return out + ", at " + d.Station + "."
}

// overText is what the server would say of counts that don't come to a lot's
// own, with {good}, {bad}, {notDone} and {total} to be put in by the page.
func overText(l app.LotView) string {
	t := words.Refusal("numbers-dont-sum", map[string]string{
		"good": "{good}", "bad": "{bad}", "notDone": "{notDone}", "total": "{total}",
		"count": strconv.Itoa(l.Lot.Qty), "name": l.Name,
	})
	return t.Title + " " + ui.Undone(t.Remedy)
}

// abrasiveOf is the number of a belt or disc as it was typed or scanned.
func abrasiveOf(text string) string {
	text = strings.ToUpper(strings.TrimSpace(text))
	return text[:min(len(text), 40)]
}

// touchedText says which metals a belt or disc has met.
func touchedText(a core.Abrasive) string {
	if len(a.Touched) == 0 {
		return "no metal on record yet"
	}
	var names []string
	for _, m := range a.Touched {
		names = append(names, string(m))
	}
	return "has touched " + ui.List(names...)
}
